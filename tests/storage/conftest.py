"""A studio in each kind of place."""

from tests.places import objects, place, postgres, studio

__all__ = ["objects", "place", "postgres", "studio"]
