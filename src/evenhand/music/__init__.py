"""Written music: exercises, books, rudiments, strokes, engraving and other programs' files."""
