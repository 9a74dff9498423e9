"""Plan each note's stroke: full, down, tap or up, with the heights before and after.

Conventions: cm. A hand's blow starts high or low, and the stroke ends where the same hand's next blow
starts, around the repeat: high to high is a full stroke, high to low a down stroke, low to low a tap,
low to high an up stroke (the trade's four).

Common practice, to be changed by the teacher: with accents, accents start high and the other notes from
a tap's height; without, all notes start from one height. A grace starts from half a tap's height, and so does
a ghost note. Where there are accents of two levels the strong ones are full strokes and the others half
strokes. A softer dynamic lowers all heights, by as much as makes that difference in level.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from evenhand.music.exercise import Exercise, Tempo
from evenhand.music.loudness import dynamics_db
from evenhand.music.strokes.heights import COMMON_HEIGHTS, Motion, PlannedStroke, StrokeClass, StrokeHeights
from evenhand.music.strokes.rebound import ASSUMED_RESTITUTION, Step, WrittenBlow, pressed_bounce_cm, steps_of
from evenhand.music.strokes.remarks import StrokeRemark, bounces_of, remarks_on

DB_A_TENFOLD = 24.0  # of height, as the play-along sounds (synthesis/voice.py has its ground)
GRACE_SHARE = 0.5  # of a tap's height: 3 dB under a tap, if level follows striking speed
MOTIONS: dict[tuple[bool, bool], Motion] = {
    (True, True): "full",
    (True, False): "down",
    (False, False): "tap",
    (False, True): "up",
}
LETTERS: dict[Motion, str] = {"full": "F", "down": "D", "tap": "T", "up": "U"}


@dataclass(frozen=True, slots=True)
class StrokePlan:
    """How each blow is to be played, in the order they sound, and what there is to say about it.

    ``own_intervals_s`` has each stroke's time to the same hand's next blow, None without a tempo.
    """

    strokes: tuple[PlannedStroke, ...]
    remarks: tuple[StrokeRemark, ...] = ()
    own_intervals_s: tuple[float, ...] | None = None

    def at(self, position: int) -> PlannedStroke | None:
        """Return the stroke of a note itself; None for a foot's."""
        return next((s for s in self.strokes if s.position == position and s.grace is None), None)

    def letters(self) -> dict[int, str]:
        """Return F, D, T or U for each struck position (graces have none)."""
        return {s.position: LETTERS[s.motion] for s in self.strokes if s.grace is None}


@dataclass(frozen=True, slots=True)
class _Start:
    """Where a blow starts."""

    height_cm: float
    high: bool


def plan_strokes(
    exercise: Exercise,
    *,
    stroke: StrokeClass | None = None,
    heights: StrokeHeights = COMMON_HEIGHTS,
    tempo: Tempo | None = None,
    restitution: float = ASSUMED_RESTITUTION,
) -> StrokePlan:
    """Plan the stroke of every note and grace.

    Parameters
    ----------
    stroke
        The class to play from; full if not said. In an exercise with accents it is the accents' class
        (a tap's accents are full), and the other notes are taps.
    tempo
        Without one nothing is said of what is too fast, and no second note is a bounce.
    restitution
        Speed after a blow over the speed before it, over 0 up to 1.

    >>> from evenhand.music.text import parse_exercise
    >>> plan_strokes(parse_exercise("1/16: >RLRR >LRLL")).letters()
    {0: 'D', 1: 'U', 2: 'T', 3: 'T', 4: 'D', 5: 'U', 6: 'T', 7: 'T'}
    """
    steps = steps_of(exercise)
    starts = _starts(exercise, steps, stroke, heights)
    strokes = [_planned(step, starts[_key(step.blow)], starts[_key(step.next)]) for step in steps]
    seconds = None
    if tempo is not None:
        seconds = tuple(step.seconds(tempo.whole_note_s) for step in steps)
        _take_bounces(strokes, bounces_of(steps, strokes, seconds), seconds, restitution)
    remarks = remarks_on(strokes, steps, seconds=seconds, tempo=tempo)
    return StrokePlan(tuple(strokes), remarks, seconds)


def _take_bounces(
    strokes: list[PlannedStroke],
    pairs: list[tuple[int, int]],
    seconds: tuple[float, ...],
    restitution: float,
) -> None:
    """Mark the second notes that are bounces, and let them start from where the bounce rises to."""
    for throw, second in pairs:
        top_cm = pressed_bounce_cm(strokes[throw].before_cm, restitution, seconds[throw])
        strokes[throw] = replace(strokes[throw], after_cm=top_cm)
        strokes[second] = replace(strokes[second], before_cm=top_cm, bounce=True)


def _key(blow: WrittenBlow) -> tuple[int, int | None]:
    return blow.position, blow.grace


def _starts(
    exercise: Exercise, steps: tuple[Step, ...], stroke: StrokeClass | None, heights: StrokeHeights
) -> dict[tuple[int, int | None], _Start]:
    """Say where each blow starts."""
    loud, plain = _classes(exercise, stroke)
    grace = _Start(GRACE_SHARE * heights.tap.aim_cm, high=False)
    second = "half" if any(note.strong for note in exercise.notes) else loud
    quieter = dynamics_db(exercise)
    starts: dict[tuple[int, int | None], _Start] = {}
    for blow in (step.blow for step in steps):
        note = exercise.notes[blow.position]
        each = (loud if note.strong else second) if blow.accent else plain
        start = grace if blow.grace is not None or note.ghost else _start(heights, each)
        share = 10 ** (quieter[blow.position] / DB_A_TENFOLD)
        starts[_key(blow)] = replace(start, height_cm=start.height_cm * share)
    return starts


def _start(heights: StrokeHeights, each: StrokeClass) -> _Start:
    return _Start(heights.of(each).aim_cm, high=each != "tap")


def _classes(exercise: Exercise, stroke: StrokeClass | None) -> tuple[StrokeClass, StrokeClass]:
    """Return the accents' class and the plain notes'."""
    if not exercise.has_accents:
        return stroke or "full", stroke or "full"
    return "half" if stroke == "half" else "full", "tap"


def _planned(step: Step, start: _Start, then: _Start) -> PlannedStroke:
    return PlannedStroke(
        position=step.blow.position,
        hand=step.blow.hand,
        motion=MOTIONS[start.high, then.high],
        before_cm=start.height_cm,
        after_cm=then.height_cm,
        own_interval=float(step.own_interval),
        grace=step.blow.grace,
    )
