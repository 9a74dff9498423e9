"""``evenhand path``: stages out, to edit and back; a history in, a proposal out."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from evenhand.cli.main import run
from tests.histories import write_folder


@pytest.fixture(scope="module")
def history(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Keep two weeks of an invented student whose left hand is softer by 3 dB."""
    weak = {"level_db": {"R": -12.0, "L": -15.0}, "tempo": "1/8=88", "hand_ms": {"R": 3.0, "L": 3.5}}
    return write_folder(tmp_path_factory.mktemp("ines"), [(x, weak) for x in (0, 3, 6, 9)])


def test_the_stages_are_shown(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["path"]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "2 half" in said
    assert "0.5 to 1.9 strokes a second of each hand (single strokes at 1/8 = 60 to 228)" in said
    assert "both hands equally loud within what an ear can tell" in said
    assert "see a clinician" in said


def test_the_stages_as_json(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["path", "--json", "-"]) == 0
    stages = json.loads(capsys.readouterr().out)["stages"]
    assert [stage["name"] for stage in stages][:3] == ["rebound", "half", "full"]
    assert stages[1]["conditions"][0]["measure"] == "spread_ms"


def test_plan_lists_the_same_stages(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["path", "--json", "-"]) == 0
    of_path = capsys.readouterr().out
    assert run(["plan", "--stages"]) == 0
    assert capsys.readouterr().out == of_path
    crossing = next(each for each in json.loads(of_path)["stages"] if each["name"] == "the crossing")
    assert crossing["rate_per_s"] == [1.33, 4.0]  # 0.4 to 1.2 of 1 / (2 * 0.15 s), the turn
    assert crossing["formerly"] == ["rebound doubles"]
    assert crossing["conditions"][0]["within_ms"] == 200.0
    assert crossing["record"] == "1/16: RRLL RRLL"


def test_a_path_is_written_edited_and_used(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    own = tmp_path / "path.toml"
    assert run(["path", "--write", str(own)]) == 0
    own.write_text(own.read_text("utf-8").replace('name = "half"', 'name = "halves"'), "utf-8")
    assert run(["path", "--path", str(own), "--stage", "Halves"]) == 0
    assert "2  halves" in capsys.readouterr().out


def test_a_path_that_is_there_is_not_written_over(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    own = tmp_path / "path.toml"
    own.write_text("mine")
    assert run(["path", "--write", str(own)]) == 2
    assert own.read_text() == "mine"
    assert "it is there already" in capsys.readouterr().err


def test_a_bad_path_names_stage_and_key(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    own = tmp_path / "path.toml"
    assert run(["path", "--write", str(own)]) == 0
    own.write_text(own.read_text("utf-8").replace("weeks = [1, 2]", "weeks = [2, 1]", 1), "utf-8")
    assert run(["path", "--path", str(own)]) == 2
    assert "path.toml, stage 2 (half), weeks: got [2, 1]" in capsys.readouterr().err


def test_the_contract_of_the_advice(history: Path, capsys: pytest.CaptureFixture[str]) -> None:
    picture = history / "advice.svg"
    command = ["path", "--history", str(history), "--stage", "half", "--json", "-", "--picture", str(picture)]
    assert run(command) == 0
    found = json.loads(capsys.readouterr().out)
    assert (found["proposal"], found["to"], found["takes"], found["days"]) == ("stay", "half", 4, 4)
    balance = next(each for each in found["conditions"] if each["measure"] == "balance_db")
    assert balance["verdict"] == "not met"
    assert balance["ci95"][0] < 3.0 < balance["ci95"][1]
    assert balance["bound"] == 1.0
    assert "teacher decides" in found["decides"]
    assert "clinician" in found["caution"]
    assert picture.read_text("utf-8").startswith("<svg")


def test_the_summary_proposes_and_leaves_it_to_the_teacher(
    history: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["path", "--history", str(history), "--stage", "half"]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "stay with half" in said
    assert "The teacher decides." in said
    assert "both hands equally loud not met right 3" in said


def test_as_of_an_earlier_day_fewer_takes_count(history: Path, capsys: pytest.CaptureFixture[str]) -> None:
    command = ["path", "--history", str(history), "--stage", "half", "--until", "2026-03-06", "--json", "-"]
    assert run(command) == 0
    assert json.loads(capsys.readouterr().out)["takes"] == 2


@pytest.mark.parametrize(
    ("options", "message"),
    [
        (["--history", "HISTORY"], "--history without --stage"),
        (["--history", "HISTORY", "--stage", "marching"], "the stage 'marching'"),
        (["--stage", "marching"], "the stage 'marching'"),
        (["--picture", "a.svg"], "--picture without --history"),
        (["--history", "HISTORY", "--stage", "half", "--since", "9.3."], "the date '9.3.'"),
        (
            ["--history", "HISTORY", "--stage", "half", "--since", "2026-03-09", "--until", "2026-03-02"],
            "the earlier day first",
        ),
    ],
)
def test_wrong_use_is_refused(
    history: Path, options: list[str], message: str, capsys: pytest.CaptureFixture[str]
) -> None:
    said = [str(history) if each == "HISTORY" else each for each in options]
    assert run(["path", *said]) == 2
    assert message in capsys.readouterr().err
