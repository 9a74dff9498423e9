"""Web: the studio in the browser."""
