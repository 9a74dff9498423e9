"""Pages that say in words, figures and pictures what was heard. HTML and SVG as plain text."""
