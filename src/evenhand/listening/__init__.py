"""Samples and an exercise in, what was heard out. ``listen`` is the main path."""
