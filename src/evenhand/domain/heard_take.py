"""A take that has been heard: all that a report, a summary or a file of figures needs."""

from __future__ import annotations

from dataclasses import dataclass

from evenhand.domain.exercise import Exercise
from evenhand.domain.findings import Finding
from evenhand.domain.heard import Heard
from evenhand.domain.measures import Measures
from evenhand.domain.take import InputFacts
from evenhand.domain.tempo import Tempo


@dataclass(frozen=True, slots=True)
class HeardTake:
    """One take, what it was judged against, and what was heard, measured and found.

    ``exercise``, ``exercise_text``, ``tempo`` and ``measures`` are None where the take
    was heard blind. ``name`` is what people call the take (its file name), ``version``
    the Evenhand that heard it.
    """

    input: InputFacts
    exercise: Exercise | None
    exercise_text: str | None
    tempo: Tempo | None
    heard: Heard
    measures: Measures | None
    findings: tuple[Finding, ...]
    name: str
    version: str
