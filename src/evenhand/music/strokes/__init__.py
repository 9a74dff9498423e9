"""Strokes: how high each stick starts and ends, and what a free rebound allows."""
