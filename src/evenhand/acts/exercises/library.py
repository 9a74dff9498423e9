"""Choose from the library: tracks, or what belongs to a stage; as a book, as JSON.

Difficulty stands with each exercise: what it asks of the hands for each of its fastest notes
(docs/choosing.md), and the fewest beats a minute and the most that a stage allows.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from evenhand.acts.documents import Json, json_of, plain
from evenhand.errors import WrongOptions
from evenhand.music.book import Book
from evenhand.music.library.tracks import TRACKS, LibraryExercise, as_book, library, track
from evenhand.music.text import print_exercise
from evenhand.music.writing.rates import hand_rate, tempo_bounds
from evenhand.progress.stages.gate import for_stage, runs
from evenhand.progress.stages.path import PracticePath, Stage

QUARTER = Fraction(1, 4)


@dataclass(frozen=True, slots=True)
class LibraryChoice:
    """What was asked of the library, and for which stage."""

    exercises: tuple[LibraryExercise, ...]
    stage: Stage | None = None

    @property
    def book(self) -> Book:
        """A book with a section for each track."""
        named = f"For the stage {self.stage.name}" if self.stage is not None else "A library to practise from"
        return as_book(self.exercises, named)

    @property
    def json(self) -> str:
        """A list, one exercise after the other."""
        return json_of([self._row(each) for each in self.exercises])

    def _row(self, each: LibraryExercise) -> Json:
        tempos = self.tempos(each)
        row = {
            "title": each.title,
            "track": each.track,
            "place": each.place,
            "exercise": print_exercise(each.exercise),
            "notes": len(each.exercise.struck),
            "longest_run": max((length for _, length in runs(each.exercise)), default=0),
            "strokes_a_whole_note": hand_rate(each.exercise),
            "hardness": each.hardness,
            "quarter_bpm": tempos,
        }
        return plain(row, {"strokes_a_whole_note": 2, "hardness": 2, "quarter_bpm": 0})

    def tempos(self, each: LibraryExercise) -> tuple[float, float] | None:
        """Return the quarter's beats a minute that the stage allows, from and to; None without a stage."""
        if self.stage is None:
            return None
        return tempo_bounds(each.exercise, self.stage.rate_per_s, QUARTER)


def from_library(
    tracks: Sequence[str] = (), *, path: PracticePath | None = None, stage: str | None = None
) -> LibraryChoice:
    """Choose tracks of the library, or what belongs to a stage of a path, or both.

    Raises
    ------
    WrongOptions
        Where there is no such track or stage.
    """
    unknown = next((name for name in tracks if name not in TRACKS), None)
    if unknown is not None:
        raise WrongOptions(got=f"the track {unknown!r}", must_be=f"one of {', '.join(TRACKS)}")
    if stage is None or path is None:
        found = tuple(each for name in tracks for each in track(name)) if tracks else library()
        return LibraryChoice(found)
    asked = path.stage(stage)
    if asked is None:
        must_be = f"one of {', '.join(each.name for each in path.stages)}"
        raise WrongOptions(got=f"the stage {stage!r}", must_be=must_be)
    inside = for_stage(asked)
    return LibraryChoice(tuple(each for each in inside if not tracks or each.track in tracks), asked)
