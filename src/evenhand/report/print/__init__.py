"""Pages for paper: the lesson sheet and the book."""
