"""``evenhand export``: each form is written, several at once, and wrong use writes nothing."""

from __future__ import annotations

from pathlib import Path
from xml.etree import ElementTree as ET

import pytest

from evenhand.cli.main import run

EXERCISE = ["--exercise", "1/16: >RLRR >LRLL", "--tempo", "1/4=90"]


def test_all_forms_at_once(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    places = {name: tmp_path / f"e.{name}" for name in ("svg", "musicxml", "midi", "mei")}
    options = [each for name, place in places.items() for each in (f"--{name}", str(place))]
    assert run(["export", *EXERCISE, "--repeat", "8", "--title", "Single", *options]) == 0
    roots = {name: ET.parse(place).getroot().tag for name, place in places.items() if name != "midi"}
    assert roots == {
        "svg": "{http://www.w3.org/2000/svg}svg",
        "musicxml": "score-partwise",
        "mei": "{http://www.music-encoding.org/ns/mei}mei",
    }
    midi = places["midi"].read_bytes()
    assert midi.startswith(b"MThd")
    assert midi.count(b"\x99\x26") == 8 * 8  # eight notes, eight times
    said = capsys.readouterr()
    assert said.err == ""
    assert [line.split(": ")[0] for line in said.out.splitlines()] == [
        str(place) for place in places.values()
    ]


@pytest.mark.parametrize("form", ["svg", "musicxml", "mei"])
def test_text_goes_to_stdout_alone(form: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["export", *EXERCISE, f"--{form}", "-"]) == 0
    said = capsys.readouterr()
    assert said.err == ""
    ET.fromstring(said.out.encode())


def test_stroke_letters_and_short_rolls(tmp_path: Path) -> None:
    score, plain, short = (tmp_path / name for name in ("a.musicxml", "plain.svg", "short.svg"))
    roll = ["--exercise", "1/32: RRLLRRLL 1/4: R"]
    assert run(["export", *EXERCISE, "--stroke-letters", "--musicxml", str(score)]) == 0
    letters = ET.parse(score).getroot().iterfind(".//lyric[@number='2']/text")
    assert [letter.text for letter in letters] == list("DUTTDUTT")  # down, up, then taps: the trade's four
    assert run(["export", *roll, "--svg", str(plain)]) == 0
    assert run(["export", *roll, "--rolls", "short", "--svg", str(short)]) == 0
    assert short.stat().st_size < plain.stat().st_size  # one slashed note in the place of eight


def test_the_drum_note_and_the_width_are_as_asked(tmp_path: Path) -> None:
    midi, narrow = tmp_path / "a.mid", tmp_path / "a.svg"
    wanted = ["--midi", str(midi), "--midi-note", "40", "--svg", str(narrow), "--width", "300"]
    assert run(["export", *EXERCISE, *wanted]) == 0
    assert midi.read_bytes().count(b"\x99\x28") == 8
    width = float(ET.parse(narrow).getroot().get("width", "nan"))
    assert 200 < width <= 330  # the line, with a margin at each side


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["--svg", "a.svg"], "got no exercise"),
        (EXERCISE, "got no file to write; must be at least one of --svg, --musicxml, --midi, --mei"),
        ([*EXERCISE, "--svg", "a", "--mei", "a"], "one place for two files"),
        ([*EXERCISE, "--midi", "-"], "MIDI is not text"),
        ([*EXERCISE, "--svg", "no/such/a.svg"], "there is no such folder"),
        ([*EXERCISE, "--svg", "a.svg", "--repeat", "0"], "--repeat"),
        ([*EXERCISE, "--svg", "a.svg", "--width", "10"], "--width"),
        (["--exercise", "1/8: RX", "--svg", "a.svg"], "exercise, column 7"),
        (["--exercise", "1/8: RL", "--tempo", "fast", "--svg", "a.svg"], "tempo: got 'fast'"),
        (
            ["--exercise", "1/8: RL", "--tempo", "1/64=5", "--svg", "a.svg", "--midi", "a.mid"],
            "for MIDI at least",
        ),
    ],
)
def test_wrong_use_writes_nothing(
    arguments: list[str],
    message: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(tmp_path)
    assert run(["export", *arguments]) == 2
    said = capsys.readouterr()
    assert message in said.err
    assert said.err.count("\n") == 1
    assert said.out == ""
    assert list(tmp_path.iterdir()) == []
