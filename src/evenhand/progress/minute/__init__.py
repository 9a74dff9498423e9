"""A minute of single strokes."""
