"""Write a click to play to."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from evenhand.application.sound_out import (
    Level,
    SoundOut,
    Written,
    bars_as_json,
    check_length,
    clicks_as_json,
    write_levelled,
)
from evenhand.domain.tempo import Tempo
from evenhand.sound.click_track import ClickAsked, LaidClick, click_track, lay_click
from evenhand.sound.track import Ear

CLICK_PEAK_DBTP = -6.0


@dataclass(frozen=True, slots=True)
class ClickWanted:
    """A click, and how it is put on a track. Its peak is that of the loudest click."""

    asked: ClickAsked
    lead_in_s: Fraction = Fraction(0)
    ear: Ear = "both"
    peak_dbtp: float = CLICK_PEAK_DBTP


@dataclass(frozen=True, slots=True)
class ClickWritten:
    """What was written, and how the tempo went after the count-in: at its start and at its last beat's."""

    written: Written
    tempos: tuple[Tempo, Tempo]


def write_click(wanted: ClickWanted, out: SoundOut) -> ClickWritten:
    """Lay the click, bring it to its level, write it."""
    laid = lay_click(wanted.asked)
    check_length(laid.course, wanted.lead_in_s)
    track = click_track(laid, out.rate_hz, lead_in_s=wanted.lead_in_s, ear=wanted.ear)
    timetable = {
        "bars": bars_as_json(laid.bars, laid.course, wanted.lead_in_s),
        "clicks": clicks_as_json(laid.clicks, wanted.lead_in_s),
    }
    written = write_levelled(track, out, timetable, level=Level(wanted.peak_dbtp))
    return ClickWritten(written, _tempos(laid, wanted.asked))


def _tempos(laid: LaidClick, asked: ClickAsked) -> tuple[Tempo, Tempo]:
    begin = laid.bars[asked.count_in].at
    return laid.course.tempo(begin), laid.course.tempo(laid.course.length)
