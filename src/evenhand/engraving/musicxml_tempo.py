"""The tempo that a MusicXML part begins with: its first metronome mark, or what it is to be played at."""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import suppress
from fractions import Fraction
from xml.etree import ElementTree as ET

from evenhand.domain.tempo import Tempo
from evenhand.engraving.musicxml_tree import number_of, text_of
from evenhand.engraving.musicxml_voices import LENGTHS
from evenhand.errors import BadTempo


def tempo_of(measures: Iterable[ET.Element]) -> Tempo | None:
    """Return the first tempo, if one is written that can be."""
    played: Tempo | None = None
    for measure in measures:
        for mark in measure.iterfind("direction/direction-type/metronome"):
            tempo = _marked(mark)
            if tempo:
                return tempo
        for sound in (*measure.iterfind("direction/sound"), *measure.iterfind("sound")):
            played = played or _tempo(Fraction(1, 4), sound.get("tempo"))
    return played


def _marked(mark: ET.Element) -> Tempo | None:
    units = mark.findall("beat-unit")
    if len(units) != 1 or text_of(mark, "beat-unit") not in LENGTHS:
        return None
    dots = min(len(mark.findall("beat-unit-dot")), 4)
    beat = LENGTHS[text_of(mark, "beat-unit")] * (2 - Fraction(1, 2**dots))
    return _tempo(beat, mark.findtext("per-minute"))


def _tempo(beat: Fraction, text: str | None) -> Tempo | None:
    bpm = number_of(text)
    if bpm:
        with suppress(BadTempo):
            return Tempo(beat, float(bpm))
    return None
