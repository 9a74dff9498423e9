"""The MEI of an exercise: well formed, and each thing said the way MEI says it."""

from __future__ import annotations

from xml.etree import ElementTree as ET

from evenhand.music.engraving.mei import to_mei
from evenhand.music.text import parse_exercise

NS = {"m": "http://www.music-encoding.org/ns/mei"}
ID = "{http://www.w3.org/XML/1998/namespace}id"


def mei_of(text: str, cuts: tuple[int, ...] = ()) -> ET.Element:
    return ET.fromstring(to_mei(parse_exercise(text), cuts=cuts).encode())


def test_one_line_percussion_staff_with_its_meter() -> None:
    mei = mei_of("6/8 1/8: RLR LRL")
    staff = mei.find(".//m:staffDef", NS)
    score = mei.find(".//m:scoreDef", NS)
    assert staff is not None
    assert score is not None
    assert (staff.get("lines"), staff.get("clef.shape")) == ("1", "perc")
    assert (score.get("meter.count"), score.get("meter.unit")) == ("6", "8")


def test_without_a_meter_none_is_written() -> None:
    score = mei_of("1/8: RL").find(".//m:scoreDef", NS)
    assert score is not None
    assert score.get("meter.count") is None


def test_letters_are_syllables_of_one_verse() -> None:
    letters = [syl.text for syl in mei_of("1/8: RLRR L-LL").iterfind(".//m:verse[@n='1']/m:syl", NS)]
    assert letters == list("RLRRLLL")


def test_every_note_rest_and_grace_is_found_by_its_id() -> None:
    mei = mei_of("1/16: lR - llR 5/16: L")
    ids = [element.get(ID) for element in mei.iter() if element.get(ID)]
    assert ids == ["grace-0-0", "note-0", "note-1", "grace-2-0", "grace-2-1", "note-2", "note-3", "fill-3-1"]


def test_ornaments() -> None:
    mei = mei_of("1/8: >lR llR L~")
    accent = mei.findall(".//m:artic", NS)
    graces = mei.findall(".//m:note[@grace]", NS)
    buzz = mei.findall(".//m:note[@stem.mod='z']", NS)
    assert [(a.get("artic"), a.get("place")) for a in accent] == [("acc", "above")]
    assert [g.get("stem.mod") for g in graces] == ["1slash", None, None]
    assert [g.get("dur") for g in graces] == ["8", "16", "16"]
    assert len(mei.findall(".//m:graceGrp/m:beam", NS)) == 1
    assert [b.get(ID) for b in buzz] == ["note-2"]


def test_graces_stand_before_the_beam_that_their_note_opens() -> None:
    layer = mei_of("1/8: lRLRR").find(".//m:layer", NS)
    assert layer is not None
    assert [child.tag.partition("}")[2] for child in layer] == ["note", "beam"]


def test_stems_point_up_on_one_place() -> None:
    notes = mei_of("1/8: lRLRR").findall(".//m:note", NS)
    assert {(note.get("loc"), note.get("stem.dir")) for note in notes} == {("0", "up")}


def test_tuplets_show_a_bracket_where_no_beam_holds_them() -> None:
    beamed, quarters = (mei_of(text).find(".//m:tuplet", NS) for text in ("1/12: RLR", "1/6: RLR"))
    assert beamed is not None
    assert quarters is not None
    assert (beamed.get("num"), beamed.get("numbase"), beamed.get("bracket.visible")) == ("3", "2", "false")
    assert (quarters.get("num"), quarters.get("numbase"), quarters.get("bracket.visible")) == (
        "3",
        "2",
        "true",
    )


def test_measures_are_bars_with_a_repeat() -> None:
    measures = mei_of("2/4 1/8: RLRR | LRLL | RRLL").findall(".//m:measure", NS)
    assert [measure.get("left") for measure in measures] == ["rptstart", None, None]
    assert [measure.get("right") for measure in measures] == [None, None, "rptend"]
    assert [len(measure.findall(".//m:note", NS)) for measure in measures] == [4, 4, 4]


def test_given_cuts_a_measure_is_a_line() -> None:
    measures = mei_of("2/4 1/8: RLRR | LRLL | RRLL", cuts=(0, 8)).findall(".//m:measure", NS)
    assert [len(measure.findall(".//m:note", NS)) for measure in measures] == [8, 4]
