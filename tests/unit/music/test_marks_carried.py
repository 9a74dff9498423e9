"""MusicXML and MIDI carry every mark; music21 reads the scores, and our own files come back as they were."""

from __future__ import annotations

from xml.etree import ElementTree as ET

import music21
import pytest
from hypothesis import given

from evenhand.music.formats.midi.events import read_events
from evenhand.music.formats.midi.read import read_midi_score
from evenhand.music.formats.midi.write import to_midi
from evenhand.music.formats.musicxml.read import read_musicxml
from evenhand.music.formats.musicxml.write import to_musicxml
from evenhand.music.formats.passages import Reading
from evenhand.music.formats.velocities import velocities_of
from evenhand.music.text import parse_exercise
from tests.depth import share
from tests.strategies import signed_texts


def xml_of(text: str) -> ET.Element:
    return ET.fromstring(to_musicxml(parse_exercise(text)))


def test_marks_at_notes() -> None:
    notes = xml_of("1/4: ^R >L (R) B Rx Lo Rk Lk").findall(".//note")
    assert notes[0].find("notations/articulations/strong-accent") is not None
    assert notes[1].find("notations/articulations/accent") is not None
    assert [note.findtext("notehead") for note in notes] == [
        None, None, "normal", None, "x", "circle-x", None, None,
    ]  # fmt: skip
    assert notes[2].find("notehead[@parentheses='yes']") is not None
    assert [note.findtext("lyric/text") for note in notes] == ["R", "L", "R", "B", "R", "L", "R", "L"]
    assert [note.findtext("unpitched/display-step") for note in notes] == ["E"] * 6 + ["D"] * 2


def test_dynamics_and_swells_stand_before_their_notes() -> None:
    root = xml_of("1/4: p cresc RL f dim RL")
    said = [child[0].tag for child in root.iterfind(".//direction/direction-type/*/..")]
    assert said == ["dynamics", "wedge", "wedge", "dynamics", "wedge", "wedge"]
    assert [wedge.get("type") for wedge in root.iter("wedge")] == ["crescendo", "stop", "diminuendo", "stop"]


def test_meters_and_a_pickup() -> None:
    measures = xml_of("3+2+2/8 pickup 1/8: RL | RLRLRLR | 2/4 RLRL").findall(".//measure")
    assert [measure.findtext("attributes/time/beats") for measure in measures] == ["3+2+2", None, "2"]
    assert [measure.get("implicit") for measure in measures] == ["yes", None, None]


def test_a_tie_into_a_struck_note_and_a_held_one() -> None:
    notes = xml_of("1/4: R~ _ R~+ L").findall(".//note")
    ties = [[tie.get("type") for tie in note.iterfind("tie")] for note in notes]
    assert ties == [["start"], ["stop"], ["start"], ["stop"]]
    assert [note.findtext("lyric/text") for note in notes] == ["R", None, "R", "L"]


def test_midi_plays_levels_and_sounds() -> None:
    """By the house's scale: an accent over a note over a ghost; General MIDI's notes for what is struck."""
    exercise = parse_exercise("1/4: ^R >L R (L) Rx Lo Rk Lk p R _")
    loud = velocities_of(exercise)
    assert loud[0] > loud[1] > loud[2] > loud[3]
    assert loud[8] < loud[2]
    events = read_events(to_midi(exercise), Reading("m"))
    assert [note.note for note in events.notes] == [38, 38, 38, 38, 37, 40, 36, 44, 38]
    assert events.notes[-1].off - events.notes[-1].on == 960


@pytest.mark.parametrize("text", ["|: 1/8: RLRR :| [1", "4/4 1/8: RLRR LRLL | 3/4 RLRLRL"])
def test_changing_meters_are_read_by_music21(text: str) -> None:
    if "[1" in text:
        text = "|: 1/8: RL [1 RR :| [2 LL ]"
    score = music21.converter.parseData(to_musicxml(parse_exercise(text)), format="musicxml")
    notes = list(score.recurse().notes)
    assert len(notes) == len(parse_exercise(text).struck)


@share(0.1)
@given(signed_texts())
def test_any_marks_are_written(text: str) -> None:
    exercise = parse_exercise(text)
    root = ET.fromstring(to_musicxml(exercise))
    heads = [note for note in root.iter("note") if note.find("rest") is None and note.find("grace") is None]
    struck = [note for note in heads if note.find("lyric") is not None]
    assert len(struck) == len(exercise.struck)
    events = read_events(to_midi(exercise), Reading("m"))
    assert len(events.notes) == sum(1 + len(exercise.notes[at].graces) for at in exercise.struck)
    if exercise.marks:
        assert read_musicxml(to_musicxml(exercise).encode()).entries[0].exercise == exercise
        assert read_midi_score(to_midi(exercise, repetitions=2)).entries[0].exercise == exercise


def test_a_file_whose_notes_were_changed_says_what_its_notes_say() -> None:
    xml = to_musicxml(parse_exercise("1/4: R (L) R L"))
    changed = xml.replace("<text>L</text>", "<text>R</text>", 1)
    notes = read_musicxml(changed.encode()).entries[0].exercise.notes
    assert [note.hand for note in notes] == ["R", "R", "R", "L"]
    assert [note.ghost for note in notes] == [False, True, False, False]
