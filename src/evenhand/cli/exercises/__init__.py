"""Commands for exercises and books."""
