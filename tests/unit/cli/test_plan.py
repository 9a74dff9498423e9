"""``evenhand plan``: the contract, the files, the words."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from evenhand.cli.main import run


def test_the_contract(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    ics = tmp_path / "week.ics"
    arguments = [
        "plan",
        "--minutes",
        "20",
        "--days",
        "5",
        "--stage",
        "tap",
        "--seed",
        "1",
        "--starts",
        "2026-11-30",
    ]
    assert run([*arguments, "--json", "-", "--ics", str(ics)]) == 0
    plan = json.loads(capsys.readouterr().out)
    assert len(plan["days"]) == 5
    for day in plan["days"]:
        assert abs(day["seconds"] - 1200) <= 15
        assert sum(item["seconds"] + item["rest_s"] for item in day["items"]) == pytest.approx(day["seconds"])
        for item in day["items"]:
            assert {"exercise", "stroke", "tempo", "repetitions", "seconds", "rest_s", "why"} <= set(item)
    assert ics.read_bytes().startswith(b"BEGIN:VCALENDAR")


def test_the_same_seed_writes_the_same_bytes(capsys: pytest.CaptureFixture[str]) -> None:
    arguments = [
        "plan",
        "--minutes",
        "10",
        "--days",
        "2",
        "--seed",
        "3",
        "--starts",
        "2026-11-30",
        "--json",
        "-",
    ]
    run(arguments)
    first = capsys.readouterr().out
    run(arguments)
    assert capsys.readouterr().out == first


def test_the_summary_has_the_caution(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["plan", "--minutes", "10", "--days", "2"]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "2 days, 10 min each" in said
    assert "see a clinician" in said
    assert "The teacher decides" in said


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--stage", "upside down"], "must be one of rebound"),
        (["--starts", "soon"], "a day such as"),
        (["--at", "noon"], "a time such as"),
        (["--minutes", "0"], "minutes a day"),
    ],
)
def test_wrong_use_is_one_line(arguments: list[str], said: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["plan", *arguments]) == 2
    error = capsys.readouterr().err
    assert said in error
    assert error.count("\n") == 1
