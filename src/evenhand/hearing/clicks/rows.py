"""Find even rows of like sounds among the candidates: what may be a click.

Conventions: times in seconds from the first sample; pieces are highpassed sound
around each candidate, shape (n, length), from 3 ms before its time.

Learn a click's sound from an even row of it, and follow it over the whole take.

Conventions: times in seconds from the first sample; beats are numbered on a line,
beat k at ``base + slope * k``; sounds as in ``click_sound``.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from evenhand.arrays import Bools, Floats, Indices, Singles, median
from evenhand.hearing.clicks.sound import (
    CUT_BEFORE_S,
    CUT_S,
    MATCH_S,
    SAME_KIND,
    Cutter,
    HeardClick,
    Line,
    Seen,
    begins_s,
    heard_click,
    likeness,
    match,
    mean_sound,
    products,
)
from evenhand.hearing.onsets.bands import peak_between
from evenhand.hearing.onsets.candidates import Candidates

FEWEST = 3  # a row that is worth a look
_MOST_ROWS = 5
_OPENING, _MOST_PAIRS = 12, 3  # candidates that may hold a count-in, and pairs of them tried
_SLOWER_FASTER = (0.84, 1.19)  # of the beat asked for
_ANY_BEAT_S = (0.2, 2.2)
_EVEN_S = 0.15e-3  # a click's intervals agree this well; a hand's do not
_ROUGHLY_EVEN_S = 1.6e-3
_SAME_COLOUR_DB = 9.0
_ALIKE = 0.80  # normalised correlation of two clicks
_COMPARE_S = 0.008
_REACH_S = 0.0010
_PIECE_BEFORE_S = CUT_BEFORE_S + _REACH_S
_OFF_GRID_S = 0.006
_LIKE_THE_DRUM, _MOST_LIKE, _MOST_COMPARED = 0.8, 0.12, 40


Row = tuple[Indices, Floats]  # candidates, and their exact times


@dataclass(frozen=True, slots=True)
class Links:
    """Pairs of candidates that sound alike about a beat apart.

    ``first``, ``second``, and the time between them to a fraction of a sample (s); all
    shape (n_links,).
    """

    first: Indices
    second: Indices
    apart_s: Floats


def pieces_around(cut: Cutter, times_s: Floats) -> Singles:
    """Cut the sound around each candidate, as the comparisons here want it.

    Parameters
    ----------
    times_s : shape (n_candidates,), seconds

    Returns
    -------
    shape (n_candidates, length), highpassed
    """
    pieces, _ = cut.at(times_s - _PIECE_BEFORE_S, CUT_BEFORE_S + MATCH_S + 2 * _REACH_S + 1e-3)
    return pieces


def link(
    pieces: Singles, strong: Candidates, rate_hz: int, beat_s: float | None, *, lone: bool = False
) -> Links:
    """Compare each candidate with those about a beat later.

    Only those are compared whose colour is close and that have a third at the same
    distance again, before or after.

    Parameters
    ----------
    pieces : shape (n_candidates, length), highpassed sound around each
    strong : the candidates, in order of time
    beat_s : the beat asked for, None where it is not known
    lone : whether a pair may stand without a third
    """
    times_s = strong.times_s
    first, second = _pairs(strong, beat_s)
    if not lone:
        in_row = _has_third(times_s, first, second)
        first, second = first[in_row], second[in_row]
    alike, lag = _compare(pieces, first, second, rate_hz)
    # The pieces were cut at whole samples; the rest of each time is added back.
    rounded = np.round((times_s - _PIECE_BEFORE_S) * rate_hz)
    exact = (rounded[second] - rounded[first] + lag) / rate_hz
    good = (alike > _ALIKE) & (np.abs(lag) < int(_REACH_S * rate_hz))
    return Links(first[good], second[good], exact[good])


def _pairs(strong: Candidates, beat_s: float | None) -> tuple[Indices, Indices]:
    """Return the pairs worth comparing: about a beat apart, of like colour."""
    times_s = strong.times_s
    low, high = _ANY_BEAT_S if beat_s is None else (beat_s * _SLOWER_FASTER[0], beat_s * _SLOWER_FASTER[1])
    apart = times_s[None, :] - times_s[:, None]
    first, second = np.nonzero((apart > low) & (apart < high))
    colour = np.sqrt(((strong.colour[first] - strong.colour[second]) ** 2).mean(axis=1))
    return first[colour < _SAME_COLOUR_DB], second[colour < _SAME_COLOUR_DB]


def _has_third(times_s: Floats, first: Indices, second: Indices) -> Bools:
    """Tell which pairs have a candidate as far on again, or as far back, within the first timing's error."""
    out = np.zeros(len(first), dtype=bool)
    apart = times_s[second] - times_s[first]
    for due in (times_s[second] + apart, times_s[first] - apart):
        right = np.clip(np.searchsorted(times_s, due), 1, len(times_s) - 1)
        out |= np.minimum(np.abs(times_s[right] - due), np.abs(times_s[right - 1] - due)) < _ROUGHLY_EVEN_S
    return out


def _compare(pieces: Singles, first: Indices, second: Indices, rate_hz: int) -> tuple[Floats, Floats]:
    """Return how alike the sounds of each pair are, and the second's lag that makes them so (samples)."""
    reach, length = _sizes(rate_hz)
    wide = pieces[:, : length + 2 * reach]
    patterns = pieces[:, reach : reach + length]
    norms = _norms(pieces, length, reach)
    alike, lag = np.zeros(len(first)), np.zeros(len(first))
    for i in np.unique(first).tolist():
        mine = np.flatnonzero(first == i)
        others = second[mine]
        value = products(wide[others], patterns[i]) / (
            norms[others] * (np.sqrt(patterns[i] @ patterns[i]) + 1e-9)
        )
        best = value.argmax(axis=1)
        alike[mine] = value.max(axis=1)
        lag[mine] = best - reach + peak_between(value, best)
    return alike, lag


def _sizes(rate_hz: int) -> tuple[int, int]:
    """Return how far pieces are moved against each other, and how much is compared, in samples."""
    return int(_REACH_S * rate_hz), int((CUT_BEFORE_S + _COMPARE_S) * rate_hz)


def _norms(pieces: Singles, length: int, reach: int) -> Singles:
    """Return the size of every piece of each row, shape (n_rows, 2 * reach + 1)."""
    square = pieces[:, : length + 2 * reach].astype(np.float64) ** 2
    total = np.cumsum(np.pad(square, ((0, 0), (1, 0))), axis=1)
    size = np.sqrt(np.maximum(total[:, length:] - total[:, :-length], 0))
    return size.astype(np.float32) + np.float32(1e-9)


def join(links: Links, times_s: Floats) -> list[Row]:
    """Join links of equal length into rows, the longest first.

    Parameters
    ----------
    times_s : shape (n_candidates,), seconds

    Returns
    -------
    each row's candidates, and each click's exact time
    """
    found: list[list[int]] = []
    used: set[int] = set()
    after: dict[int, list[int]] = {}
    for k, i in enumerate(links.first.tolist()):
        after.setdefault(i, []).append(k)
    for k in range(len(links.first)):
        if k not in used:
            row = _row_from(k, links, after)
            used.update(row)
            if len(row) + 1 >= FEWEST:
                found.append(row)
    found.sort(key=lambda row: (-len(row), row[0]))
    return [_along(row, links, times_s) for row in found[:_MOST_ROWS]]


def opening_pairs(pieces: Singles, strong: Candidates, rate_hz: int, beat_s: float | None) -> list[Row]:
    """Return the first few pairs of like sounds: a short count-in, the rest of its clicks under strokes.

    A click with an accent on every other beat has its like two beats on.

    Parameters
    ----------
    pieces : shape (n_candidates, length), highpassed sound around each
    strong, beat_s : as for ``link``

    Returns
    -------
    each pair's candidates, and each click's exact time
    """
    few = strong.only(np.arange(min(_OPENING, len(strong))))
    pairs = []
    for apart_s in (None,) if beat_s is None else (beat_s, 2 * beat_s):
        links = link(pieces[:_OPENING], few, rate_hz, apart_s, lone=True)
        pairs += [_along([k], links, few.times_s) for k in range(min(_MOST_PAIRS, len(links.first)))]
    return pairs


def _row_from(k: int, links: Links, after: dict[int, list[int]]) -> list[int]:
    """Go on from a link by links of its length, the nearest to it first."""
    row = [k]
    while True:
        beat = float(np.mean(links.apart_s[row]))
        nexts = after.get(int(links.second[row[-1]]), [])
        fit = [n for n in nexts if abs(links.apart_s[n] - beat) < _EVEN_S]
        if not fit:
            return row
        row.append(min(fit, key=lambda n: abs(links.apart_s[n] - beat)))


def _along(row: list[int], links: Links, times_s: Floats) -> Row:
    """Return a row's candidates, and their times as its links have them."""
    chain = np.array([links.first[row[0]], *(links.second[k] for k in row)], dtype=np.intp)
    exact = times_s[chain[0]] + np.concatenate([[0.0], np.cumsum(links.apart_s[row])])
    return chain, np.asarray(exact)


def is_the_drum(pieces: Singles, times_s: Floats, chain: Indices, row_s: Floats, rate_hz: int) -> bool:
    """Tell whether blows that are not on a row's grid sound like it too: then it is the drum.

    Parameters
    ----------
    pieces : shape (n_candidates, length), highpassed sound around each
    times_s : shape (n_candidates,), seconds
    chain, row_s : shape (n_clicks,), the row: its candidates and their exact times
    """
    beat_s = (row_s[-1] - row_s[0]) / (len(row_s) - 1)
    beats = (times_s - row_s[0]) / beat_s
    off_grid = np.flatnonzero(np.abs(beats - np.round(beats)) * beat_s > _OFF_GRID_S)
    off_grid = off_grid[:: max(1, len(off_grid) // _MOST_COMPARED)]
    if len(off_grid) < 3:
        return False
    reach, length = _sizes(rate_hz)
    wide = pieces[off_grid, : length + 2 * reach]
    norms = _norms(wide, length, reach)
    for model in (chain[0], chain[len(chain) // 2]):  # a stroke may lie on one of a click's sounds
        pattern = pieces[model, reach : reach + length]
        alike = (products(wide, pattern) / (norms * np.sqrt(pattern @ pattern) + 1e-9)).max(axis=1)
        if float((alike > _LIKE_THE_DRUM).mean()) < _MOST_LIKE:
            return False
    return True


_OFF_LINE_S = 0.3e-3  # a click is looked for this near its line
_SAME_START_S = 0.6e-3  # a first click of another sound begins this near its line
_SOFTEST, _LOUDEST = 0.5, 1.8  # gains
_AT_ONCE = 6  # beats looked for before the line is drawn again
_EARLY = 8  # clicks before the row that it is learnt from anew
_GIVEN_UP = 12  # beats, and no more than two of them seen: no click goes here

Found = dict[int, Seen]  # by beat


def track_click(cut: Cutter, run_s: Floats, steps: Indices) -> tuple[HeardClick, Singles] | None:
    """Learn the click's sound from an even row of it, and find it over the whole take.

    Returns it, and its sounds as they were cut, highpassed, shape (n_kinds, length).

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
    if len(seen) < 3:
        return None
    return heard_click([seen[k] for k in sorted(seen)], line, sounds, cut.rate_hz), sounds


def _nearest_first(cut: Cutter, line: Line, steps: Indices) -> Indices:
    """Return the beats that the take holds whole, those nearest the row first."""
    slope, base = line
    total_s = len(cut.samples) / cut.rate_hz
    index = np.arange(int(np.ceil((0.003 - base) / slope)), int((total_s - CUT_S - base) / slope) + 1)
    return index[np.argsort(np.abs(index - steps[-1] / 2), kind="stable")]


def _seek(cut: Cutter, order: Indices, line: Line, sounds: Singles) -> tuple[Found, Line]:
    """Find the click near where it is due, nearest beats first, keeping its line up to date."""
    seen: Found = {}
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


def _line_through(seen: Found) -> Line:
    """Draw the line of time over beats, once more without what lies off it."""
    ks = np.array(sorted(seen))
    ts = np.array([seen[k][0] for k in ks])
    line = np.polyfit(ks, ts, 1)
    off = np.abs(ts - np.polyval(line, ks))
    good = off <= max(median(off) * 3, 0.02e-3)
    if good.sum() >= 3:
        line = np.polyfit(ks[good], ts[good], 1)
    return float(line[0]), float(line[1])


def _ahead(cut: Cutter, seen: Found, until_s: float, sound: Singles) -> Floats:
    """Return when the first clicks sound that come before a moment and are of one kind."""
    times = np.array([seen[k][0] for k in sorted(seen) if seen[k][0] < until_s][:_EARLY])
    if len(times) < 2:
        return times[:0]
    length = int((CUT_BEFORE_S + MATCH_S) * cut.rate_hz)
    pieces, _ = cut.at(times - CUT_BEFORE_S, CUT_S)
    typical = float(np.sqrt((sound[:length] ** 2).sum()))
    same = _alike(pieces[:, :length], typical, np.zeros(len(times), dtype=bool))
    return times[:0] if same is None else times[same]


def _second_kind(cut: Cutter, order: Indices, seen: Found, line: Line, sounds: Singles) -> Singles | None:
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


def _alike(body: Singles, typical: float, before: Bools) -> Bools | None:
    """Tell which pieces share a sound of about the typical size; None where no two do.

    The first of a count-in, marked ``before``, is believed alone, and says what the others are like.
    """
    size = np.sqrt((body**2).sum(axis=1))
    heard = (size > 0.4 * typical) & (size < 2.5 * typical)
    if not heard.any():
        return None
    alike = likeness(body)
    often = (alike > SAME_KIND).sum(axis=1) + alike.mean(axis=1)
    first = before & heard
    model = int(np.where(first if first.any() else heard, often, -1).argmax())
    same = np.asarray((alike[model] > SAME_KIND) & heard)
    return same if same.sum() >= 2 or first.any() else None
