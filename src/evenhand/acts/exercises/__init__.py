"""Exercises and books: read, generated, chosen, tidied, exported, printed."""
