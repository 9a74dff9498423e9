"""The MEI of an exercise: well formed, and each thing said the way MEI says it."""

from __future__ import annotations

from functools import cache
from importlib.resources import files
from xml.etree import ElementTree as ET

import pytest
import verovio
from hypothesis import HealthCheck, given
from hypothesis import strategies as st

from evenhand.music.engraving.mei import to_mei
from evenhand.music.engraving.rolls import Rolls
from evenhand.music.engraving.score import score_of
from evenhand.music.exercise import Exercise
from evenhand.music.text import parse_exercise
from tests.depth import share
from tests.strategies import exercises

NS = {"m": "http://www.music-encoding.org/ns/mei"}
ID = "{http://www.w3.org/XML/1998/namespace}id"


def mei_of(text: str) -> ET.Element:
    return ET.fromstring(to_mei(parse_exercise(text)).encode())


@cache
def toolkit() -> verovio.toolkit:
    """Make the reader, with one page for all."""
    made = verovio.toolkit(False)  # noqa: FBT003 - its own name for "without a font path"
    made.setResourcePath(str(files("verovio") / "data"))
    assert made.setOptions({"breaks": "none", "pageWidth": 100_000, "adjustPageHeight": True})
    return made


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


def test_a_warning_would_be_seen(capfd: pytest.CaptureFixture[str]) -> None:
    """The test that wants silence hears the reader's own log: broken music breaks it."""
    head, _, rest = to_mei(parse_exercise("1/8: RL")).partition("<meiHead>")
    assert toolkit().loadData(head + rest.partition("</meiHead>")[2])
    assert "[Warning]" in capfd.readouterr().err


@share(0.2, suppress=[HealthCheck.function_scoped_fixture])
@given(
    exercise=exercises(), repeat=st.sampled_from((None, 1, 12)), rolls=st.sampled_from(("written", "short"))
)
def test_any_exercise_is_read_without_a_warning(
    exercise: Exercise, repeat: int | None, rolls: Rolls, capfd: pytest.CaptureFixture[str]
) -> None:
    """By verovio, an engraver that reads MEI; every note and rest is drawn."""
    score, reader = score_of(exercise, rolls), toolkit()
    slashes = {at: roll.slashes for at, roll in score.rolls.items()}
    assert reader.loadData(to_mei(score.exercise, repeat=repeat, slashes=slashes))
    drawn = reader.renderToSVG(1)
    assert all(f'id="note-{at}"' in drawn for at in range(len(score.exercise.notes)))
    said = capfd.readouterr()
    assert said.out + said.err == ""
