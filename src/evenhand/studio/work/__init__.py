"""Processes that hear what waits, and what is played live."""
