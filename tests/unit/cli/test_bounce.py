"""The command that hears drops."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from evenhand.cli.main import run
from evenhand.media.write import write_wav
from evenhand.synthesis.drops import Drop, record_drops
from evenhand.synthesis.instruments import Scene


@pytest.fixture(scope="module")
def drops(tmp_path_factory: pytest.TempPathFactory) -> str:
    """Record four drops, the left hand's shorter, the last one held."""
    rows = [Drop(20, 0.82), Drop(20, 0.66), Drop(19, 0.82), Drop(21, 0.66, damped_after=4)]
    take = record_drops(rows, Scene(noise_snr_db=45), 6)
    path = tmp_path_factory.mktemp("drops") / "drops.wav"
    write_wav(path, take.samples, take.rate_hz)
    return str(path)


def test_json_and_nothing_else_on_stdout(drops: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["bounce", drops, "--json", "-"]) == 0
    written = json.loads(capsys.readouterr().out)
    assert [drop["kind"] for drop in written["drops"]] == ["free", "free", "free", "damped"]
    assert written["drops"][0]["restitution"]["value"] == pytest.approx(0.82, abs=0.02)


def test_hands_are_compared_in_plain_words(drops: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["bounce", drops, "--hands", "R,L,R,L"]) == 0
    said = capsys.readouterr().out
    assert "The stick bounces longest with the right hand." in said
    assert "Drop 4: After hit 4 no more came" in said
    assert "numbness" in said


def test_a_table_a_page_and_a_picture(drops: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    table = tmp_path / "drops.csv"
    table.write_text("grip\nopen\nfist\nopen\nfist\n", "utf-8")
    page, picture = tmp_path / "p.html", tmp_path / "p.svg"
    arguments = ["--table", str(table), "--report", str(page), "--picture", str(picture)]
    assert run(["bounce", drops, *arguments]) == 0
    assert "longest with open" in capsys.readouterr().out
    assert page.read_text("utf-8").startswith("<!doctype html>")
    assert picture.read_text("utf-8").startswith("<svg")


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["--hands", "R,L"], "got 2 grips or hands; must be one for each drop heard: 4"),
        (["--hands", "R,L", "--grips", "a,b"], "more than one of --grips, --hands and --table"),
        (["--hands", "R,Q"], "must be R or L"),
        (["--table", "gone.csv"], "'gone.csv' does not exist"),
        (["--json", "no/such/place.json"], "there is no such folder"),
        (["--picture", "no/such/place.svg"], "there is no such folder"),
        (["--midi-notes", "x"], "MIDI notes 'x'"),
    ],
)
def test_wrong_use_is_one_line(
    drops: str, arguments: list[str], message: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["bounce", drops, *arguments]) == 2
    said = capsys.readouterr().err
    assert message in said
    assert said.count("\n") == 1


def test_a_table_that_is_no_text(drops: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["bounce", drops, "--table", drops]) == 2
    assert "bytes that are not text" in capsys.readouterr().err


def test_a_take_that_is_none(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "notes.wav"
    path.write_text("not a recording")
    assert run(["bounce", str(path)]) == 3
    assert "text, whatever its name says" in capsys.readouterr().err
