"""The MusicXML of an exercise: each thing said the way MusicXML 4.0 says it.

What is expected comes from the MusicXML 4.0 reference, or is worked out by hand beside the check.
"""

from __future__ import annotations

from xml.etree import ElementTree as ET

import pytest

from evenhand.music.exercise import Tempo
from evenhand.music.formats.musicxml.write import to_musicxml
from evenhand.music.text import parse_exercise


def score_of(text: str, **options: object) -> ET.Element:
    return ET.fromstring(to_musicxml(parse_exercise(text), **options).encode())  # type: ignore[arg-type]


def texts(score: ET.Element, path: str) -> list[str]:
    return [each.text or "" for each in score.iterfind(path)]


def test_one_unpitched_part_on_one_line() -> None:
    score = score_of("1/8: RL")
    assert score.get("version") == "4.0"
    assert len(score.findall("part")) == 1
    assert texts(score, ".//clef/sign") == ["percussion"]
    assert texts(score, ".//staff-details/staff-lines") == ["1"]
    assert len(score.findall(".//note/unpitched")) == 2


def test_the_snare_is_general_midis_38_counted_from_one() -> None:
    """MusicXML: midi-unpitched is the MIDI note and 1; General MIDI's acoustic snare is 38."""
    score = score_of("1/8: RL")
    assert texts(score, ".//midi-instrument/midi-unpitched") == ["39"]
    assert texts(score, ".//midi-instrument/midi-channel") == ["10"]


def test_hands_are_lyrics_and_graces_have_small_ones() -> None:
    score = score_of("1/8: lR L- rrL")
    assert texts(score, ".//note/lyric[@number='1']/text") == ["l", "R", "L", "r", "r", "L"]
    assert [note.find("grace") is not None for note in score.iterfind(".//note[lyric]")] == [
        True, False, False, True, True, False,
    ]  # fmt: skip
    assert {grace.get("slash") for grace in score.iterfind(".//grace")} == {"yes"}
    assert not score.findall(".//note[grace]/duration")


def test_stroke_letters_are_a_second_line() -> None:
    score = score_of("1/8: RL", strokes={0: "D", 1: "U"})
    assert texts(score, ".//lyric[@number='2']/text") == ["D", "U"]


def test_accent_and_buzz() -> None:
    score = score_of("1/8: >R L~")
    first, second = score.findall(".//note")
    assert first.find("notations/articulations/accent") is not None
    tremolo = second.find("notations/ornaments/tremolo")
    assert tremolo is not None
    assert (tremolo.get("type"), tremolo.text) == ("unmeasured", "0")  # of an unmeasured tremolo: always 0


def test_loudness_steps_from_grace_to_accent() -> None:
    grace, note, accent = (float(note.get("dynamics", "")) for note in score_of("1/8: lR >L").iter("note"))
    assert grace < note < accent <= 127 / 90 * 100


@pytest.mark.parametrize(
    ("text", "kinds", "dots", "durations"),
    [
        ("1/4: R 1/8: RL 1/16: RLRL", ["quarter", *["eighth"] * 2, *["16th"] * 4], 0, [4, 2, 2, 1, 1, 1, 1]),
        ("3/16: R 1/16: L", ["eighth", "16th"], 1, [3, 1]),
        ("7/16: R 1/16: L", ["quarter", "16th"], 2, [7, 1]),
        ("1/12: RLR", ["eighth"] * 3, 0, [1, 1, 1]),
        ("2/1: R", ["breve"], 0, [8]),
    ],
)
def test_lengths(text: str, kinds: list[str], dots: int, durations: list[int]) -> None:
    score = score_of(text)
    assert texts(score, ".//note/type") == kinds
    assert len(score.findall(".//note/dot")) == dots
    assert [int(each) for each in texts(score, ".//note/duration")] == durations


def test_a_triplet_is_three_in_the_time_of_two_between_its_marks() -> None:
    score = score_of("1/12: RLR 1/4: L")
    assert texts(score, ".//time-modification/actual-notes") == ["3"] * 3
    assert texts(score, ".//time-modification/normal-notes") == ["2"] * 3
    marks = [[mark.get("type") for mark in note.iterfind("notations/tuplet")] for note in score.iter("note")]
    assert marks == [["start"], [], ["stop"], []]


@pytest.mark.parametrize(
    ("text", "beams"),
    [
        ("1/8: RL", [["begin"], ["end"]]),
        ("3/16: R 1/16: L", [["begin"], ["end", "backward hook"]]),
        ("1/16: R 3/16: L", [["begin", "forward hook"], ["end"]]),
        ("1/8: R 1/16: LR", [["begin"], ["continue", "begin"], ["end", "end"]]),
        ("1/4: RL", [[], []]),
        ("1/16: R-L-", [["begin", "forward hook"], [], ["end", "backward hook"], []]),
    ],
)
def test_beams(text: str, beams: list[list[str]]) -> None:
    assert [texts(note, "beam") for note in score_of(text).iter("note")] == beams


def test_a_note_that_a_bar_line_cuts_is_tied_over_it() -> None:
    """4/4: seven eighths, then a quarter that half of lies in the next bar."""
    score = score_of("4/4 1/8: RLRLRLR 1/4: L 1/8: R")
    measures = score.findall(".//measure")
    assert [len(measure.findall("note")) for measure in measures] == [8, 2]
    before, after = measures[0].findall("note")[-1], measures[1].findall("note")[0]
    assert [tie.get("type") for tie in (*before.iter("tie"), *after.iter("tie"))] == ["start", "stop"]
    assert before.find("lyric") is not None
    assert after.find("lyric") is None
    assert measures[1].get("implicit") == "yes"  # shorter than its time says
    assert measures[0].get("implicit") is None


def test_a_length_that_no_note_has_is_tied() -> None:
    first, second = score_of("5/16: >R").findall(".//note")
    assert [first.findtext("type"), second.findtext("type")] == ["quarter", "16th"]
    assert [tie.get("type") for tie in (*first.iter("tied"), *second.iter("tied"))] == ["start", "stop"]
    assert second.find("notations/articulations") is None


def test_without_a_meter_the_time_is_there_but_not_shown() -> None:
    hidden = score_of("1/8: RLRRL").find(".//time")
    shown = score_of("5/8 1/8: RLRRL").find(".//time")
    assert hidden is not None
    assert shown is not None
    assert (hidden.findtext("beats"), hidden.findtext("beat-type")) == ("5", "8")
    assert (hidden.get("print-object"), shown.get("print-object")) == ("no", None)
    assert score_of("1/12: RLRRL").find(".//time/senza-misura") is not None  # 5/12: no signature says that


def test_bars_without_a_meter_are_the_written_ones_or_whole_notes() -> None:
    def counts(text: str) -> list[int]:
        return [len(measure.findall("note")) for measure in score_of(text).iter("measure")]

    assert counts("1/8: RLR | LRL") == [3, 3]
    assert counts("1/8: RLRRLRLL RLRRLRLL RL") == [8, 8, 2]
    assert counts("3/8: RLRLRLRL") == [8]  # no note begins where the second whole note does


def test_repeats() -> None:
    def signs(repeat: int | None) -> list[tuple[str | None, str | None]]:
        score = score_of("1/8: RL", repeat=repeat)
        return [(sign.get("direction"), sign.get("times")) for sign in score.iter("repeat")]

    assert signs(8) == [("forward", None), ("backward", "8")]
    assert signs(None) == [("forward", None), ("backward", None)]
    assert signs(1) == []
    assert texts(score_of("1/8: RL", repeat=8), ".//words") == ["× 8"]


@pytest.mark.parametrize(
    ("tempo", "unit", "dots", "minute", "quarters"),
    [
        ("1/4=120", "quarter", 0, "120", "120"),
        ("1/8=70", "eighth", 0, "70", "35"),
        ("3/8=60", "quarter", 1, "60", "90"),
        ("1/2=62.5", "half", 0, "62.5", "125"),
    ],
)
def test_tempo(tempo: str, unit: str, dots: int, minute: str, quarters: str) -> None:
    """The mark has the note that gets the beat; for playing, quarters a minute: 60 dotted quarters are 90."""
    score = score_of("1/8: RL", tempo=Tempo.parse(tempo))
    assert texts(score, ".//metronome/beat-unit") == [unit]
    assert len(score.findall(".//metronome/beat-unit-dot")) == dots
    assert texts(score, ".//metronome/per-minute") == [minute]
    assert [sound.get("tempo") for sound in score.iter("sound")] == [quarters]


def test_a_beat_that_no_note_has_is_said_in_words() -> None:
    score = score_of("1/12: RLR", tempo=Tempo.parse("1/12=180"))
    assert texts(score, ".//words") == ["1/12 = 180"]
    assert [sound.get("tempo") for sound in score.iter("sound")] == ["60"]  # a third of a quarter


def test_titles_are_escaped_and_what_xml_cannot_hold_is_left_out() -> None:
    assert texts(score_of("1/8: RL", title="R & <L>\x00\n again"), "movement-title") == ["R & <L> again"]


def test_the_same_exercise_gives_the_same_bytes() -> None:
    exercise = parse_exercise("4/4 1/16: >RLRR lRLRR")
    assert to_musicxml(exercise) == to_musicxml(exercise)
