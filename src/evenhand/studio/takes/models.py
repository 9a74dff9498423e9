"""The teacher's takes as models: which one stands with an exercise, and how a take differs from it.

Conventions: a model is of an exercise and a tempo, for one student or for all. A tempo is compared by how
long a whole note lasts, so that ``1/8 = 160`` and ``1/4 = 80`` are the same. A difference is the student's
figure minus the model's, with the 95 % range of ``beside.difference``.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from evenhand.acts.takes.document import heard_take_of
from evenhand.errors import BadDocument, EvenhandError
from evenhand.measuring.values import HeardTake
from evenhand.music.exercise import Tempo
from evenhand.report.take.turns import turns_figure
from evenhand.studio.takes.beside import Difference, Notice, differences_of, notices_of
from evenhand.studio.takes.shown import engravings, same_exercise
from evenhand.studio.values import StudioTake

SAME_TEMPO = 0.005  # of the tempo: what is written with other digits is the same
PLAYABLE = 12.0  # seconds of playing that a model is asked for, so that its figures have enough behind them
WHO = ("your teacher", "you")
FEWEST, MOST = 2, 16  # repetitions of a model


@dataclass(frozen=True, slots=True)
class Model:
    """A model of an exercise. ``tempo`` is its own where another was asked for, else ""."""

    take: StudioTake
    tempo: str = ""


@dataclass(frozen=True, slots=True)
class BesideModel:
    """A take beside its model: both in turns, what differs by more than chance, and what cannot be told."""

    figure: str
    differ: tuple[Difference, ...]
    alike: tuple[Difference, ...]
    lacking: tuple[str, ...]
    notices: tuple[Notice, ...]


def model_of(models: Iterable[StudioTake], exercise: str, tempo: str) -> Model | None:
    """Choose the model that stands with an exercise: at the nearest tempo, of those the first listed.

    One that has no sound (MIDI) cannot be listened to, and is left out.
    """
    fits = [each for each in models if _sounds(each) and same_exercise(each.exercise, exercise)]
    if not fits:
        return None
    take = min(fits, key=lambda each: round(tempos_apart(each.tempo, tempo) / SAME_TEMPO))
    return Model(take, "" if tempos_apart(take.tempo, tempo) < SAME_TEMPO else take.tempo)


def tempos_apart(one: str, other: str) -> float:
    """Return how far two tempos are apart, as the logarithm of their ratio; infinite where one is none.

    >>> tempos_apart("1/8 = 160", "1/4 = 80")
    0.0
    """
    try:
        return abs(math.log(Tempo.parse(one).whole_note_s / Tempo.parse(other).whole_note_s))
    except EvenhandError:
        return 1e6


def repetitions_of(length_s: float) -> int:
    """Say how often an exercise is played for a model, given how long it lasts once.

    >>> repetitions_of(1.5), repetitions_of(0.2), repetitions_of(30.0)
    (8, 16, 2)
    """
    return max(FEWEST, min(MOST, math.ceil(PLAYABLE / length_s)))


def beside_model(take: StudioTake, model: StudioTake) -> BesideModel | None:
    """Put a take beside its model; None where one of the two was not heard, or not as its exercise."""
    own, example = _heard(take), _heard(model)
    if own is None or example is None:
        return None
    found, lacking = differences_of(example, own)
    drawn = engravings(own.exercise_text or "", "t")
    return BesideModel(
        turns_figure(example, own, *drawn, names=WHO, mark="T"),
        _told(found, beyond=True),
        _told(found, beyond=False),
        lacking,
        tuple(each for each in notices_of(example, own) if each != "scale"),
    )


def _told(found: Sequence[Difference], *, beyond: bool) -> tuple[Difference, ...]:
    return tuple(each for each in found if (each.change != "can't tell") is beyond)


def _sounds(take: StudioTake) -> bool:
    return take.recording is not None and not take.recording.endswith(".mid")


def _heard(take: StudioTake) -> HeardTake | None:
    """Read what was heard of a take; None where there is nothing to lay on its notes."""
    if take.status == "failed" or not take.heard:
        return None
    try:
        heard = heard_take_of(take.heard)
    except BadDocument:
        return None
    return heard if heard.exercise is not None and heard.measures is not None else None
