"""What was seen of a film beside its truth: strokes paired by time, and what is right of them.

Conventions: times in seconds on the sound's timeline, heights in cm. ``seen`` is a document as
``evenhand watch --json`` writes it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from benchmarks.filming import StrokeTruth
from benchmarks.filming.case import LIMITS_CM

SAME_S = 0.030
FROM_LIMIT_CM = 1.0
KINDS = ("tap", "half", "full")


@dataclass
class Score:
    """What came of some films; lists have an entry a stroke, pairs are (right, asked).

    ``rises`` counts what was said of each true kind of rise. ``warnings`` are the kinds that were given.
    """

    true: int = 0
    made_up: int = 0
    hands: list[bool] = field(default_factory=list)
    heights: dict[str, list[float]] = field(default_factory=lambda: {kind: [] for kind in KINDS})
    rebounds: list[float] = field(default_factory=list)
    classes: list[bool] = field(default_factory=list)
    rises: dict[tuple[str, str], int] = field(default_factory=dict)
    shifts_ms: list[float] = field(default_factory=list)
    scales: list[float] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)
    refused: list[str] = field(default_factory=list)
    frames: int = 0
    cpu_s: float = 0.0
    memory_mb: float = 0.0

    def add(self, other: Score) -> None:
        """Take another film's score in."""
        for name in ("true", "made_up", "frames", "cpu_s"):
            setattr(self, name, getattr(self, name) + getattr(other, name))
        for name in ("hands", "rebounds", "classes", "shifts_ms", "scales", "warnings", "refused"):
            getattr(self, name).extend(getattr(other, name))
        for kind, errors in other.heights.items():
            self.heights[kind] += errors
        for key, count in other.rises.items():
            self.rises[key] = self.rises.get(key, 0) + count
        self.memory_mb = max(self.memory_mb, other.memory_mb)

    def share_said(self, true: str, said: Sequence[str], among: Sequence[str]) -> tuple[float | None, int]:
        """Return which share of a true kind of rise was called one of ``said``, of those called ``among``."""
        n = sum(self.rises.get((true, each), 0) for each in among)
        return (sum(self.rises.get((true, each), 0) for each in said) / n if n else None), n

    @property
    def balanced(self) -> tuple[float | None, int]:
        """Balanced accuracy of free against lifted, of those of which it was said, and how many these are."""
        free, n_free = self.share_said("free", ["free"], ["free", "lifted"])
        lifted, n_lifted = self.share_said("lifted", ["lifted"], ["free", "lifted"])
        both = None if free is None or lifted is None else (free + lifted) / 2
        return both, n_free + n_lifted

    @property
    def unsure(self) -> tuple[float | None, int]:
        """Share of free and lifted rises that were called neither, and how many these are."""
        said = {key: n for key, n in self.rises.items() if key[0] in {"free", "lifted"}}
        n = sum(said.values())
        return (sum(count for (_, called), count in said.items() if called == "unsure") / n if n else None), n


def pair(true_s: Sequence[float], seen_s: Sequence[float]) -> list[tuple[int, int]]:
    """Pair strokes one to one, the nearest first, none farther than ``SAME_S``."""
    near = [
        (abs(t - s), i, j) for i, t in enumerate(true_s) for j, s in enumerate(seen_s) if abs(t - s) <= SAME_S
    ]
    out: dict[int, int] = {}
    for _, i, j in sorted(near):
        if i not in out and j not in out.values():
            out[i] = j
    return sorted(out.items())


def judge(truth: Sequence[StrokeTruth], seen: Mapping[str, Any]) -> Score:
    """Hold what was seen against the truth; a value that is not given is not judged."""
    strokes = seen["strokes"]
    pairs = pair([stroke.time_s for stroke in truth], [stroke["time_s"] for stroke in strokes])
    score = Score(true=len(truth), made_up=len(strokes) - len(pairs))
    for i, j in pairs:
        _add_stroke(score, truth[i], strokes[j])
    score.warnings = sorted({_kind(warning) for warning in seen["setup"]["warnings"]})
    return score


def _add_stroke(score: Score, true: StrokeTruth, seen: Mapping[str, Any]) -> None:
    """Judge one stroke; heights of another hand's stick are not judged."""
    if seen["hand"] is None:
        return
    score.hands.append(seen["hand"] == true.hand)
    if seen["hand"] != true.hand:
        return
    if seen["preparation_cm"] is not None:
        score.heights[true.kind].append(seen["preparation_cm"] - true.preparation_cm)
        if min(abs(true.preparation_cm - limit) for limit in LIMITS_CM) > FROM_LIMIT_CM:
            score.classes.append(seen["class"] == true.kind)
    if seen["rebound_cm"] is not None:
        score.rebounds.append(seen["rebound_cm"] - true.rebound_cm)
    key = (true.rise, str(seen["rise"]))
    score.rises[key] = score.rises.get(key, 0) + 1


def _kind(warning: str | Mapping[str, Any]) -> str:
    """Return a warning's kind, whether it is a name alone or one with its figures."""
    return warning if isinstance(warning, str) else str(warning["kind"])


def mean_abs(errors: Sequence[float]) -> float | None:
    """Return the mean size of errors, None of none."""
    return float(np.mean(np.abs(errors))) if errors else None
