"""Films of two sticks over a pad, drawn from the physics of a rigid stick, with their exact truth.

It knows nothing of how a film is watched: what finds the sticks in it is measured against this.
"""

from benchmarks.filming.case import FilmCase, FilmTruth, Rises, StrokeTruth, View
from benchmarks.filming.film import film

__all__ = ["FilmCase", "FilmTruth", "Rises", "StrokeTruth", "View", "film"]
