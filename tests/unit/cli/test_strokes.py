"""``evenhand strokes`` plans on one line what to play how high, in figures and in words."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any, get_args

import pytest

from evenhand.cli.main import run
from evenhand.music.strokes.remarks import StrokeRemarkKind

PAGE = Path(__file__).parents[3] / "docs" / "strokes.md"
PARADIDDLE = ["--exercise", "1/16: >RLRR >LRLL", "--tempo", "1/4=60"]


def written(capsys: pytest.CaptureFixture[str], *arguments: str) -> dict[str, Any]:
    assert run(["strokes", *arguments, "--json", "-"]) == 0
    out, err = capsys.readouterr()
    assert err == ""
    answer: dict[str, Any] = json.loads(out)
    return answer


def said(capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    assert run(["strokes", *arguments]) == 0
    return " ".join(capsys.readouterr().out.split())


def test_json_has_each_note_s_stroke_and_heights(capsys: pytest.CaptureFixture[str]) -> None:
    """By hand: 11 in is 27.94 cm, 4 in is 10.16 cm; 0.5 s to the right hand's next, 9.80665 * 0.25 / 8 m."""
    first, second, *_ = written(capsys, *PARADIDDLE)["strokes"]
    assert first == {
        "position": 0,
        "hand": "R",
        "grace": None,
        "stroke": "down",
        "before_cm": 27.94,
        "after_cm": 10.16,
        "own_interval_s": 0.5,
        "greatest_free_rebound_cm": 30.646,
        "needs": None,
        "bounce": False,
    }
    assert (second["hand"], second["stroke"], second["own_interval_s"]) == ("L", "up", 0.75)


def test_json_has_each_hand_s_reach(capsys: pytest.CaptureFixture[str]) -> None:
    """By hand: the doubles leave a sixteenth, 0.25 s, so 7.661 cm dropped and four times that at most.

    Thrown at e = 0.8, up and down takes 1 + 1.25 - 0.75 = 1.5 rises: 9.80665 * 0.0625 / 2 / 2.25 m.
    """
    answer = written(capsys, *PARADIDDLE)
    assert set(answer["hands"]) == {"R", "L"}
    right = answer["hands"]["R"]
    assert right["blows"] == 4
    assert right["shortest_own_interval_s"] == 0.25
    assert right["greatest_free_rebound_cm"] == pytest.approx(7.661, abs=1e-3)
    assert right["greatest_thrown_rebound_cm"] == pytest.approx(13.620, abs=1e-3)
    assert right["highest_rise_cm"] == pytest.approx(30.646, abs=1e-3)
    assert right["free_up_to_bpm"]["tap"] == pytest.approx(60 * 0.25 / 0.28789, abs=0.01)


def test_json_says_where_doubles_turn(capsys: pytest.CaptureFixture[str]) -> None:
    doubles = written(capsys, *PARADIDDLE)["doubles"]
    assert doubles["R"]["second_notes"] == [3]
    assert (doubles["R"]["turns_from_bpm"], doubles["R"]["turned_at_bpm"]) == (75.0, 100.0)


def test_the_class_of_stroke_the_heights_and_the_rebound_are_the_teacher_s(
    capsys: pytest.CaptureFixture[str],
) -> None:
    asked = ["--exercise", "1/8: RL", "--tempo", "1/8=60", "--stroke", "half", "--restitution", "0.7"]
    answer = written(capsys, *asked, "--heights", "half=5-7", "--unit", "in")
    assert answer["strokes"][0]["before_cm"] == 15.24
    assert (answer["stroke"], answer["restitution"]) == ("half", 0.7)
    assert answer["heights"]["half"] == {"low_cm": 12.7, "high_cm": 17.78, "aim_cm": 15.24}


def test_the_terminal_shows_letters_heights_and_what_takes_force(capsys: pytest.CaptureFixture[str]) -> None:
    text = said(capsys, *PARADIDDLE)
    assert ">R L R R >L R L L D U T T D U T T" in text
    assert "1 R D down 11 in 4 in 0.500 s over 12 in" in text
    assert "! Notes 4 and 8 from 4 in" in text
    assert "stop, rest, and see a clinician" in text


def test_centimetres_when_asked(capsys: pytest.CaptureFixture[str]) -> None:
    text = said(capsys, *PARADIDDLE, "--unit", "cm")
    assert "27.9 cm 10.2 cm" in text
    assert " in " not in text.split("same hand again in")[1].split("Each hand")[0]


def test_a_chart_is_a_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    place = tmp_path / "heights.svg"
    assert f"The chart is in {place}" in said(capsys, *PARADIDDLE, "--chart", str(place)).replace(" /", " /")
    assert place.read_text("utf-8").startswith("<svg")


def test_a_long_exercise_is_cut_in_the_terminal_and_whole_in_json(
    capsys: pytest.CaptureFixture[str],
) -> None:
    long = ["--exercise", f"1/16: {'RLRR LRLL ' * 20}", "--tempo", "1/4=60"]
    assert "and 112 more" in said(capsys, *long)
    assert len(written(capsys, *long)["strokes"]) == 160


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ([], "got no exercise; must be an exercise and its tempo"),
        (["--exercise", "1/8: RL"], "got only the exercise"),
        (["--tempo", "1/8=60"], "got only the tempo"),
        (["--exercise", "1/8: RX", "--tempo", "1/8=60"], "exercise, column 7: found 'X'"),
        ([*PARADIDDLE, "--stroke", "loud"], "--stroke"),
        ([*PARADIDDLE, "--unit", "feet"], "--unit"),
        ([*PARADIDDLE, "--restitution", "1.2"], "--restitution"),
        ([*PARADIDDLE, "--heights", "tap=3"], "got heights 'tap=3'; must be such as tap=3-5"),
        ([*PARADIDDLE, "--heights", "tap=5-3"], "must be rising from tap over half to full"),
        ([*PARADIDDLE, "--heights", "tap=0-3"], "must be rising"),
        ([*PARADIDDLE, "--heights", "full=30-60"], "up to 100 cm"),
        ([*PARADIDDLE, "--chart", "no/such/place.svg"], "there is no such folder"),
    ],
)
def test_what_cannot_be_planned_is_said_in_one_line(
    arguments: list[str], message: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["strokes", *arguments]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.count("\n") == 1
    assert message in err


def keys_of(value: object) -> set[str]:
    """Gather all names in some JSON."""
    if isinstance(value, dict):
        return set(value).union(*(keys_of(each) for each in value.values()))
    return set().union(*(keys_of(each) for each in value)) if isinstance(value, list) else set()


def test_every_key_and_every_remark_is_documented(capsys: pytest.CaptureFixture[str]) -> None:
    keys = keys_of(written(capsys, *PARADIDDLE)) | set(get_args(StrokeRemarkKind))
    assert [key for key in sorted(keys) if key not in PAGE.read_text("utf-8")] == []


def test_the_page_s_picture_is_what_its_command_draws(tmp_path: Path) -> None:
    """A snapshot: it only tells when the picture has to be drawn again."""
    place = tmp_path / "heights.svg"
    asked = ["--exercise", "1/16: RLRR LRLL", "--tempo", "1/4=60", "--chart", str(place)]
    assert run(["strokes", *asked]) == 0
    assert (PAGE.parent / "pictures" / "heights.svg").read_text("utf-8") == place.read_text("utf-8")
