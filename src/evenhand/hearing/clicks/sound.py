"""The sound of a click: cut out, averaged, laid against the take, and taken out of it.

Conventions: times in seconds from the first sample; a click's mark is the moment its pieces are aligned at,
``CUT_BEFORE_S`` after a piece begins; ``samples`` shape (n,), full scale 1.0; sounds are highpassed at
400 Hz, where a drum's body is out of the way. A take on disk is cleaned piece by piece as it is read.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from evenhand.arrays import Bools, Floats, Indices, Singles, medians
from evenhand.hearing.onsets.bands import highpass_response, peak_between, quick_length, rows
from evenhand.take import Samples

CUT_BEFORE_S, CUT_S = 0.002, 0.060
_CUT_AT_ONCE = 64  # rows: bounds memory
_CALM = 0.05  # keeps the undoing of the highpass from raising hum
MATCH_S = 0.012
SAME_KIND = 0.6  # normalised correlation of two sounds of one kind of click
_LOWCUT_HZ = 400.0
_START_SHARE = 0.01  # of the peak: where a sound starts
_MANY = 10  # pieces
_USUAL, _FEWEST_ALONE = 5, 1  # sounds
_FAR_MORE = 5.0  # times the energy
_SETTLES_S = 0.006  # the filter does, before a piece begins

Line = tuple[float, float]  # slope, base
Seen = tuple[float, float, int]  # mark, gain, kind


@dataclass(frozen=True, slots=True)
class HeardClick:
    """A click that was heard.

    ``times_s`` (n_clicks,); ``kinds`` (n_clicks,) which of its sounds; ``sounds`` the mean
    sound of each kind as recorded, shape (n_kinds, length), each from ``CUT_BEFORE_S``
    before its mark, which lies ``begins_s`` before the click's time; the beat as a line:
    click k of the grid at ``first_s + k * beat_s``. ``through`` says that it sounds
    through the playing, and not before it only.
    """

    times_s: Floats
    gains: Floats
    kinds: Indices
    sounds: Singles
    begins_s: float
    first_s: float
    beat_s: float
    level_db: float
    through: bool = False

    @property
    def beats(self) -> Indices:
        """The number of each click on its grid, rising.

        Returns
        -------
        shape (n_clicks,)
        """
        return np.round((self.times_s - self.first_s) / self.beat_s).astype(np.intp)


class Cutter:
    """Cuts highpassed pieces of the take around given times."""

    def __init__(self, samples: Samples, rate_hz: int) -> None:
        self.samples, self.rate_hz = samples, rate_hz
        self.lead = int(_SETTLES_S * rate_hz)

    def at(self, times_s: Floats, seconds: float) -> tuple[Singles, Indices]:
        """Return highpassed rows that begin at the sample nearest each time, and those samples.

        Parameters
        ----------
        times_s : shape (n,), seconds

        Returns
        -------
        shape (n, n_samples), full scale 1.0; shape (n,)
        """
        first = np.round(np.asarray(times_s) * self.rate_hz).astype(np.intp)
        length = int(seconds * self.rate_hz) + self.lead
        out = np.empty((len(first), length - self.lead), dtype=np.float32)
        for at in range(0, len(first), _CUT_AT_ONCE):
            some = slice(at, at + _CUT_AT_ONCE)
            out[some] = self._cut(first[some] - self.lead, length)
        return out, first

    def _cut(self, first: Indices, length: int) -> Singles:
        """Return highpassed rows without their lead, shape (n, length - lead)."""
        size = quick_length(length)
        cut = np.zeros((len(first), size), dtype=np.float32)  # a transform that fills up itself is slow
        cut[:, :length] = rows(self.samples, first, length)
        response = np.float32(size) * highpass_response(size, self.rate_hz, _LOWCUT_HZ)
        spectrum = np.fft.rfft(cut, axis=1, norm="forward")
        spectrum *= response
        return np.asarray(np.fft.irfft(spectrum, n=size, axis=1)[:, self.lead : length], dtype=np.float32)


def products(pieces: Singles, pattern: Singles) -> Singles:
    """Return the product of a pattern with every stretch of each piece, shape (n_pieces, n_places).

    Many pieces go place by place: a matrix product reads plain rows quicker than a sliding view.

    Parameters
    ----------
    pieces : shape (n_pieces, length)
    pattern : shape (n_pattern,), shorter

    Returns
    -------
    shape (n_pieces, length - n_pattern + 1)
    """
    if len(pieces) < _MANY:
        return np.asarray(np.lib.stride_tricks.sliding_window_view(pieces, len(pattern), axis=1) @ pattern)
    places = range(pieces.shape[1] - len(pattern) + 1)
    return np.stack([pieces[:, k : k + len(pattern)] @ pattern for k in places], axis=1)


def shifted(pieces: Singles, start: Floats, length: int) -> Singles:
    """Return rows read from places between samples on.

    Parameters
    ----------
    pieces : shape (n_rows, n), samples
    start : shape (n_rows,), where reading begins, in samples

    Returns
    -------
    shape (n_rows, length)
    """
    size = quick_length(pieces.shape[1])
    filled = np.zeros((len(pieces), size), dtype=np.float32)
    filled[:, : pieces.shape[1]] = pieces
    spectra = np.fft.rfft(filled, axis=1, norm="forward")
    turned = np.exp(2j * np.pi / size * start[:, None] * np.arange(spectra.shape[1])) * size
    return np.fft.irfft(spectra * turned.astype(np.complex64), size, axis=1)[:, :length].astype(np.float32)


def pieces_at(cut: Cutter, marks_s: Floats, seconds: float = CUT_S) -> Singles:
    """Return the highpassed sound about each mark, read from between samples.

    Parameters
    ----------
    marks_s : shape (n_marks,), seconds
    seconds : how long each is

    Returns
    -------
    shape (n_marks, length)
    """
    wide, first = cut.at(marks_s - CUT_BEFORE_S - 0.001, seconds + 0.002)
    starts = (marks_s - CUT_BEFORE_S) * cut.rate_hz - first
    return shifted(wide, starts, int(seconds * cut.rate_hz))


def body_at(samples: Samples, rate_hz: int, marks_s: Floats) -> Singles:
    """Return the body of the sound about each mark as it was recorded, read from between samples.

    Parameters
    ----------
    samples : shape (n,), full scale 1.0
    marks_s : shape (n_marks,), seconds

    Returns
    -------
    shape (n_marks, length), from ``CUT_BEFORE_S`` before each mark to ``MATCH_S`` after, faded out
    """
    begins = (marks_s - CUT_BEFORE_S) * rate_hz
    first, length = np.floor(begins).astype(np.intp), int((CUT_BEFORE_S + MATCH_S) * rate_hz)
    return shifted(rows(samples, first - 1, length + 3), begins - first + 1, length) * _fade_out(length)


def _fade_out(length: int) -> Singles:
    """Return gains that fall to nothing over the last quarter, shape (length,)."""
    fade = np.ones(length, dtype=np.float32)
    fade[-(length // 4) :] = np.linspace(1, 0, length // 4)
    return fade


def mean_sound(cut: Cutter, times_s: Floats) -> Singles:
    """Return the mean of the sounds at given times, each read from between samples.

    Parameters
    ----------
    times_s : shape (n_clicks,), marks, seconds

    Returns
    -------
    shape (length,), highpassed, ``CUT_S`` long
    """
    return mean_of(_cleanest(pieces_at(cut, times_s), cut), cut.rate_hz)


def mean_of(aligned: Singles, rate_hz: int) -> Singles:
    """Return the mean of some sounds, less where they differ.

    Parameters
    ----------
    aligned : shape (n, length)

    Returns
    -------
    shape (length,)
    """
    mean = medians(aligned) if len(aligned) >= 4 else aligned.mean(axis=0)
    return np.asarray(mean * _same_each_time(aligned, mean, rate_hz), dtype=np.float32)


def _cleanest(aligned: Singles, cut: Cutter) -> Singles:
    """Return the third of the sounds (five at least) whose tail holds least: no stroke lies on those.

    Where a player meets the click each time, one to four counted in are all that sound alone: where
    their tails hold far less than the next, they are enough.
    """
    tail = (aligned[:, int((CUT_BEFORE_S + MATCH_S) * cut.rate_hz) :] ** 2).sum(axis=1)
    best = np.argsort(tail, kind="stable")[: max(_USUAL, len(aligned) // 3)]
    if len(aligned) > _USUAL:
        few = tail[best[:_USUAL]]
        more = few[_FEWEST_ALONE:] / (few[_FEWEST_ALONE - 1 : -1] + 1e-14)
        if more.max() > _FAR_MORE:
            best = best[: _FEWEST_ALONE + int(more.argmax())]
    return aligned[np.sort(best)]


def _same_each_time(aligned: Singles, mean: Singles, rate_hz: int) -> Singles:
    """Return how far each moment of a mean sound is the same each time, 0 to 1.

    Where strokes lie on top, the single sounds differ; the weight is Wiener's.
    """
    if len(aligned) < 2:
        return np.ones(len(mean), dtype=np.float32)
    size = max(1, int(0.002 * rate_hz))
    smooth = np.ones(size) / size
    differs = np.convolve(medians((aligned - mean) ** 2), smooth, mode="same") * 2.2 / len(aligned)
    power = np.convolve(mean.astype(np.float64) ** 2, smooth, mode="same") + 1e-16
    return np.clip(1 - differs / power, 0, 1).astype(np.float32)


def begins_s(sound: Singles, rate_hz: int) -> float:
    """Return when a click's mean sound crosses 1 % of its peak (or 4 times its floor), from its mark.

    Parameters
    ----------
    sound : shape (length,), highpassed, from ``CUT_BEFORE_S`` before its mark
    """
    loud = np.abs(sound)
    mark = int(CUT_BEFORE_S * rate_hz)
    floor = 4 * float(loud[: mark // 3].mean()) + 1e-9
    body = int(np.argmax(loud > max(0.1 * float(loud.max()), floor)))
    under = np.flatnonzero(loud[: body + 1] < max(_START_SHARE * float(loud.max()), floor))
    return float((under[-1] + 1 if len(under) else 0) / rate_hz - CUT_BEFORE_S)


def highpassed(sounds: Singles, rate_hz: int) -> Singles:
    """Return sounds, shape (n_kinds, length), as a cutter has them; the other way of ``as_recorded``."""
    size = 2 * sounds.shape[1]
    spectra = np.fft.rfft(sounds, size, axis=1) * highpass_response(size, rate_hz, _LOWCUT_HZ)
    return np.fft.irfft(spectra, size, axis=1)[:, : sounds.shape[1]].astype(np.float32)


def as_recorded(sound: Singles, rate_hz: int) -> Singles:
    """Undo the highpass of a mean sound, so that it can be taken out of the take itself.

    Parameters
    ----------
    sound : shape (length,), highpassed

    Returns
    -------
    shape (length,), without the highpass
    """
    length = 2 * len(sound)
    response = highpass_response(length, rate_hz, _LOWCUT_HZ)
    inverse = (1 + _CALM) * np.conj(response) / (np.abs(response) ** 2 + _CALM)
    return np.fft.irfft(np.fft.rfft(sound, length) * inverse, n=length)[: len(sound)].astype(np.float32)


def match(cut: Cutter, times_s: Floats, sounds: Singles) -> tuple[Floats, Floats, Indices, Bools]:
    """Look for the click's sounds near given times: where, how loud, which, and whether it fits.

    The gain is the least-squares one; it fits where taking the click out leaves less
    than there was.

    Parameters
    ----------
    times_s : shape (n_clicks,), marks due, seconds
    sounds : shape (n_kinds, length), highpassed

    Returns
    -------
    marks (s), gains, kinds, and whether it fits; each shape (n_clicks,)
    """
    reach = max(2, int(0.0006 * cut.rate_hz))
    length = int((CUT_BEFORE_S + MATCH_S) * cut.rate_hz)
    start = times_s - CUT_BEFORE_S - reach / cut.rate_hz
    wide, first = cut.at(start, (length + 2 * reach + 2) / cut.rate_hz)
    wide = wide[:, : length + 2 * reach]
    view = np.lib.stride_tricks.sliding_window_view(wide, length, axis=1)
    at = np.arange(len(times_s))
    places, gains, left = [], [], []
    for sound in sounds:
        pattern = sound[:length]
        gain = products(wide, pattern) / (pattern @ pattern + 1e-12)
        best = gain.argmax(axis=1)
        part = view[at, best]
        gained = gain[at, best]
        places.append((first + best + peak_between(gain, best)) / cut.rate_hz + CUT_BEFORE_S)
        gains.append(gained)
        left.append(((part - gained[:, None] * pattern) ** 2).sum(axis=1) / ((part**2).sum(axis=1) + 1e-12))
    kind = np.argmin(left, axis=0)
    fits = np.array(left)[kind, at] < 0.97
    return np.array(places)[kind, at], np.array(gains, dtype=np.float64)[kind, at], kind.astype(np.intp), fits


def likeness(pieces: Singles) -> Singles:
    """Return the normalised correlation of every two pieces, shape (n_pieces, n_pieces).

    Parameters
    ----------
    pieces : shape (n_pieces, length)

    Returns
    -------
    shape (n_pieces, n_pieces), -1 to 1
    """
    size = np.sqrt((pieces**2).sum(axis=1))
    return np.asarray((pieces @ pieces.T) / (size[:, None] * size[None, :] + 1e-12))


def heard_click(seen: Iterable[Seen], line: Line, sounds: Singles, rate_hz: int) -> HeardClick:
    """Put together what was seen of a click; its times are where it begins to sound.

    Parameters
    ----------
    seen : mark (s), gain and kind of each click, in order of time
    line : seconds from beat to beat, and the mark of the first
    sounds : shape (n_kinds, length), highpassed mean sounds
    """
    marks_s, gains, kinds = zip(*seen, strict=True)
    begins = begins_s(sounds[0], rate_hz)
    level = float((sounds[0][: int(MATCH_S * rate_hz)] ** 2).mean())
    return HeardClick(
        times_s=np.array(marks_s) + begins,
        gains=np.array(gains),
        kinds=np.array(kinds, dtype=np.intp),
        sounds=np.array([as_recorded(sound, rate_hz) for sound in sounds]),
        begins_s=begins,
        first_s=line[1] + begins,
        beat_s=line[0],
        level_db=10 * np.log10(level + 1e-14),
    )


def without_click(samples: Samples, rate_hz: int, click: HeardClick) -> Samples:
    """Return the take with the click's sound taken out wherever it was heard.

    Parameters
    ----------
    samples : shape (n,), full scale 1.0

    Returns
    -------
    the same shape: an array of an array, else what is cleaned as it is read
    """
    lazy = WithoutClick(samples, rate_hz, click)
    return lazy[0 : len(samples)] if isinstance(samples, np.ndarray) else lazy


class WithoutClick:
    """Samples that have the click taken out as they are read."""

    def __init__(self, samples: Samples, rate_hz: int, click: HeardClick) -> None:
        self._samples, self._click = samples, click
        self._places = (click.times_s - click.begins_s - CUT_BEFORE_S) * rate_hz
        fade = _fade_out(click.sounds.shape[1])
        before = int(CUT_BEFORE_S * rate_hz)  # what low tones of strokes leave there must begin nowhere
        fade[:before] = np.sin(np.linspace(0, np.pi / 2, before)) ** 2
        self._sounds = np.pad(click.sounds * fade, ((0, 0), (2, 2)))

    def __len__(self) -> int:
        return len(self._samples)

    def __getitem__(self, key: slice, /) -> Singles:
        start, stop, _ = key.indices(len(self))
        out = np.array(self._samples[start:stop], dtype=np.float32)
        length = self._click.sounds.shape[1]
        near = np.flatnonzero((self._places > start - length - 1) & (self._places < stop + 1))
        firsts = np.floor(self._places[near]).astype(np.intp)
        sounds = shifted(self._sounds[self._click.kinds[near]], 2 - (self._places[near] - firsts), length)
        sounds *= self._click.gains[near, None].astype(np.float32)
        for first, sound in zip(firsts.tolist(), sounds, strict=True):
            a, b = max(first, start), min(first + length, stop)
            if a < b:
                out[a - start : b - start] -= sound[a - first : b - first]
        return out
