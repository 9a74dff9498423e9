"""``evenhand progress``: weeks of takes in; changes, words and small charts out."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from evenhand.cli.main import run
from tests.histories import TEXT, write_folder


@pytest.fixture(scope="module")
def history(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Keep five weeks of an invented student: the left hand comes up by 3.5 dB, its timing stays."""
    takes: list[tuple[int, dict[str, Any]]] = [
        (x, {"level_db": {"R": -12.0, "L": -15.5 + 0.1 * x}, "hand_ms": {"R": 3.0, "L": 4.0}})
        for x in range(0, 36, 4)
    ]
    return write_folder(tmp_path_factory.mktemp("ines"), takes)


def test_the_contract(history: Path, capsys: pytest.CaptureFixture[str]) -> None:
    picture = history / "weeks.svg"
    command = ["progress", "--history", str(history), "--wish", "1/8=140", "--json", "-"]
    assert run([*command, "--picture", str(picture)]) == 0
    found = json.loads(capsys.readouterr().out)
    (exercise,) = found["exercises"]
    assert (exercise["exercise"], exercise["stroke"], exercise["days"]) == (TEXT, "half", 9)
    courses = {(each["measure"], each["hand"]): each for each in exercise["courses"]}
    balance = courses["balance.level_db", None]
    assert balance["change"]["told"] == "better"
    low, high = balance["change"]["per_week"]["ci95"]
    assert low <= -0.7 <= high  # 0.1 dB a day, by construction
    assert [point["day"] for point in balance["points"]][:2] == ["2026-03-02", "2026-03-06"]
    assert ("hands.L.timing_sd_ms", "L") in courses
    assert exercise["ceiling"]["beat"] == "1/8"
    assert exercise["ceiling"]["wish"] is None or exercise["ceiling"]["wish"]["tempo_bpm"] == 140
    assert picture.read_text("utf-8").startswith("<svg")


def test_the_summary_is_in_words(history: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["progress", "--history", str(history)]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "better by more than chance" in said
    assert "9 takes on 9 days, 2 March 2026 to 3 April 2026" in said
    assert "tempo ceiling, both hands" in said
    assert "see a clinician" in said


def test_an_exercise_that_was_not_played_is_refused_with_those_that_were(
    history: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["progress", "--history", str(history), "--exercise", "1/8: RL"]) == 2
    assert f"must be one that was played: {TEXT}" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("options", "message"),
    [
        (["--wish", "fast"], "tempo: got 'fast'"),
        (["--exercise", "1/8: XY"], "exercise, column"),
        (["--picture", "no/such/place.svg"], "there is no such folder"),
    ],
)
def test_wrong_use_is_refused(
    history: Path, options: list[str], message: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["progress", "--history", str(history), *options]) == 2
    assert message in capsys.readouterr().err


def test_a_single_day_is_said_to_be_too_little(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    write_folder(tmp_path, [(0, {}), (0, {})])
    assert run(["progress", "--history", str(tmp_path), "--picture", str(tmp_path / "p.svg")]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "No exercise was heard on two days yet" in said
    assert "1 exercise heard on one day only" in said
    assert "No exercise was heard" in (tmp_path / "p.svg").read_text("utf-8")
