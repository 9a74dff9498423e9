"""The fastest tempo at which an exercise is still in control."""
