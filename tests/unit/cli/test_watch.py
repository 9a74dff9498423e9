"""The command: what it prints, writes and refuses."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from evenhand.cli.main import run
from tests.films import a_film


@pytest.fixture(scope="module")
def film(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return a_film(tmp_path_factory.mktemp("films") / "film.mp4")


def asked(film: Path, *more: str) -> list[str]:
    tapes = ["--tape", "R=blue,L=green", "--pad-cm", "30", "--click", "none"]
    return ["watch", str(film), "--exercise", "1/8: RL", "--tempo", "1/8=240", *tapes, *more]


def test_it_says_what_was_heard_and_what_was_seen(film: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(asked(film)) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "12 hits" in said
    assert "The right hand played 6 strokes: from 22." in said
    assert "the hand was seen in 12 of 12 strokes" in said
    assert "is experimental: not proven on real players yet" in said
    assert "A video of a child is private." in said


def test_json_is_all_that_stands_on_stdout(film: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(asked(film, "--json", "-")) == 0
    assert json.loads(capsys.readouterr().out)["schema"] == "urn:evenhand:watch-1"


def test_the_report_is_written_where_it_was_asked_for(film: Path, tmp_path: Path) -> None:
    assert run(asked(film, "--report", str(tmp_path / "take.html"))) == 0
    assert "What was seen" in (tmp_path / "take.html").read_text("utf-8")


def test_what_cannot_be_watched_is_one_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    silent = a_film(tmp_path / "film.mp4", seconds=1.0, hits_s=())
    assert run(asked(silent)) == 3
    said = capsys.readouterr().err
    assert said.count("\n") == 1
    assert "a video without sound" in said


def test_a_pad_that_is_no_number_is_wrong_use(film: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["watch", str(film), "--tape", "R=blue", "--pad-cm", "nan"]) == 2
    assert "not a number" in capsys.readouterr().err
