"""Answers as tables and sentences in the terminal."""
