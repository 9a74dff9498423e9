"""A rule for looking for the ceiling at the pad, with no computer: up a little, down more.

After a controlled repetition the tempo rises by one step, after another one it falls by
several. Such a walk settles where the two balance: at a share of controlled repetitions of
(down / (up + down)) ** (1 / n), with n controlled repetitions in a row before a step up
(Levitt 1971, J. Acoust. Soc. Am. 49:467-477, for equal steps; Kaernbach 1991, Percept.
Psychophys. 49:227-229, for weighted ones). A faster tempo is the harder one, so "up" is
towards the harder here. One up and three down settles at three in four: at the ceiling.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

UP_STEPS, DOWN_STEPS = 1, 3


def settles_at(*, up: float = UP_STEPS, down: float = DOWN_STEPS, in_a_row: int = 1) -> float:
    """Return the share of controlled repetitions at which the walk settles.

    >>> settles_at(), round(settles_at(up=1, down=1, in_a_row=2), 4)
    (0.75, 0.7071)
    """
    return float((down / (up + down)) ** (1 / in_a_row))


@dataclass(frozen=True, slots=True)
class Walk:
    """Where the walk stands. ``step_bpm`` is one step."""

    tempo_bpm: float
    step_bpm: float
    up: int = UP_STEPS
    down: int = DOWN_STEPS
    in_a_row: int = 1
    so_far: int = 0  # controlled ones since the last step

    def after(self, *, controlled: bool) -> Walk:
        """Return the walk after one more repetition."""
        if not controlled:
            return replace(self, tempo_bpm=self.tempo_bpm - self.down * self.step_bpm, so_far=0)
        if self.so_far + 1 < self.in_a_row:
            return replace(self, so_far=self.so_far + 1)
        return replace(self, tempo_bpm=self.tempo_bpm + self.up * self.step_bpm, so_far=0)
