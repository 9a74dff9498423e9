"""Evenhand hears what a drum student's two hands did, and says it plainly."""

__version__ = "0.1.0"
