"""``evenhand ceiling``: takes at several tempos in, the ceiling out."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from evenhand.cli.main import run
from evenhand.media.write import write_wav
from evenhand.music.exercise import Tempo
from evenhand.music.text import parse_exercise
from evenhand.synthesis.player import simulate
from evenhand.synthesis.playing import Player

TEXT = "1/16: RLRR LRLL"


@pytest.fixture(scope="module")
def takes(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Record an invented player who is steady up to about 1/4 = 110."""
    folder = tmp_path_factory.mktemp("takes")
    rows = ["file,exercise,tempo"]
    for bpm, spread in ((90, 1.0), (110, 3.0), (130, 12.0)):
        player = Player(timekeeper_sd_ms=1.0, hand_sd_ms={"R": spread, "L": spread})
        take = simulate(parse_exercise(TEXT), Tempo.parse(f"1/4={bpm}"), 6, player=player, seed=bpm)
        write_wav(folder / f"{bpm}.wav", take.samples, take.rate_hz)
        rows.append(f"{bpm}.wav,{TEXT},1/4={bpm}")
    (folder / "list.csv").write_text("\n".join(rows))
    return folder


def test_the_contract(takes: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["ceiling", str(takes / "list.csv"), "--json", "-", "--picture", str(takes / "c.svg")]) == 0
    found = json.loads(capsys.readouterr().out)
    assert set(found) >= {"ceiling_bpm", "hands", "next_tempo_bpm", "enough"}
    assert 95 < found["ceiling_bpm"]["value"] < 130
    assert found["ceiling_bpm"]["ci95"][0] < found["ceiling_bpm"]["value"] < found["ceiling_bpm"]["ci95"][1]
    assert set(found["hands"]) == {"R", "L"}
    assert len(found["repetitions"]) >= 16
    assert (takes / "c.svg").read_text().startswith("<svg")


def test_the_summary_is_in_words(takes: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["ceiling", str(takes / "list.csv")]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "In control up to 1/4 =" in said
    assert "see a clinician" in said


def test_takes_of_two_exercises_are_refused(takes: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = (takes / "list.csv").read_text() + "\n90.wav,1/8: RL,1/4=90"
    (takes / "two.csv").write_text(text)
    assert run(["ceiling", str(takes / "two.csv")]) == 2
    assert "row 5: got another exercise, 1/8: RL; must be" in capsys.readouterr().err


def test_a_blind_row_is_refused(takes: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (takes / "blind.csv").write_text("file,exercise,tempo\n90.wav,,\n")
    assert run(["ceiling", str(takes / "blind.csv")]) == 2
    assert "row 2" in capsys.readouterr().err


def test_a_take_that_cannot_be_heard_is_left_out_and_said(
    takes: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    write_wav(takes / "silent.wav", np.zeros(48000, np.float32), 48000)
    (takes / "one.csv").write_text(f"file,exercise,tempo\nsilent.wav,{TEXT},1/4=90\n90.wav,{TEXT},1/4=90\n")
    assert run(["ceiling", str(takes / "one.csv"), "--json", "-"]) == 0
    said = capsys.readouterr()
    assert "left out: silent.wav" in said.err
    assert json.loads(said.out)["left_out"]


def test_no_take_that_can_be_heard_ends_with_its_error(takes: Path) -> None:
    write_wav(takes / "still.wav", np.zeros(48000, np.float32), 48000)
    (takes / "none.csv").write_text(f"file,exercise,tempo\nstill.wav,{TEXT},1/4=90\n")
    assert run(["ceiling", str(takes / "none.csv")]) == 3
