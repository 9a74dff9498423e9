"""Hearing takes beside the server: a queue that lasts, and processes that work on it."""
