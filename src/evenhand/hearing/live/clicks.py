"""Take a click out of a stream while it sounds, where it is known when it is due.

The first clicks, which sound alone, say how much later than due they are heard and what they sound
like. Each further one is looked for by that sound where it is due, and taken out, as from a whole
take; what is left tells whether a blow lies on it.

Conventions: times in seconds of the stream; a click's mark and its sound as in ``click_sound``.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence

import numpy as np

from evenhand.arrays import Bools, Floats, Singles, median
from evenhand.hearing.clicks.find import only_click
from evenhand.hearing.clicks.sound import (
    CUT_BEFORE_S,
    CUT_S,
    MATCH_S,
    SAME_KIND,
    Cutter,
    HeardClick,
    Seen,
    WithoutClick,
    begins_s,
    heard_click,
    likeness,
    match,
    mean_sound,
)
from evenhand.hearing.onsets.candidates import Candidates
from evenhand.take import Samples

_FAR_S = 0.080  # a click may be heard so much later than due, or earlier, before any was heard
_NEAR_S = 0.015  # and afterwards
_EVEN_S = 0.0015  # clicks keep their distance as no hand does
_ENOUGH, _LEAST = 4, 2  # clicks that say what it sounds like
_MATCHED_S = CUT_BEFORE_S + MATCH_S + 0.001  # of sound wanted behind a click's mark
_BEFORE_S = 0.008  # what begins so shortly before a click waits for it
_RECENT = 24  # clicks
_SOFTEST, _LOUDEST = 0.3, 2.5  # gains
_FOLLOWS = 0.1  # share of a click's distance from where it was due


class LiveClicks:
    """The clicks of a stream."""

    def __init__(
        self, samples: Samples, rate_hz: int, due_s: Sequence[float], *, until_s: float | None
    ) -> None:
        self._samples, self._rate_hz = samples, rate_hz
        self._cut = Cutter(samples, rate_hz)
        self._due_s = np.sort(np.asarray(due_s, dtype=np.float64))
        self._next = 0 if len(self._due_s) else None  # due click to be looked for; None: none is heard
        self._alone_until_s = np.inf if until_s is None else until_s
        self._heard: dict[int, float] = {}  # before the sound is known: due click, when heard
        self._sounds: Singles | None = None
        self._later_s = self._begins_s = 0.0
        self._recent: deque[Seen] = deque(maxlen=_RECENT)
        self._cleaned: Samples = samples
        self._click: HeardClick | None = None

    @property
    def later_s(self) -> float:
        """How much later than due the clicks begin to sound."""
        return self._later_s + self._begins_s

    @property
    def open_from_s(self) -> float:
        """From when on a click may sound that was not taken out yet."""
        if self._sounds is None or self._next is None or self._next >= len(self._due_s):
            return np.inf
        return float(self._due_s[self._next]) + self._later_s - _BEFORE_S

    def cleaned(self) -> Samples:
        """Return the stream so far with the clicks taken out, shape (n_samples,)."""
        now_s = len(self._samples) / self._rate_hz
        if self._sounds is None:
            self._try_to_learn(now_s)
        while self._is_ready(now_s):
            self._seek(self._next or 0)
        return self._cleaned

    def is_no_click(self, found: Candidates) -> Bools:
        """Tell which candidates are no clicks, shape (n_candidates,), and learn from those that are."""
        if self._next is None or len(found) == 0:
            return np.ones(len(found), dtype=bool)
        if self._sounds is None:
            return np.array([not self._takes(t) for t in found.times_s.tolist()], dtype=bool)
        if self._click is None:
            return np.ones(len(found), dtype=bool)
        return ~only_click(self._samples, self._cleaned, self._rate_hz, found, self._click)

    def _takes(self, time_s: float) -> bool:
        """Take a moment for a click that sounds alone, if it is one."""
        near = int(np.abs(self._due_s + self._later_s - time_s).argmin())
        distance_s = abs(float(self._due_s[near]) + self._later_s - time_s)
        apart_s = float(np.diff(self._due_s).min(initial=1.0))
        reach_s = _NEAR_S if self._heard else min(_FAR_S, 0.4 * apart_s)
        if distance_s > reach_s or self._due_s[near] > self._alone_until_s - _NEAR_S:
            return False
        self._heard.setdefault(near, time_s)
        self._later_s = median(np.array([t - self._due_s[k] for k, t in self._heard.items()]))
        return True

    def _try_to_learn(self, now_s: float) -> None:
        """Learn the click's sound once enough was heard; give it up where none is heard."""
        if self._next is None:
            return
        alone = self._due_s[self._due_s < self._alone_until_s - _NEAR_S]
        wanted = min(_ENOUGH, len(alone))
        over_s = float(alone[wanted - 1] if wanted else self._due_s[0]) + _FAR_S + CUT_S
        if len(self._heard) < wanted and now_s < over_s:
            return
        if self._heard and now_s < max(self._heard.values()) + CUT_S:
            return
        numbers = self._even()
        if len(numbers) < _LEAST:
            self._next = None
            return
        self._learn(self._due_s[numbers] + self._later_s)
        self._next = int(np.searchsorted(self._due_s, now_s - self._later_s - _MATCHED_S))

    def _even(self) -> list[int]:
        """Return the clicks that came as evenly as they were due."""
        return [k for k, t in self._heard.items() if abs(t - self._due_s[k] - self._later_s) < _EVEN_S]

    def _learn(self, marks_s: Floats) -> None:
        """Learn the sound of each kind of click."""
        body, _ = self._cut.at(marks_s - CUT_BEFORE_S, CUT_BEFORE_S + MATCH_S)
        alike = likeness(body) > SAME_KIND
        sounds, left = [], np.ones(len(marks_s), dtype=bool)
        while left.any():
            model = int(np.where(left, alike[:, left].sum(axis=1), -1).argmax())
            kind = alike[model] & left
            kind[model] = True
            sounds.append(mean_sound(self._cut, marks_s[kind]))
            left &= ~kind
        self._sounds = np.array(sounds)
        self._begins_s = begins_s(self._sounds[0], self._rate_hz)

    def _is_ready(self, now_s: float) -> bool:
        """Tell whether enough was fed to look for the next click."""
        if self._sounds is None or self._next is None or self._next >= len(self._due_s):
            return False
        return now_s >= float(self._due_s[self._next]) + self._later_s + _MATCHED_S

    def _seek(self, number: int) -> None:
        """Look for a click where it is due; if it is there, it is taken out from now on."""
        self._next = number + 1
        if self._sounds is None:
            return
        due_s = float(self._due_s[number]) + self._later_s
        found = match(self._cut, np.array([due_s]), self._sounds)
        mark_s, gain, kind, fits = (each[0].item() for each in found)
        if not (fits and _SOFTEST < gain < _LOUDEST):
            return
        if abs(mark_s - due_s) < 2 / self._rate_hz:
            self._later_s += _FOLLOWS * (mark_s - due_s)
        self._recent.append((mark_s, gain, kind))
        line = 1.0, self._recent[0][0]  # no grid is known
        self._click = heard_click(self._recent, line, self._sounds, self._rate_hz)
        self._cleaned = WithoutClick(self._samples, self._rate_hz, self._click)
