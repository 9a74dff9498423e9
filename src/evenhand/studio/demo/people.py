"""The invented people of the demonstration, and what is off in their playing.

Conventions: a sitting is one evening's takes of one exercise; faults are the simulated player's own
(docs/simulated-player.md). Everybody and every figure here is invented.
"""

from __future__ import annotations

from dataclasses import dataclass

from evenhand.music.strokes.heights import StrokeClass

SINGLES, DOUBLES, MIXED = "1/8: RLRL RLRL", "1/8: RRLL RRLL", "1/8: RLRR LRLL"
DROPS = "1/2: R- L-"


@dataclass(frozen=True, slots=True)
class Sitting:
    """One evening: so many takes, so many days ago; ``words`` are the teacher's, of the last of them.

    Of drops, ``kept`` is the share of its speed that the stick keeps, and ``grip`` how it is held.
    """

    days_ago: int
    takes: int
    exercise: str
    tempo: str
    faults: tuple[str, ...] = ()
    stroke: StrokeClass | None = None
    repetitions: int = 10
    words: str = ""
    name: str = ""
    silent: bool = False
    kept: float = 0.0
    grip: str = ""


@dataclass(frozen=True, slots=True)
class OtherLesson:
    """A lesson so many weeks from the next that is moved by days, or (None) skipped."""

    weeks: int
    moved_by: int | None
    at: str = ""
    why: str = ""


@dataclass(frozen=True, slots=True)
class Person:
    """One invented student. ``lesson_number`` is the place among the day's lessons."""

    name: str
    stage: str
    lesson_in_days: int
    lesson_number: int
    sittings: tuple[Sitting, ...] = ()
    notes: str = ""
    words: str = ""
    minutes: float = 20.0
    days: int = 5
    weeks: int = 3  # at this stage, the week that runs among them
    minor: bool = False
    consent_by: str = ""
    has_model: bool = False
    lesson_changes: tuple[OtherLesson, ...] = ()
    drops: tuple[Sitting, ...] = ()


def _late(days_ago: int, takes: int, tempo: int, late_ms: int, words: str = "") -> Sitting:
    faults = (f"late-hand=L:{late_ms}", "weak-hand=L:1.5")
    return Sitting(days_ago, takes, MIXED, f"1/8={tempo}", faults, "tap", words=words)


def _weak(days_ago: int, takes: int, tempo: int, second_db: float, words: str = "") -> Sitting:
    return Sitting(
        days_ago, takes, DOUBLES, f"1/8={tempo}", (f"weak-second={second_db}",), "tap", words=words
    )


def _fast(days_ago: int, takes: int, tempo: int, scatter_ms: int) -> Sitting:
    faults = (f"wandering-hand=L:{scatter_ms}", f"wandering-hand=R:{max(scatter_ms - 4, 2)}")
    return Sitting(days_ago, takes, SINGLES, f"1/8={tempo}", faults, "tap", 14)


def _soft(days_ago: int, takes: int, weak_db: float) -> Sitting:
    return Sitting(days_ago, takes, SINGLES, "1/8=72", (f"weak-hand=L:{weak_db}",), "half", 5)


def _hurried(days_ago: int, takes: int, bpm_per_min: int, words: str = "") -> Sitting:
    return Sitting(days_ago, takes, MIXED, "1/8=76", (f"hurrying={bpm_per_min}",), "full", 5, words=words)


def _dropped(days_ago: int, grip: str, kept: float) -> Sitting:
    """Let the stick fall three times from each hand."""
    return Sitting(days_ago, 1, DROPS, "1/4=60", repetitions=3, kept=kept, grip=grip)


HOLIDAYS = "winter holidays"
MODEL = Sitting(8, 1, MIXED, "1/8=150", (), "tap", 8, name="the teacher's own")

PEOPLE: tuple[Person, ...] = (
    Person(
        "Nora Veldt",
        "tap",
        0,
        0,
        (
            _late(39, 1, 108, 34),
            _late(33, 1, 116, 31),
            _late(25, 1, 124, 27),
            _late(18, 1, 132, 24),
            _late(11, 1, 138, 21, "The left is on its way. Let it lead for a week."),
            _late(6, 2, 144, 19),
            _late(5, 3, 144, 18),
            _late(3, 2, 150, 16),
            _late(1, 4, 150, 15),
        ),
        notes="Plays in the school orchestra. Left-handed at the table, right-handed at the pad.",
        words="Let the left hand lead. Slowly first.",
        has_model=True,
    ),
    Person(
        "Idris Halloran",
        "slow doubles",
        0,
        1,
        (
            _weak(40, 1, 132, 7.5),
            _weak(32, 1, 138, 6.5),
            _weak(24, 1, 144, 6),
            _weak(17, 1, 150, 5),
            _weak(10, 1, 156, 4.5),
            _weak(6, 2, 160, 4),
            _weak(4, 3, 160, 3.5),
            _weak(2, 2, 166, 3),
            _weak(1, 2, 166, 2.6, "Hear how the second note has come up since last month."),
        ),
        notes="Wants to play doubles at the spring concert.",
        words="The fingers close on the second note.",
        minutes=25.0,
    ),
    Person(
        "Samir Adeyo",
        "half",
        0,
        2,
        (_soft(27, 1, 5), _soft(20, 1, 4.5), _soft(13, 1, 4), _soft(5, 1, 3.6), _soft(2, 2, 3.2)),
        notes="Eleven years old. Practises at his grandmother's on weekdays.",
        words="Both sticks from the same height: look at them in the mirror.",
        minutes=15.0,
        days=4,
        weeks=2,
        minor=True,
        consent_by="Funmi Adeyo, his mother",
        drops=(
            _dropped(20, "thumb and first finger", 0.81),
            _dropped(9, "whole hand", 0.71),
            _dropped(3, "thumb and first finger", 0.82),
        ),
    ),
    Person(
        "Petra Ashdown-Moor",
        "tap",
        1,
        0,
        (
            _fast(38, 1, 150, 4),
            _fast(30, 1, 165, 5),
            _fast(22, 1, 180, 5),
            _fast(15, 1, 190, 6),
            _fast(6, 1, 200, 6),
            _fast(6, 1, 215, 8),
            _fast(4, 1, 200, 5),
            _fast(4, 1, 230, 16),
            _fast(3, 1, 215, 7),
            _fast(3, 1, 240, 24),
        ),
        notes="Forty years of playing rock, no lessons before.",
        words="Loose before fast, all week.",
        minutes=30.0,
        days=6,
        weeks=5,
        lesson_changes=(OtherLesson(0, 1, "17:45", "the dentist"),),
    ),
    Person(
        "Theo Marchbank",
        "full",
        2,
        1,
        (
            _hurried(37, 1, 9),
            _hurried(29, 1, 9),
            _hurried(20, 2, 8),
            _hurried(12, 2, 8, "You run when it goes well. Breathe out on the first note."),
            Sitting(3, 1, MIXED, "1/8=76", (), "full", 4, silent=True),
        ),
        notes="Shift work: no fixed evenings.",
        words="Full strokes, quietly counted aloud.",
        weeks=2,
        lesson_changes=(OtherLesson(-1, None, "", "a night shift"),),
    ),
    Person(
        "Wren Castleton",
        "rebound",
        3,
        0,
        notes="First lesson last week. Ask the parents about recordings.",
        words="Drop the stick, leave it alone, count how often it comes back.",
        minutes=10.0,
        weeks=1,
        minor=True,
    ),
)
