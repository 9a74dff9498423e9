"""A take heard while it is played."""
