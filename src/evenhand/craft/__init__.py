"""Writing exercises: their text, read and printed. Pure values, no files."""
