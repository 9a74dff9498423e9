"""The report of a take, and the folded picture in it."""
