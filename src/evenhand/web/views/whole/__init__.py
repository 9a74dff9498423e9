"""Pages about the whole studio rather than one student."""
