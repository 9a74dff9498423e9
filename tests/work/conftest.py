"""A studio in each kind of place."""

from tests.places import place, postgres, studio

__all__ = ["place", "postgres", "studio"]
