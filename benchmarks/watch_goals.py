"""What the watching was asked to reach, beside what it reaches, each figure with its count."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from benchmarks.watched import Score, mean_abs

Figure = tuple[float | None, int]
FASTEST_ROWS = ("usual", "playing: sixteenths at 120, taps", "playing: doubles, sixteenths at 80")
SHORT, LONG = "length: 10 s, 640 x 360, 30 fps", "length: 100 s, the same"
MORE_MB = 15.0  # from 10 s to 100 s: what is kept of strokes and tracks, not of pictures


@dataclass(frozen=True)
class Goal:
    """One goal: on which rows (all that begin so, added up), which figure, and its limit."""

    said: str
    rows: tuple[str, ...]
    figure: Callable[[Score], Figure]
    limit: float
    unit: str
    at_least: bool = True

    def reached(self, value: float) -> bool:
        """Tell whether a value keeps the limit."""
        return value >= self.limit if self.at_least else value <= self.limit


def _error(*kinds: str) -> Callable[[Score], Figure]:
    def of(score: Score) -> Figure:
        errors = [error for kind in kinds for error in score.heights[kind]]
        return mean_abs(errors), len(errors)

    return of


def _percent(figure: Figure) -> Figure:
    share, n = figure
    return (None if share is None else 100 * share), n


def _right(right: Sequence[bool]) -> Figure:
    return (100 * sum(right) / len(right) if right else None), len(right)


def _speed(score: Score) -> Figure:
    return (score.frames / score.cpu_s if score.cpu_s else None), score.frames


GOALS = (
    Goal("height of taps, mean error", ("usual",), _error("tap"), 0.6, "cm", at_least=False),
    Goal("height of halves, mean error", ("usual",), _error("half"), 0.6, "cm", at_least=False),
    Goal("height of fulls, mean error", ("usual",), _error("full"), 0.8, "cm", at_least=False),
    Goal("class, over 1 cm from a limit", ("usual",), lambda s: _right(s.classes), 97, "%"),
    Goal("hits with the right hand, sixteenths at 120 too", FASTEST_ROWS, lambda s: _right(s.hands), 98, "%"),
    Goal("free against lifted, balanced", ("usual",), lambda s: _percent(s.balanced), 95, "%"),
    Goal(
        "mixed called free",
        ("usual",),
        lambda s: _percent(s.share_said("mixed", ["free"], ["free", "lifted", "unsure"])),
        5,
        "%",
        at_least=False,
    ),
    Goal("frames a second at 720p, one core", ("usual",), _speed, 240, "/s"),
)


def goals(rows: Mapping[tuple[str, str], Score]) -> str:
    """Lay out the goals whose rows were measured, as Markdown."""
    named = {f"{group}: {name}": score for (group, name), score in rows.items()}
    lines = ["| goal | asked | reached | |", "|---|---|---|---|"]
    for goal in GOALS:
        of = [score for name, score in named.items() if name.startswith(goal.rows)]
        total = Score()
        for score in of:
            total.add(score)
        value, n = goal.figure(total)
        if value is not None:
            sign = "≥" if goal.at_least else "≤"
            met = "yes" if goal.reached(value) else "no"
            asked = f"{sign} {goal.limit:g} {goal.unit}"
            lines.append(
                f"| {goal.said} | {asked} | {value:.{2 if goal.unit == 'cm' else 1}f} ({n}) | {met} |"
            )
    if SHORT in named and LONG in named:
        more = named[LONG].memory_mb - named[SHORT].memory_mb
        met = "yes" if more <= MORE_MB else "no"
        lines.append(f"| memory from 10 s to 100 s | ≤ {MORE_MB:g} MB more | {more:.0f} MB | {met} |")
    return "\n".join(lines) + "\n"
