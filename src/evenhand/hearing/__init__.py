"""Samples and an exercise in, what was heard out."""
