"""``evenhand playalong``: the exercise as it is written, heard again by the ear that listens to takes."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from evenhand.acts.takes.hear import hear_take
from evenhand.acts.takes.request import TakeRequest
from evenhand.cli.main import run
from evenhand.media.open_take import open_take
from evenhand.take import SoundTake

ACCENTED = "1/16: >RLRR >LRLL"


def table_of(capsys: pytest.CaptureFixture[str], *arguments: str) -> dict[str, Any]:
    assert run(["playalong", *arguments, "--json", "-"]) == 0
    table: dict[str, Any] = json.loads(capsys.readouterr().out)
    return table


def test_a_play_along_is_written_and_said_in_few_words(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A bar of four eighths to count in, eight repetitions of eight: 68 eighths at 140 last 29.1 s."""
    out = tmp_path / "play.mp3"
    assert run(["playalong", "--exercise", "1/8: RLRR LRLL", "--tempo", "1/8=140", "--out", str(out)]) == 0
    said = capsys.readouterr().out
    assert said.startswith(f"{out}: 29 s, 1 exercise, 8 repetitions, 64 strokes\n  tempo 1/8 = 140; ")
    assert "harm hearing" in said
    assert open_take(out).facts.seconds == pytest.approx(68 * 60 / 140, abs=0.2)


def test_the_ear_hears_what_was_written(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Every note, on time to 0.15 ms, its accents 24 log10(11 / 4) = 10.54 dB over the rest."""
    out = tmp_path / "play.wav"
    table = table_of(capsys, "--exercise", ACCENTED, "--tempo", "1/4=80", "--click", "off", "--out", str(out))
    take = hear_take(out, TakeRequest.read(ACCENTED, "1/4=80"), opens=open_take)
    written = np.array([stroke["time_s"] for stroke in table["strokes"]])
    heard = np.array([hit.time_s for hit in take.heard.hits])
    assert len(heard) == len(written) == 64
    assert not take.heard.missed
    assert not take.heard.extra
    assert np.max(np.abs(heard - written)) < 0.15e-3
    assert take.measures is not None
    for hand in ("R", "L"):
        over = take.measures.accents_over_taps_db[hand].value
        assert over == pytest.approx(10.54, abs=0.3)
    assert [finding.kind for finding in take.findings] == ["even"]


def test_a_click_on_the_offbeats_is_told_to_the_ear(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Played to the offbeats, on time: every asynchrony within 3 ms of none, and not half a beat off."""
    out, pattern = tmp_path / "play.wav", ["--pattern", "offbeats"]
    table_of(capsys, "--exercise", "1/8: RLRR LRLL", "--tempo", "1/4=90", *pattern, "--out", str(out))
    asked = ["listen", str(out), "--exercise", "1/8: RLRR LRLL", "--tempo", "1/4=90", *pattern]
    assert run([*asked, "--json", "-"]) == 0
    heard = json.loads(capsys.readouterr().out)
    assert heard["clock"] == "click"
    late = [hit["asynchrony_ms"] for hit in heard["hits"] if hit["asynchrony_ms"] is not None]
    assert len(late) > 60
    assert np.max(np.abs(late)) < 4.0
    assert run(["listen", str(out), "--pattern", "loud"]) == 2
    assert "click pattern 'loud'" in capsys.readouterr().err


def test_a_book_is_played_in_its_order(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Two exercises of four quarters, twice each at 60: 4 s to count in, 8 s, a bar's rest, 8 s."""
    book = tmp_path / "book.txt"
    book.write_text("1/4: RLRL # First\n1/4: RRLL # Second\n", "utf-8")
    out = tmp_path / "play.ogg"
    table = table_of(capsys, "--book", str(book), "--tempo", "1/4=60", "--repeat", "2", "--out", str(out))
    assert [(e["repetitions_s"], e["end_s"]) for e in table["exercises"]] == [
        ([4.0, 8.0], 12.0),
        ([16.0, 20.0], 24.0),
    ]
    assert [(e["title"], e["exercise"]) for e in table["exercises"]] == [
        ("First", "1/4: RLRL"),
        ("Second", "1/4: RRLL"),
    ]
    assert [b["kind"] for b in table["bars"]] == ["count-in", *["played"] * 2, "rest", *["played"] * 2]


def test_soft_and_loud_are_said_against_the_click(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Four eighths of clicks last 1.714 s; then strokes peak 9, 3 or -3 dB over theirs, or so."""
    path = tmp_path / "p.wav"
    out = ["--exercise", "1/8: RRRR RRRR", "--tempo", "1/8=140", "--repeat", "1", "--click", "count-in"]
    begin = round(1.71 * 48_000)
    for played, over_db in (("loud", 9.0), ("even", 3.0), ("soft", -3.0), ("-30", -30.0)):
        table_of(capsys, *out, "--played", played, "--out", str(path))
        take = open_take(path)
        assert isinstance(take, SoundTake)
        samples = np.abs(take.samples[:])
        assert 20 * np.log10(samples[begin:].max() / samples[:begin].max()) == pytest.approx(over_db, abs=2.0)
    assert run(["playalong", *out, "--played", "off", "--out", str(path)]) == 0
    assert "the click alone" in capsys.readouterr().out


def test_nothing_goes_over_the_peak_or_the_loudness_it_aims_at(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for played in ("loud", "12", "-60"):
        table = table_of(
            capsys, "--exercise", "1/32: RRLL RRLL", "--tempo", "1/4=120", "--played", played,
            "--out", str(tmp_path / "p.wav"),
        )  # fmt: skip
        assert table["true_peak_dbtp"] <= -1.0
        assert table["loudness_lufs"] <= -20.0


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["--tempo", "1/8=140"], "got no exercise; must be one of --exercise TEXT and --book FILE"),
        (["--exercise", "1/8: RX", "--tempo", "1/8=140"], "exercise, column 7: found 'X'"),
        (["--exercise", "1/8: RL", "--tempo", "140"], "tempo: got '140'"),
        (["--exercise", "1/8: RL", "--tempo", "1/8=140", "--played", "softly"], "got --played 'softly'"),
        (["--exercise", "1/8: RL", "--tempo", "1/8=140", "--played", "40"], "from -60 to 12"),
        (
            ["--exercise", "1/8: RL", "--tempo", "1/8=140", "--played", "off", "--click", "off"],
            "got neither click nor strokes",
        ),
        (["--exercise", "1/1: RLRLRLRL", "--tempo", "1/8=5", "--repeat", "10"], "h of sound; must be 2 h"),
        (["--exercise", "1/8: - -", "--tempo", "1/8=140"], "found rests only"),
        (["--exercise", "1/8: RL", "--tempo", "1/8=140", "--repeat", "0"], "--repeat"),
    ],
)
def test_what_cannot_be_is_one_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], arguments: list[str], message: str
) -> None:
    assert run(["playalong", *arguments, "--out", str(tmp_path / "p.wav")]) == 2
    said = capsys.readouterr().err
    assert message in said
    assert said.count("\n") == 1
    assert list(tmp_path.iterdir()) == []


PLAN = {
    "days": [
        {
            "items": [
                {"exercise": "1/4: RLRL", "tempo": "1/4=120", "repetitions": 2, "seconds": 6, "rest_s": 6}
            ]
        },
        {
            "items": [
                {"exercise": "1/4: RRLL", "tempo": "1/4=120", "repetitions": 1, "seconds": 4, "rest_s": 2}
            ]
        },
    ]
}


def test_a_day_of_a_plan_is_one_track(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Two seconds counted in and two played, after 8 s to read; its rest lasts 2 s."""
    plan = tmp_path / "week.json"
    plan.write_text(json.dumps(PLAN), "utf-8")
    out = tmp_path / "day.mp3"
    day = ["playalong", "--plan", str(plan), "--day", "2", "--out", str(out), "--no-speak"]
    assert run(day) == 0
    said = capsys.readouterr().out
    assert said.startswith(f"{out}: 14 s, 1 exercise\n  the day's 6.0 s, and 8.0 s that say what comes next")
    assert "a chime, and time to read the sheet" in said
    assert "harm hearing" in said
    assert run([*day, "--json", "-"]) == 0
    table = json.loads(capsys.readouterr().out)
    assert [(c["kind"], c["time_s"]) for c in table["chapters"]] == [
        ("announce", 0.0),
        ("count-in", 8.0),
        ("play", 10.0),
        ("rest", 12.0),
    ]
    assert open_take(out).facts.seconds == pytest.approx(14, abs=0.2)
    assert "1 1/4: RRLL".encode("utf-16-le") in out.read_bytes()[:200]  # its chapter in the file itself


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["--plan", "PLAN", "--day", "3"], "got day 3; must be 1 to 2"),
        (["--plan", "PLAN", "--tempo", "1/4=60"], "must be --plan alone"),
        (["--exercise", "1/4: RL", "--day", "1", "--tempo", "1/4=60"], "got --day without --plan"),
        (["--exercise", "1/4: RL"], "got an exercise without a tempo"),
    ],
)
def test_a_day_that_cannot_be_written_is_one_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], arguments: list[str], message: str
) -> None:
    plan = tmp_path / "week.json"
    plan.write_text(json.dumps(PLAN), "utf-8")
    named = [str(plan) if each == "PLAN" else each for each in arguments]
    assert run(["playalong", *named, "--out", str(tmp_path / "p.wav")]) == 2
    assert message in capsys.readouterr().err
