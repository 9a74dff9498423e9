"""Find the click, keep its times as the clock, and take its sound out.

A click is told from a drum by two things no hand can do: it is the same sound
each time, and it comes at intervals that are equal to a fraction of a millisecond.

Conventions: times in seconds from the first sample; gains relative to the click's
own mean sound; ``samples`` shape (n,), full scale 1.0.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from evenhand.listening.click_types import HeardClick
from evenhand.listening.cutting import Floats, Samples, highpass_response, rows
from evenhand.listening.evidence import Candidates

Array = NDArray[np.float64]

_SLOWER_FASTER = (0.84, 1.19)  # of the beat asked for
_ANY_BEAT_S = (0.2, 2.2)
_EVEN_S = 0.15e-3  # a click's intervals agree this well; a hand's do not
_SAME_COLOUR_DB = 9.0
_ROUGHLY_EVEN_S = 1.6e-3
_LIKE_THE_DRUM = 0.8
_ALIKE = 0.80  # normalised correlation of two clicks
_EXACT_S = 0.08e-3  # a click found under the strokes lies this near its line
_LONG_CHAIN = 5  # so many in an even row are no hand's
_COUNT_IN = 3  # so many do where nothing else sounds between them
_CUT_BEFORE_S, _CUT_S = 0.002, 0.060
_MATCH_S = 0.012
_COMPARE_S = 0.008
_REACH_S = 0.0010
_THROUGH = 0.5  # share of the beats of the playing at which a click must show through the strokes
_LOWCUT_HZ = 400.0
_MOST_CANDIDATES = 240
_OTHER_COLOUR_DB = 4.0  # a click and a drum differ more than this over the bands


def find_click(samples: Samples, rate_hz: int, found: Candidates, beat_s: float | None) -> HeardClick | None:
    """Find a click in a take, or None where there is none to be heard.

    ``beat_s`` is the beat asked for; the click may be up to about 15 % off it. Where it
    is not known (blind), beats from 0.2 to 2.2 s are tried.
    """
    strong = found.only(found.strength > 2.8)
    strong = strong.only(np.arange(min(len(strong), _MOST_CANDIDATES)))
    if len(strong) < _COUNT_IN:
        return None
    cut = _Cutter(samples, rate_hz)
    pieces, _ = cut.at(
        strong.times_s - _CUT_BEFORE_S - _REACH_S, _CUT_BEFORE_S + _MATCH_S + 2 * _REACH_S + 1e-3
    )
    links = _links(pieces, strong, rate_hz, beat_s)
    for chain, lags in _chains(links, strong.times_s):
        times = strong.times_s[chain] + lags
        if _is_the_drum(pieces, strong.times_s, chain, times, rate_hz):
            continue
        steps = np.round((times - times[0]) / np.median(np.diff(times))).astype(np.intp)
        heard = _follow_click(cut, times, steps)
        judged = None if heard is None else _judged(heard, strong, chain)
        if judged is not None:
            return judged
    return None


@dataclass(frozen=True, slots=True)
class _Links:
    """Pairs of candidates that sound alike about a beat apart: ``first``, ``second``, and
    the time between them to a fraction of a sample (s); all shape (n_links,).
    """

    first: NDArray[np.intp]
    second: NDArray[np.intp]
    apart_s: Array


def _links(pieces: Floats, strong: Candidates, rate_hz: int, beat_s: float | None) -> _Links:
    """Compare each candidate with those about a beat later.

    Only those are compared whose colour is close and that have a third at the same
    distance again (or two beats on), before or after.
    """
    times_s = strong.times_s
    low, high = _ANY_BEAT_S if beat_s is None else (beat_s * _SLOWER_FASTER[0], beat_s * _SLOWER_FASTER[1])
    apart = times_s[None, :] - times_s[:, None]
    first, second = np.nonzero((apart > low) & (apart < high))
    colour = np.sqrt(((strong.colour[first] - strong.colour[second]) ** 2).mean(axis=1))
    evenly = _has_third(times_s, first, second)
    first, second = first[(colour < _SAME_COLOUR_DB) & evenly], second[(colour < _SAME_COLOUR_DB) & evenly]
    reach, match = int(_REACH_S * rate_hz), int((_CUT_BEFORE_S + _COMPARE_S) * rate_hz)
    view = np.lib.stride_tricks.sliding_window_view(pieces[:, : match + 2 * reach], match, axis=1)
    patterns = pieces[:, reach : reach + match]
    norms = _norms(pieces, match, reach)
    alike, lag = np.zeros(len(first)), np.zeros(len(first))
    for i in np.unique(first).tolist():
        mine = np.flatnonzero(first == i)
        others = second[mine]
        value = (view[others] @ patterns[i]) / (norms[others] * (np.sqrt(patterns[i] @ patterns[i]) + 1e-9))
        best = value.argmax(axis=1)
        alike[mine] = value.max(axis=1)
        lag[mine] = best - reach + _parabola(value, best)
    # The pieces were cut at whole samples; the rest of each time is added back.
    rounded = np.round((times_s - _CUT_BEFORE_S - _REACH_S) * rate_hz)
    exact = (rounded[second] - rounded[first] + lag) / rate_hz
    good = (alike > _ALIKE) & (np.abs(lag) < reach)
    return _Links(first[good], second[good], exact[good])


def _has_third(times_s: Array, first: NDArray[np.intp], second: NDArray[np.intp]) -> NDArray[np.bool_]:
    """Tell which pairs have a candidate as far on again, or as far back, within the first timing's error."""
    out = np.zeros(len(first), dtype=bool)
    apart = times_s[second] - times_s[first]
    for due in (times_s[second] + apart, times_s[first] - apart):
        right = np.clip(np.searchsorted(times_s, due), 1, len(times_s) - 1)
        out |= np.minimum(np.abs(times_s[right] - due), np.abs(times_s[right - 1] - due)) < _ROUGHLY_EVEN_S
    return out


def _chains(links: _Links, times_s: Array) -> list[tuple[NDArray[np.intp], Array]]:
    """Join links of equal length into rows, the longest first.

    Returns each row's candidates, and how far each click lies from its candidate's time.
    """
    after: dict[int, list[int]] = {}
    for k, i in enumerate(links.first.tolist()):
        after.setdefault(i, []).append(k)
    rows_found: list[tuple[int, list[int]]] = []
    used: set[int] = set()
    for k in range(len(links.first)):
        if k in used:
            continue
        row = [k]
        while True:
            beat = float(np.mean(links.apart_s[row]))
            nexts = after.get(int(links.second[row[-1]]), [])
            fit = [n for n in nexts if abs(links.apart_s[n] - beat) < _EVEN_S]
            if not fit:
                break
            row.append(min(fit, key=lambda n: abs(links.apart_s[n] - beat)))
        used.update(row)
        if len(row) + 1 >= _COUNT_IN:
            rows_found.append((len(row) + 1, row))
    rows_found.sort(key=lambda found: (-found[0], found[1][0]))
    out = []
    for _, row in rows_found[:5]:
        chain = np.array([links.first[row[0]], *(links.second[k] for k in row)], dtype=np.intp)
        exact = times_s[chain[0]] + np.concatenate([[0.0], np.cumsum(links.apart_s[row])])
        out.append((chain, exact - times_s[chain]))
    return out


def _judged(heard: HeardClick, strong: Candidates, chain: NDArray[np.intp]) -> HeardClick | None:
    """Judge whether an even row of like sounds is a click and not a hand; and where it ends."""
    near = np.abs(strong.times_s[:, None] - heard.times_s[None, :]).min(axis=1) < 0.03
    played = strong.times_s[~near]
    grid = heard.first_s + np.round((heard.times_s - heard.first_s) / heard.beat_s) * heard.beat_s
    exact = np.abs(heard.times_s - grid) < _EXACT_S
    if len(played) >= 2:
        begun = played[min(2, len(played) - 1)]
        later = exact & (heard.times_s > begun)
        until = max(strong.times_s[-1], heard.times_s[-1])
        beats = max(1, int((until - begun) / heard.beat_s))
        if later.sum() >= 2 and later.sum() / beats >= _THROUGH and exact.sum() >= _LONG_CHAIN:
            return _filled(heard)
    first = _contiguous(heard, strong.times_s[chain[0]])
    if len(first.times_s) < _COUNT_IN + 1:
        return None
    near = np.abs(strong.times_s[:, None] - first.times_s[None, :]).min(axis=1) < 0.03
    inside = (strong.times_s > first.times_s[0] - 0.03) & (strong.times_s < first.times_s[-1] + 0.03)
    others = strong.colour[strong.times_s > first.times_s[-1] + 0.03]
    if (inside & ~near).any() or len(others) == 0:
        return None if len(others) else first
    apart = np.median(strong.colour[chain], axis=0) - np.median(others, axis=0)
    return first if float(np.sqrt((apart**2).mean())) > _OTHER_COLOUR_DB else None


def _is_the_drum(pieces: Floats, times_s: Array, chain: NDArray[np.intp], row_s: Array, rate_hz: int) -> bool:
    """Tell whether blows that are not on a row's grid sound like it too: then it is the drum."""
    beat_s = (row_s[-1] - row_s[0]) / (len(row_s) - 1)
    beats = (times_s - row_s[0]) / beat_s
    off_grid = np.flatnonzero(np.abs(beats - np.round(beats)) * beat_s > 0.006)
    off_grid = off_grid[:: max(1, len(off_grid) // 40)]
    if len(off_grid) < 3:
        return False
    reach, match = int(_REACH_S * rate_hz), int((_CUT_BEFORE_S + _COMPARE_S) * rate_hz)
    view = np.lib.stride_tricks.sliding_window_view(pieces[off_grid, : match + 2 * reach], match, axis=1)
    norms = _norms(pieces[off_grid], match, reach)
    for model in (chain[0], chain[len(chain) // 2]):  # a stroke may lie on one of a click's sounds
        pattern = pieces[model, reach : reach + match]
        alike = ((view @ pattern) / (norms * np.sqrt(pattern @ pattern) + 1e-9)).max(axis=1)
        if float((alike > _LIKE_THE_DRUM).mean()) < 0.12:
            return False
    return True


def _norms(pieces: Floats, match: int, reach: int) -> Floats:
    """Return the size of every piece of each row, shape (n_rows, 2 * reach + 1)."""
    square = np.cumsum(
        np.pad(pieces[:, : match + 2 * reach].astype(np.float64) ** 2, ((0, 0), (1, 0))), axis=1
    )
    return np.sqrt(np.maximum(square[:, match:] - square[:, :-match], 0)).astype(np.float32) + np.float32(
        1e-9
    )


def _filled(heard: HeardClick) -> HeardClick:
    """Put a click at every beat between the first and the last, found under a stroke or not."""
    index = np.round((heard.times_s - heard.first_s) / heard.beat_s).astype(np.intp)
    every = np.arange(index[0], index[-1] + 1)
    known = np.searchsorted(index, every)
    found = index[np.minimum(known, len(index) - 1)] == every
    gain = np.full(len(every), float(np.median(heard.gains)))
    kind = np.full(len(every), int(np.bincount(heard.kinds).argmax()), dtype=np.intp)
    gain[found], kind[found] = heard.gains, heard.kinds
    bar = _bar(index, heard.kinds)
    if bar is not None:
        kind = np.where((every - bar[0]) % bar[1] == 0, bar[2], 1 - bar[2]).astype(np.intp)
    return replace(heard, times_s=heard.first_s + every * heard.beat_s, gains=gain, kinds=kind, through=True)


def _bar(index: NDArray[np.intp], kinds: NDArray[np.intp]) -> tuple[int, int, int] | None:
    """Find the bar in the order of the two kinds: a beat that is accented, beats a bar, the accent's kind."""
    if kinds.min() == kinds.max():
        return None
    rare = int(np.bincount(kinds, minlength=2).argmin())
    best = None
    for beats in range(2, 13):
        for start in range(beats):
            fits = float(((index % beats == start) == (kinds == rare)).mean())
            if best is None or fits > best[0] + 1e-9:
                best = (fits, start, beats)
    return (best[1], best[2], rare) if best is not None and best[0] > 0.9 else None


def _contiguous(heard: HeardClick, at_s: float) -> HeardClick:
    """Return the unbroken run of clicks around a time."""
    index = np.round((heard.times_s - heard.first_s) / heard.beat_s).astype(np.intp)
    run = np.cumsum(np.append(0, np.diff(index) > 1))
    keep = run == run[np.abs(heard.times_s - at_s).argmin()]
    return replace(heard, times_s=heard.times_s[keep], gains=heard.gains[keep], kinds=heard.kinds[keep])


class _Cutter:
    """Cuts highpassed pieces of the take around given times."""

    def __init__(self, samples: Samples, rate_hz: int) -> None:
        self.samples, self.rate_hz = samples, rate_hz
        self.lead = int(0.006 * rate_hz)

    def at(self, times_s: Array, seconds: float) -> tuple[Floats, NDArray[np.intp]]:
        """Return highpassed rows that begin at the sample nearest each time, and those samples."""
        first = np.round(np.asarray(times_s) * self.rate_hz).astype(np.intp)
        length = int(seconds * self.rate_hz) + self.lead
        cut = rows(self.samples, first - self.lead, length)
        spectrum = np.fft.rfft(cut, axis=1) * highpass_response(length, self.rate_hz, _LOWCUT_HZ)
        return np.fft.irfft(spectrum, n=length, axis=1)[:, self.lead :].astype(np.float32), first


def _parabola(value: NDArray[np.floating], best: NDArray[np.intp]) -> Array:
    """Return where between samples each row's peak lies."""
    inner = np.clip(best, 1, value.shape[1] - 2)
    at = np.arange(len(value))
    left, mid, right = value[at, inner - 1], value[at, inner], value[at, inner + 1]
    bend = left - 2 * mid + right
    part = np.where(bend < 0, 0.5 * (left - right) / np.minimum(bend, -1e-9), 0.0)
    return np.where(inner == best, np.clip(part, -0.5, 0.5), 0.0)


def _shifted(row: Floats, start: float, length: int) -> Floats:
    """Return a row read from a place between samples on."""
    spectrum = np.fft.rfft(row)
    freq = np.arange(len(spectrum)) / len(row)
    moved = np.fft.irfft(spectrum * np.exp(2j * np.pi * freq * start), n=len(row))
    return moved[:length].astype(np.float32)


def _follow_click(cut: _Cutter, run_s: Array, steps: NDArray[np.intp]) -> HeardClick | None:
    """Learn the click's sound from an even row of it, and find it over the whole take.

    A click that sounds different on the first beat of a bar is learnt as a second kind
    from the beats where the first kind does not fit.
    """
    sounds = _mean_sound(cut, run_s)[None, :]
    slope, base = np.polyfit(steps, run_s, 1)
    total_s = len(cut.samples) / cut.rate_hz
    index = np.arange(int(np.ceil((0.003 - base) / slope)), int((total_s - _CUT_S - base) / slope) + 1)
    order = index[np.argsort(np.abs(index - steps[-1] / 2), kind="stable")]
    for turn in range(2):
        seen, slope, base = _seek(cut, order, slope, base, sounds)
        if len(seen) < 3:
            return None
        if turn == 0:
            other = _second_kind(cut, order, seen, slope, base, sounds)
            if other is None:
                break
            sounds = np.vstack([sounds, other])
    keep = sorted(seen)
    begins = _begins_s(sounds[0], cut.rate_hz)
    base += begins
    return HeardClick(
        times_s=np.array([seen[k][0] for k in keep]) + begins,
        gains=np.array([seen[k][1] for k in keep]),
        kinds=np.array([seen[k][2] for k in keep], dtype=np.intp),
        sounds=np.array([_as_recorded(sound, cut.rate_hz) for sound in sounds]),
        begins_s=begins,
        first_s=float(base),
        beat_s=float(slope),
        level_db=10 * np.log10(float((sounds[0][: int(0.012 * cut.rate_hz)] ** 2).mean()) + 1e-14),
    )


def _begins_s(sound: Floats, rate_hz: int) -> float:
    """Return when a click's mean sound crosses 1 % of its peak (or 4 times its floor), from its mark."""
    loud = np.abs(sound)
    mark = int(_CUT_BEFORE_S * rate_hz)
    floor = 4 * float(loud[: mark // 3].mean()) + 1e-9
    body = int(np.argmax(loud > max(0.1 * float(loud.max()), floor)))
    under = np.flatnonzero(loud[: body + 1] < max(0.01 * float(loud.max()), floor))
    return float((under[-1] + 1 if len(under) else 0) / rate_hz - _CUT_BEFORE_S)


def _as_recorded(sound: Floats, rate_hz: int) -> Floats:
    """Undo the highpass of a mean sound, so that it can be taken out of the take itself."""
    length = 2 * len(sound)
    response = highpass_response(length, rate_hz, _LOWCUT_HZ)
    inverse = np.conj(response) / (np.abs(response) ** 2 + 0.003)
    return np.fft.irfft(np.fft.rfft(sound, length) * inverse, n=length)[: len(sound)].astype(np.float32)


def _mean_sound(cut: _Cutter, times_s: Array) -> Floats:
    """Return the mean of the sounds at given times, each read from between samples."""
    start = times_s - _CUT_BEFORE_S - 0.001
    wide, first = cut.at(start, _CUT_S + 0.002)
    length = int(_CUT_S * cut.rate_hz)
    shift = (times_s - _CUT_BEFORE_S) * cut.rate_hz - first
    aligned = np.array([_shifted(row, by, length) for row, by in zip(wide, shift, strict=True)])
    mean = np.median(aligned, axis=0) if len(aligned) >= 4 else aligned.mean(axis=0)
    return np.asarray(mean * _same_each_time(aligned, mean, cut.rate_hz), dtype=np.float32)


def _same_each_time(aligned: Floats, mean: Floats, rate_hz: int) -> Floats:
    """Return how far each moment of a mean sound is the same each time, 0 to 1.

    Where strokes lie on top, the single sounds differ; the weight is Wiener's.
    """
    if len(aligned) < 2:
        return np.ones(len(mean), dtype=np.float32)
    size = max(1, int(0.002 * rate_hz))
    smooth = np.ones(size) / size
    differs = np.convolve(np.median((aligned - mean) ** 2, axis=0), smooth, mode="same") * 2.2 / len(aligned)
    power = np.convolve(mean.astype(np.float64) ** 2, smooth, mode="same") + 1e-16
    return np.clip(1 - differs / power, 0, 1).astype(np.float32)


Seen = dict[int, tuple[float, float, int]]


def _seek(
    cut: _Cutter, order: NDArray[np.intp], slope: float, base: float, sounds: Floats
) -> tuple[Seen, float, float]:
    """Find the click near where it is due, nearest beats first, keeping its line up to date."""
    seen: Seen = {}
    for at in range(0, len(order), 6):
        ks = order[at : at + 6]
        times, gains, kinds, fits = _match(cut, base + slope * ks, sounds)
        for k, t, g, kind, fit in zip(
            ks.tolist(), times.tolist(), gains.tolist(), kinds.tolist(), fits.tolist(), strict=True
        ):
            if 0.5 < g < 1.8 and abs(t - base - slope * k) < 2 * _EVEN_S and fit:
                seen[k] = (t, g, kind)
        if len(seen) >= 3:
            ks_seen = np.array(sorted(seen))
            ts = np.array([seen[k][0] for k in ks_seen])
            line = np.polyfit(ks_seen, ts, 1)
            off = np.abs(ts - np.polyval(line, ks_seen))
            good = off <= max(float(np.median(off)) * 3, 0.02e-3)
            if good.sum() >= 3:
                line = np.polyfit(ks_seen[good], ts[good], 1)
            slope, base = float(line[0]), float(line[1])
    return seen, slope, base


def _second_kind(
    cut: _Cutter, order: NDArray[np.intp], seen: Seen, slope: float, base: float, sounds: Floats
) -> Floats | None:
    """Learn the sound of the beats at which the first kind was not found, if they share one."""
    inside = np.array(
        [k for k in sorted(order.tolist()) if k not in seen and min(seen) - 1 <= k <= max(seen) + 1]
    )
    if len(inside) == 0:
        return None
    times = base + slope * inside
    length = int((_CUT_BEFORE_S + _MATCH_S) * cut.rate_hz)
    pieces, _ = cut.at(times - _CUT_BEFORE_S, _CUT_S)
    body = pieces[:, :length]
    size = np.sqrt((body**2).sum(axis=1))
    typical = float(np.sqrt((sounds[0][:length] ** 2).sum()))
    heard = (size > 0.4 * typical) & (size < 2.5 * typical)
    if not heard.any():
        return None
    alike = (body @ body.T) / (size[:, None] * size[None, :] + 1e-12)
    model = int(np.where(heard, (alike > 0.6).sum(axis=1) + alike.mean(axis=1), -1).argmax())
    same = (alike[model] > 0.6) & heard
    if same.sum() < 2:  # one beat alone is believed only as the first of the count-in
        same = (inside == min(seen) - 1) & heard
        if not same.any():
            return None
    return _mean_sound(cut, times[same])[None, :]


def _match(
    cut: _Cutter, times_s: Array, sounds: Floats
) -> tuple[Array, Array, NDArray[np.intp], NDArray[np.bool_]]:
    """Look for the click's sounds near given times: where, how loud, which, and whether it fits.

    The gain is the least-squares one; it fits where taking the click out leaves less
    than there was.
    """
    reach = max(2, int(0.0006 * cut.rate_hz))
    match = int((_CUT_BEFORE_S + _MATCH_S) * cut.rate_hz)
    start = times_s - _CUT_BEFORE_S - reach / cut.rate_hz
    wide, first = cut.at(start, (match + 2 * reach + 2) / cut.rate_hz)
    view = np.lib.stride_tricks.sliding_window_view(wide[:, : match + 2 * reach], match, axis=1)
    at = np.arange(len(times_s))
    places, gains, left = [], [], []
    for sound in sounds:
        pattern = sound[:match]
        gain = view @ pattern / (pattern @ pattern)
        best = gain.argmax(axis=1)
        part = view[at, best]
        gained = gain[at, best]
        places.append((first + best + _parabola(gain, best)) / cut.rate_hz + _CUT_BEFORE_S)
        gains.append(gained)
        left.append(((part - gained[:, None] * pattern) ** 2).sum(axis=1) / ((part**2).sum(axis=1) + 1e-12))
    kind = np.argmin(left, axis=0)
    fits = np.array(left)[kind, at] < 0.97
    return np.array(places)[kind, at], np.array(gains, dtype=np.float64)[kind, at], kind.astype(np.intp), fits


def without_click(samples: Samples, rate_hz: int, click: HeardClick) -> Samples:
    """Return the take with the click's sound taken out wherever it was heard.

    A take on disk is cleaned piece by piece as it is read.
    """
    lazy = WithoutClick(samples, rate_hz, click)
    return lazy[0 : len(samples)] if isinstance(samples, np.ndarray) else lazy


class WithoutClick:
    """Samples that have the click taken out as they are read."""

    def __init__(self, samples: Samples, rate_hz: int, click: HeardClick) -> None:
        self._samples, self._click = samples, click
        self._places = (click.times_s - click.begins_s - _CUT_BEFORE_S) * rate_hz
        length = click.sounds.shape[1]
        fade = np.ones(length, dtype=np.float32)
        fade[-(length // 4) :] = np.linspace(1, 0, length // 4)
        self._sounds = np.pad(click.sounds * fade, ((0, 0), (2, 2)))

    def __len__(self) -> int:
        return len(self._samples)

    def __getitem__(self, key: slice, /) -> Floats:
        start, stop, _ = key.indices(len(self))
        out = np.array(self._samples[start:stop], dtype=np.float32)
        length = self._click.sounds.shape[1]
        near = np.flatnonzero((self._places > start - length - 1) & (self._places < stop + 1))
        for i in near.tolist():
            first = int(np.floor(self._places[i]))
            sound = _shifted(self._sounds[self._click.kinds[i]], 2 - (self._places[i] - first), length)
            a, b = max(first, start), min(first + length, stop)
            if a < b:
                out[a - start : b - start] -= sound[a - first : b - first] * np.float32(self._click.gains[i])
        return out
