"""Learn a click's sound from an even row of it, and follow it over the whole take.

Conventions: times in seconds from the first sample; beats are numbered on a line,
beat k at ``base + slope * k``; sounds as in ``click_sound``.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from evenhand.listening.click_sound import (
    CUT_BEFORE_S,
    CUT_S,
    MATCH_S,
    Cutter,
    as_recorded,
    begins_s,
    match,
    mean_sound,
)
from evenhand.listening.click_types import Array, Floats, HeardClick, Ints
from evenhand.listening.medians import median

_OFF_LINE_S = 0.3e-3  # a click is looked for this near its line
_SAME_START_S = 0.6e-3  # a first click of another sound begins this near its line
_SOFTEST, _LOUDEST = 0.5, 1.8  # gains
_ALIKE = 0.6  # normalised correlation of two sounds of the second kind
_LEVEL_S = 0.012
_AT_ONCE = 6  # beats looked for before the line is drawn again
_EARLY = 8  # clicks before the row that it is learnt from anew
_GIVEN_UP = 12  # beats, and no more than two of them seen: no click goes here

Line = tuple[float, float]  # slope, base
Seen = dict[int, tuple[float, float, int]]  # beat: time, gain, kind


def follow_click(cut: Cutter, run_s: Array, steps: Ints) -> HeardClick | None:
    """Learn the click's sound from an even row of it, and find it over the whole take.

    A click that sounds different on the first beat of a bar is learnt as a second kind
    from the beats where the first kind does not fit.

    Parameters
    ----------
    run_s, steps : shape (n,), the marks of the row and their beats, the first 0
    """
    sounds = mean_sound(cut, run_s)[None, :]
    slope, base = np.polyfit(steps, run_s, 1).tolist()
    order = _nearest_first(cut, (slope, base), steps)
    seen, line = _seek(cut, order, (slope, base), sounds)
    if len(seen) < 3:
        return None
    ahead = _ahead(cut, seen, run_s[0] - 0.5 * slope, sounds[0])
    if len(ahead) > 1:  # it was learnt amid the playing: what comes before may sound alone
        sounds = mean_sound(cut, np.concatenate([ahead, run_s]))[None, :]
        seen, line = _seek(cut, order, line, sounds)
        if len(seen) < 3:
            return None
    other = _second_kind(cut, order, seen, line, sounds)
    if other is not None:
        sounds = np.vstack([sounds, other])
        seen, line = _seek(cut, order, line, sounds)
    return _heard(cut, seen, line, sounds) if len(seen) >= 3 else None


def _nearest_first(cut: Cutter, line: Line, steps: Ints) -> Ints:
    """Return the beats that the take holds whole, those nearest the row first."""
    slope, base = line
    total_s = len(cut.samples) / cut.rate_hz
    index = np.arange(int(np.ceil((0.003 - base) / slope)), int((total_s - CUT_S - base) / slope) + 1)
    return index[np.argsort(np.abs(index - steps[-1] / 2), kind="stable")]


def _heard(cut: Cutter, seen: Seen, line: Line, sounds: Floats) -> HeardClick:
    """Put what was seen together; times are where the click begins to sound."""
    keep = sorted(seen)
    begins = begins_s(sounds[0], cut.rate_hz)
    level = float((sounds[0][: int(_LEVEL_S * cut.rate_hz)] ** 2).mean())
    return HeardClick(
        times_s=np.array([seen[k][0] for k in keep]) + begins,
        gains=np.array([seen[k][1] for k in keep]),
        kinds=np.array([seen[k][2] for k in keep], dtype=np.intp),
        sounds=np.array([as_recorded(sound, cut.rate_hz) for sound in sounds]),
        begins_s=begins,
        first_s=line[1] + begins,
        beat_s=line[0],
        level_db=10 * np.log10(level + 1e-14),
    )


def _seek(cut: Cutter, order: Ints, line: Line, sounds: Floats) -> tuple[Seen, Line]:
    """Find the click near where it is due, nearest beats first, keeping its line up to date."""
    seen: Seen = {}
    slope, base = line
    for at in range(0, len(order), _AT_ONCE):
        ks = order[at : at + _AT_ONCE]
        due = np.asarray(base + slope * ks, dtype=np.float64)
        found = [values.tolist() for values in (ks, *match(cut, due, sounds))]
        for k, t, gain, kind, fits in zip(*found, strict=True):
            if _SOFTEST < gain < _LOUDEST and abs(t - base - slope * k) < _OFF_LINE_S and fits:
                seen[k] = (t, gain, kind)
        if len(seen) >= 3:
            slope, base = _line_through(seen)
        elif at >= _GIVEN_UP:
            break
    return seen, (slope, base)


def _line_through(seen: Seen) -> Line:
    """Draw the line of time over beats, once more without what lies off it."""
    ks = np.array(sorted(seen))
    ts = np.array([seen[k][0] for k in ks])
    line = np.polyfit(ks, ts, 1)
    off = np.abs(ts - np.polyval(line, ks))
    good = off <= max(median(off) * 3, 0.02e-3)
    if good.sum() >= 3:
        line = np.polyfit(ks[good], ts[good], 1)
    return float(line[0]), float(line[1])


def _ahead(cut: Cutter, seen: Seen, until_s: float, sound: Floats) -> Array:
    """Return when the first clicks sound that come before a moment and are of one kind."""
    times = np.array([seen[k][0] for k in sorted(seen) if seen[k][0] < until_s][:_EARLY])
    if len(times) < 2:
        return times[:0]
    length = int((CUT_BEFORE_S + MATCH_S) * cut.rate_hz)
    pieces, _ = cut.at(times - CUT_BEFORE_S, CUT_S)
    typical = float(np.sqrt((sound[:length] ** 2).sum()))
    same = _alike(pieces[:, :length], typical, np.zeros(len(times), dtype=bool))
    return times[:0] if same is None else times[same]


def _second_kind(cut: Cutter, order: Ints, seen: Seen, line: Line, sounds: Floats) -> Floats | None:
    """Learn the sound of the beats at which the first kind was not found, if they share one."""
    slope, base = line
    inside = np.array(
        [k for k in sorted(order.tolist()) if k not in seen and min(seen) - 1 <= k <= max(seen) + 1]
    )
    if len(inside) == 0:
        return None
    times = base + slope * inside
    length = int((CUT_BEFORE_S + MATCH_S) * cut.rate_hz)
    pieces, _ = cut.at(times - CUT_BEFORE_S, CUT_S)
    begins = np.array([begins_s(piece, cut.rate_hz) for piece in pieces])
    on_line = np.abs(begins - begins_s(sounds[0], cut.rate_hz)) < _SAME_START_S  # a stick's blow is not
    before = (inside == min(seen) - 1) & on_line
    same = _alike(pieces[:, :length], float(np.sqrt((sounds[0][:length] ** 2).sum())), before)
    return None if same is None else mean_sound(cut, times[same])[None, :]


def _alike(body: Floats, typical: float, before: NDArray[np.bool_]) -> NDArray[np.bool_] | None:
    """Tell which pieces share a sound of about the typical size; None where no two do.

    One alone is believed only as the first of the count-in: the one marked ``before``.
    """
    size = np.sqrt((body**2).sum(axis=1))
    heard = (size > 0.4 * typical) & (size < 2.5 * typical)
    if not heard.any():
        return None
    alike = (body @ body.T) / (size[:, None] * size[None, :] + 1e-12)
    model = int(np.where(heard, (alike > _ALIKE).sum(axis=1) + alike.mean(axis=1), -1).argmax())
    same = np.asarray((alike[model] > _ALIKE) & heard)
    if same.sum() < 2:
        same = before & heard
    return same if same.any() else None
