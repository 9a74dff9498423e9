"""Give a track its loudness and write it: what the click and the play-along share.

Conventions: loudness in LUFS and true peaks in dBTP, as ITU-R BS.1770-4 has them.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path
from typing import Any, Protocol

from evenhand.domain.tempo import Tempo
from evenhand.errors import WrongOptions
from evenhand.sound.course import Change, Course
from evenhand.sound.pulse import Bar, Click
from evenhand.sound.track import Block, Track

LONGEST_S = 2 * 3600
MOST_LEAD_IN_S = 60
LOUDEST_PEAK_DBTP = -1.0  # lossy codecs overshoot a little
TIME_DIGITS = 7

_DECIMAL = re.compile(r"[+-]?\d{1,6}(\.\d{1,6})?", re.ASCII)

Json = dict[str, Any]


class Measured(Protocol):
    """How loud a track is."""

    @property
    def integrated_lufs(self) -> float | None:
        """Integrated loudness, None where there is too little to tell."""
        ...

    @property
    def true_peak_dbtp(self) -> float:
        """The highest peak, between the samples too."""
        ...


class WritesTracks(Protocol):
    """Writes blocks of shape (n, channels) to a file, whole or not at all."""

    def __call__(self, path: Path, blocks: Iterable[Block], rate_hz: int, channels: int, /) -> None:
        """Write a file."""
        ...


MeasuresTracks = Callable[[Track], Measured]


@dataclass(frozen=True, slots=True)
class SoundOut:
    """Where the sound goes, and what writes and measures it."""

    path: Path
    rate_hz: int
    writes: WritesTracks
    measures: MeasuresTracks


@dataclass(frozen=True, slots=True)
class Written:
    """What was written: how long, how loud, and a table of what comes when."""

    seconds: float
    rate_hz: int
    channels: int
    integrated_lufs: float | None
    true_peak_dbtp: float
    timetable: Json


def write_levelled(track: Track, out: SoundOut, timetable: Json, *, level: Level) -> Written:
    """Bring a track to its level and write it. Nothing is compressed: one gain holds for all of it."""
    measured = out.measures(track)
    gain_db = level.gain_db(measured)
    louder = replace(track, gain=10 ** (gain_db / 20))
    out.writes(out.path, louder.blocks(), track.rate_hz, track.channels)
    lufs = None if measured.integrated_lufs is None else measured.integrated_lufs + gain_db
    peak_dbtp = measured.true_peak_dbtp + gain_db
    table = {
        "rate": track.rate_hz,
        "channels": track.channels,
        "seconds": rounded(Fraction(track.frames, track.rate_hz)),
        "loudness_lufs": None if lufs is None else round(lufs, 2),
        "true_peak_dbtp": round(peak_dbtp, 2),
        **timetable,
    }
    return Written(track.seconds, track.rate_hz, track.channels, lufs, peak_dbtp, table)


@dataclass(frozen=True, slots=True)
class Level:
    """How loud: up to a true peak, and where ``lufs`` is given no louder than that either."""

    peak_dbtp: float
    lufs: float | None = None

    def gain_db(self, measured: Measured) -> float:
        """Return the one gain, dB."""
        gain_db = self.peak_dbtp - measured.true_peak_dbtp
        if self.lufs is None or measured.integrated_lufs is None:
            return gain_db
        return min(gain_db, self.lufs - measured.integrated_lufs)


def check_length(course: Course, lead_in_s: Fraction) -> None:
    """Refuse what lasts too long, before any of it is made."""
    seconds = course.seconds + lead_in_s
    if seconds > LONGEST_S:
        got = f"{float(seconds) / 3600:.1f} h of sound"
        raise WrongOptions(got=got, must_be=f"{LONGEST_S // 3600} h at most; fewer bars or repetitions")


def read_change(step: str | None, every: int | None, to: str | None) -> Change:
    """Read how the tempo changes, as it was typed."""
    if every is not None and step is None:
        raise WrongOptions(got="--every without --step", must_be="both, such as --step 5 --every 4")
    return Change(
        step_bpm=None if step is None else decimal(step, "--step"),
        every=every or 1,
        to=None if to is None else Tempo.parse(to),
    )


def decimal(text: str, what: str) -> Fraction:
    """Read a number exactly as it was written.

    >>> decimal("-2.5", "--step")
    Fraction(-5, 2)
    """
    if _DECIMAL.fullmatch(text.strip()) is None:
        raise WrongOptions(got=f"{what} {text!r}", must_be="a number, such as 2.5")
    return Fraction(text.strip())


def read_lead_in(text: str) -> Fraction:
    """Read the seconds of silence before the first click."""
    seconds = decimal(text, "--lead-in")
    if not 0 <= seconds <= MOST_LEAD_IN_S:
        raise WrongOptions(got=f"a lead-in of {text} s", must_be=f"0 to {MOST_LEAD_IN_S} s")
    return seconds


def bars_as_json(bars: Iterable[Bar], course: Course, lead_in_s: Fraction) -> list[Json]:
    """Say when each bar begins, what it is, and at which tempo."""
    return [
        {
            "bar": number,
            "time_s": rounded(lead_in_s + course.time_s(bar.at)),
            "kind": bar.kind,
            "tempo": str(course.tempo(bar.at)),
        }
        for number, bar in enumerate(bars, start=1)
    ]


def clicks_as_json(clicks: Iterable[Click], lead_in_s: Fraction) -> list[Json]:
    """Say when each click comes."""
    return [{"time_s": rounded(lead_in_s + click.time_s), "kind": click.kind} for click in clicks]


def rounded(time_s: Fraction) -> float:
    """Return seconds as they are written."""
    return round(float(time_s), TIME_DIGITS)
