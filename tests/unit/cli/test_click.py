"""``evenhand click``: a file, a few quiet lines, and one line where it cannot be."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from evenhand.cli.main import run
from evenhand.media.loudness import loudness
from evenhand.media.open_take import open_take
from evenhand.take import SoundTake
from tests.media_files import Plain


def samples_of(path: Path) -> np.ndarray[tuple[int], np.dtype[np.float32]]:
    take = open_take(path)
    assert isinstance(take, SoundTake)
    return np.asarray(take.samples[:])


def test_a_click_is_written_and_said_in_few_words(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A bar to count in and 8 more of four beats at 120 last 18 s."""
    out = tmp_path / "click.wav"
    assert run(["click", "--tempo", "1/4=120", "--bars", "8", "--meter", "4/4", "--out", str(out)]) == 0
    said = capsys.readouterr().out
    assert said.startswith(f"{out}: 18 s, 1 bar to count in, 8 bars of 4/4\n  tempo 1/4 = 120; ")
    assert " LUFS, peak -6.0 dBTP\n" in said
    assert "harm hearing" in said
    samples = samples_of(out)
    assert len(samples) == 18 * 48_000
    assert samples[0] != 0


def test_the_loudness_it_says_is_the_files(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "click.wav"
    assert run(["click", "--tempo", "1/4=90", "--out", str(out), "--json", "-"]) == 0
    said = json.loads(capsys.readouterr().out)
    measured = loudness(Plain(samples_of(out)[:, None], 48_000))
    assert measured.integrated_lufs == pytest.approx(said["loudness_lufs"], abs=0.02)
    assert measured.true_peak_dbtp == pytest.approx(said["true_peak_dbtp"], abs=0.02)


def test_the_timetable_says_when_each_bar_and_click_comes(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Three quarters at 60, then at 120: bars at 1, 4, 7, 8.5 and 10 s, a second of lead-in before them."""
    arguments = (
        "--tempo 1/4=60 --meter 3/4 --bars 4 --step 60 --every 1 --silent 2:1 --to 1/4=120 --lead-in 1"
    )
    assert run(["click", *arguments.split(), "--out", str(tmp_path / "c.flac"), "--json", "-"]) == 0
    table = json.loads(capsys.readouterr().out)
    assert [(b["bar"], b["time_s"], b["kind"], b["tempo"]) for b in table["bars"]] == [
        (1, 1.0, "count-in", "1/4 = 60"),
        (2, 4.0, "played", "1/4 = 60"),
        (3, 7.0, "played", "1/4 = 120"),
        (4, 8.5, "silent", "1/4 = 120"),
        (5, 10.0, "played", "1/4 = 120"),
    ]
    assert [c["time_s"] for c in table["clicks"]] == [1, 2, 3, 4, 5, 6, 7, 7.5, 8, 10, 10.5, 11]
    assert table["seconds"] == 11.5


def test_how_the_tempo_goes_is_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = ["--out", str(tmp_path / "c.wav"), "--bars", "8"]
    assert run(["click", "--tempo", "1/4=100", "--to", "1/4=140", *out]) == 0
    silent = ["--pattern", "2-and-4 silent=2:2"]
    assert run(["click", "--tempo", "1/4=100", "--step", "5", "--every", "4", *silent, *out]) == 0
    said = capsys.readouterr().out
    assert "8 bars of 4/4, 4 of them silent" in said
    assert "tempo 1/4 = 100 to 1/4 = 140, evenly; " in said
    assert "tempo 1/4 = 100 to 1/4 = 105, by 5 every 4 bars; " in said


def test_the_same_call_writes_the_same_bytes(tmp_path: Path) -> None:
    for name in ("a.mp3", "b.mp3"):
        assert run(["click", "--tempo", "1/4=120", "--bars", "2", "--out", str(tmp_path / name)]) == 0
    assert (tmp_path / "a.mp3").read_bytes() == (tmp_path / "b.mp3").read_bytes()


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ("--tempo 120", "tempo: got '120'; must be a note value and beats a minute"),
        ("--tempo 1/4=1001", "tempo: got 1001; must be 5 to 1000 beats a minute"),
        ("--tempo 1/4=120 --meter 0/4", "got meter '0/4'; must be beats a bar, 1 to 64"),
        ("--tempo 1/4=120 --meter 7/8", "a bar of 7/8 and a beat of 1/4; must be a tempo whose beats fill"),
        ("--tempo 1/4=120 --bars 0", "--bars"),
        ("--tempo 1/4=120 --bars 18000", "got 10.0 h of sound; must be 2 h at most"),
        ("--tempo 1/4=120 --silent 2", "got silence '2'; must be bars heard and bars silent"),
        ("--tempo 1/4=120 --silent 0:4", "got silence '0:4'"),
        (
            "--tempo 1/4=120 --pattern 3-and-5",
            "got click pattern '3-and-5'; must be beats, 2-and-4, offbeats",
        ),
        ("--tempo 1/4=120 --pattern 3+3+3/8", "groups 3+3+3/8 in a bar of 1; must be groups that fill"),
        ("--tempo 1/4=120 --silent 2:2 --to 1/4=140", "got a tempo that changes evenly, and bars without"),
        ("--tempo 1/4=120 --every 4", "got --every without --step"),
        ("--tempo 1/4=120 --step fast", "got --step 'fast'; must be a number"),
        ("--tempo 1/4=120 --step 0", "got steps of 0 bpm"),
        ("--tempo 1/4=120 --step -5 --to 1/4=160", "steps that lead from 1/4 = 120 to 1/4 = 160"),
        ("--tempo 1/4=120 --step 200", "got 1120; must be 5 to 1000"),
        ("--tempo 1/4=120 --lead-in -1", "got a lead-in of -1 s; must be 0 to 60 s"),
        ("--tempo 1/4=120 --subdivide 5", "--subdivide"),
        ("--tempo 1/4=120 --peak 3", "--peak"),
        ("--tempo 1/4=120 --rate 8000", "--rate"),
    ],
)
def test_what_cannot_be_is_one_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], arguments: str, message: str
) -> None:
    assert run(["click", *arguments.split(), "--out", str(tmp_path / "c.wav")]) == 2
    said = capsys.readouterr().err
    assert message in said
    assert said.count("\n") == 1
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("out", "message"),
    [
        ("click.aiff", "must be a name that ends in .wav, .flac, .ogg, .mp3"),
        ("no/such/click.wav", "there is no such folder"),
        (".", "it is a folder"),
    ],
)
def test_a_place_that_is_none_is_one_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], out: str, message: str
) -> None:
    assert run(["click", "--tempo", "1/4=120", "--out", str(tmp_path / out)]) == 2
    assert message in capsys.readouterr().err
