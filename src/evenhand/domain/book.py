"""A book: the exercises that a teacher keeps, each with its title, in sections."""

from __future__ import annotations

from dataclasses import dataclass

from evenhand.domain.exercise import Exercise


@dataclass(frozen=True, slots=True)
class Entry:
    """One exercise of a book. ``title`` and ``section`` may be empty."""

    exercise: Exercise
    title: str = ""
    section: str = ""


@dataclass(frozen=True, slots=True)
class Book:
    """Exercises in the order they stand."""

    entries: tuple[Entry, ...]
    title: str = ""
