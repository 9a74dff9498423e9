"""The command that counts a minute."""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path

import pytest

from evenhand.cli.main import run
from evenhand.media.write import write_wav
from evenhand.music.exercise import Tempo
from evenhand.music.text import parse_exercise
from evenhand.synthesis.instruments import Scene
from evenhand.synthesis.player import simulate
from evenhand.synthesis.playing import Player


@pytest.fixture(scope="module")
def singles(tmp_path_factory: pytest.TempPathFactory) -> str:
    """Record 96 single strokes, ten a second, the left hand softer."""
    player = Player(follow_click=False, level_db={"R": 0.0, "L": -4.0}, timekeeper_sd_ms=2.0)
    scene = Scene(noise_snr_db=40, count_in="none")
    tempo = Tempo(Fraction(1, 4), 150.0)
    take = simulate(parse_exercise("1/16: RLRL"), tempo, 24, player=player, scene=scene, seed=2)
    path = tmp_path_factory.mktemp("minute") / "singles.wav"
    write_wav(path, take.samples, take.rate_hz)
    return str(path)


def test_json_and_nothing_else_on_stdout(singles: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["minute", singles, "--json", "-"]) == 0
    written = json.loads(capsys.readouterr().out)
    assert written["strokes"] == 96
    assert written["per_minute"] == pytest.approx(600, rel=0.02)
    assert written["whole"] is False


def test_plain_words_with_the_hands_named(singles: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["minute", singles, "--first", "R"]) == 0
    said = capsys.readouterr().out
    assert "96 strokes in 9." in said
    assert "The left hand is 4." in said or "The left hand is 3." in said
    assert "Can't tell from so few seconds" in said
    assert "numbness" in said


def test_so_many_seconds_a_page_and_a_picture(
    singles: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    page, picture = tmp_path / "m.html", tmp_path / "m.svg"
    assert run(["minute", singles, "--seconds", "5", "--report", str(page), "--picture", str(picture)]) == 0
    assert "strokes in 5 s" in capsys.readouterr().out
    assert "Strokes a second" in page.read_text("utf-8")
    assert picture.read_text("utf-8").startswith("<svg")


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["--seconds", "1"], "--seconds"),
        (["--first", "X"], "--first"),
        (["--click", "loud"], "--click"),
        (["--report", "."], "it is a folder"),
    ],
)
def test_wrong_use_is_one_line(
    singles: str, arguments: list[str], message: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["minute", singles, *arguments]) == 2
    said = capsys.readouterr().err
    assert message in said
    assert said.count("\n") == 1
