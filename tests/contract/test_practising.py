"""The command line of practising: bounce, minute, ceiling, plan.

Keys and shapes are the contract. What must be heard is what was simulated.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import icalendar
import numpy as np
import pypdf
import pytest

from evenhand.cli.main import run
from evenhand.media.write import write_wav
from evenhand.music.exercise import Tempo
from evenhand.music.text import parse_exercise
from evenhand.synthesis.drops import Drop, record_drops
from evenhand.synthesis.instruments import Scene
from evenhand.synthesis.player import simulate
from evenhand.synthesis.playing import Player

Out = pytest.CaptureFixture[str]
EXERCISE = "1/16: RLRR LRLL"


def said_json(capsys: Out, *arguments: str) -> Any:
    """Run a command with ``--json -``: JSON and nothing else on stdout, nothing on stderr."""
    capsys.readouterr()
    assert run([*arguments, "--json", "-"]) == 0
    said = capsys.readouterr()
    assert said.err == ""
    return json.loads(said.out)


def is_figure(figure: dict[str, Any]) -> bool:
    """Tell whether it is a value inside its interval."""
    low, high = figure["ci95"]
    return bool(low <= figure["value"] <= high)


def play(place: Path, text: str, bpm: float, repetitions: int, player: Player) -> None:
    take = simulate(
        parse_exercise(text), Tempo.parse(f"1/4={bpm}"), repetitions, player=player, seed=int(bpm)
    )
    write_wav(place, take.samples, take.rate_hz)


def test_a_bounce(tmp_path: Path, capsys: Out) -> None:
    drops = [Drop(20, 0.82), Drop(20, 0.66), Drop(21, 0.66, damped_after=4)]
    take = record_drops(drops, Scene(noise_snr_db=45), 6)
    write_wav(tmp_path / "TAKE.wav", take.samples, take.rate_hz)
    said = said_json(capsys, "bounce", str(tmp_path / "TAKE.wav"))["drops"]
    keys = {"start_s", "bounces", "restitution", "first_height_cm", "hits_s", "kind"}
    assert all(keys <= set(drop) for drop in said)
    assert [drop["kind"] for drop in said] == ["free", "free", "damped"]
    for drop, played in zip(said, drops, strict=True):
        assert drop["restitution"]["value"] == pytest.approx(played.restitution, abs=0.03)
        assert is_figure(drop["restitution"])
        assert is_figure(drop["first_height_cm"])
        assert drop["hits_s"][0] == drop["start_s"]
        assert (np.diff(drop["hits_s"], 2) < 0.002).all()  # flights shrink
        assert drop["bounces"] >= 4


@pytest.mark.parametrize("rate", [8, 16, 22])
def test_a_minute_is_counted_to_the_stroke(rate: int, tmp_path: Path, capsys: Out) -> None:
    """Twelve seconds of sixteenths: so many a second are as many times 15 quarters a minute."""
    player = Player(follow_click=False, timekeeper_sd_ms=1.0, hand_sd_ms={"R": 1.0, "L": 1.0})
    scene = Scene(noise_snr_db=40, count_in="none")
    tempo = Tempo.parse(f"1/4={15 * rate}")
    take = simulate(parse_exercise("1/16: RLRL"), tempo, 3 * rate, player=player, scene=scene, seed=rate)
    write_wav(tmp_path / "TAKE.wav", take.samples, take.rate_hz)
    said = said_json(capsys, "minute", str(tmp_path / "TAKE.wav"))
    assert said["strokes"] == 12 * rate
    assert said["seconds"] == pytest.approx(12, abs=0.2)
    assert said["per_minute"] == pytest.approx(60 * rate, rel=0.02)
    times_s, rates = zip(*said["rate_per_s"], strict=True)
    assert list(times_s) == sorted(times_s)
    assert rates == pytest.approx([rate] * len(rates), rel=0.05)
    assert {"value", "ci95"} <= set(said["tiring_per_minute"])


def test_a_ceiling_is_found_in_the_beat_of_the_list(tmp_path: Path, capsys: Out) -> None:
    """An invented player, steady at 90 and 110 quarters a minute, audibly rough at 130."""
    rows = ["file,exercise,tempo"]
    for bpm, spread_ms in ((90, 1.0), (110, 2.0), (130, 14.0)):
        player = Player(timekeeper_sd_ms=1.0, hand_sd_ms={"R": spread_ms, "L": spread_ms})
        play(tmp_path / f"{bpm}.wav", EXERCISE, bpm, 8, player)
        rows.append(f"{bpm}.wav,{EXERCISE},1/8={2 * bpm}")
    (tmp_path / "LIST.csv").write_text("\n".join(rows), "utf-8")
    said = said_json(capsys, "ceiling", str(tmp_path / "LIST.csv"))
    assert {"ceiling_bpm", "hands", "next_tempo_bpm", "enough"} <= set(said)
    assert 220 <= said["ceiling_bpm"]["value"] <= 260  # eighths, as the list has it
    assert is_figure(said["ceiling_bpm"])
    assert set(said["hands"]) == {"R", "L"}
    assert said["enough"] is True
    assert said["next_tempo_bpm"] is None  # nothing more to find out


def test_the_next_tempo_is_at_most_a_tenth_faster_than_went_well(tmp_path: Path, capsys: Out) -> None:
    """From one take that went well nothing bounds the ceiling: it says what to try next."""
    play(tmp_path / "90.wav", EXERCISE, 90, 8, Player(timekeeper_sd_ms=1.0, hand_sd_ms={"R": 1.0, "L": 1.0}))
    (tmp_path / "LIST.csv").write_text(f"file,exercise,tempo\n90.wav,{EXERCISE},1/4=90\n", "utf-8")
    said = said_json(capsys, "ceiling", str(tmp_path / "LIST.csv"))
    assert said["enough"] is False
    assert said["ceiling_bpm"]["value"] is None
    assert 90 < said["next_tempo_bpm"] <= 1.1 * 92  # the tempo heard may be a little off 90


PLAN = ["plan", "--minutes", "20", "--days", "5", "--stage", "tap", "--seed", "1", "--starts", "2026-11-30"]
ITEM = {"exercise", "stroke", "tempo", "beat", "repetitions", "seconds", "rest_s", "why"}
ITEM |= {"block", "purpose", "goes", "pause_s"}


def check_days(plan: dict[str, Any], *, days: int, seconds: float) -> None:
    """See that every day adds up to its seconds, within 15 s of what was asked, and says why."""
    assert len(plan["days"]) == days
    for day in plan["days"]:
        assert {"seconds", "items"} <= set(day)
        assert abs(day["seconds"] - seconds) <= 15
        assert sum(item["seconds"] + item["rest_s"] for item in day["items"]) == pytest.approx(day["seconds"])
        for item in day["items"]:
            assert set(item) - {"title"} == ITEM
            assert item["stroke"] in {"tap", "half", "full", None}  # none before the stick rebounds
            assert item["why"]
            parse_exercise(item["exercise"])
            Tempo.parse(item["tempo"])


def test_a_plan_adds_up_and_is_the_same_again(capsys: Out) -> None:
    plan = said_json(capsys, *PLAN)
    check_days(plan, days=5, seconds=1200)
    assert any(item["stroke"] == "tap" for day in plan["days"] for item in day["items"])
    assert said_json(capsys, *PLAN) == plan


@pytest.mark.parametrize("stage", ["rebound", "half", "full", "building speed", "rebound doubles"])
def test_every_stage_has_its_week(stage: str, capsys: Out) -> None:
    plan = said_json(capsys, "plan", "--minutes", "15", "--days", "3", "--stage", stage, "--seed", "2")
    check_days(plan, days=3, seconds=900)


def test_a_plan_comes_as_calendar_and_sheet(tmp_path: Path, capsys: Out) -> None:
    ics, sheet = tmp_path / "F.ics", tmp_path / "F.pdf"
    check_days(said_json(capsys, *PLAN, "--ics", str(ics), "--sheet", str(sheet)), days=5, seconds=1200)
    events = icalendar.Calendar.from_ical(ics.read_bytes()).walk("VEVENT")
    assert len(events) == 5
    lasting = {(event.decoded("dtend") - event.decoded("dtstart")).total_seconds() for event in events}
    assert lasting == {1200}
    assert "see a clinician" in " ".join(
        " ".join(page.extract_text() for page in pypdf.PdfReader(sheet).pages).split()
    )


def test_a_plan_rests_on_the_history_and_the_book(tmp_path: Path, capsys: Out) -> None:
    """The left hand is 6 dB weak in the one take there is; the book's exercises lead."""
    (tmp_path / "DIR").mkdir()
    play(tmp_path / "DIR" / "take.wav", EXERCISE, 60, 8, Player(level_db={"R": 0.0, "L": -6.0}))
    table = f"date,file,exercise,tempo\n2026-11-23,take.wav,{EXERCISE},1/4=60\n"
    (tmp_path / "DIR" / "takes.csv").write_text(table, "utf-8")
    book = ["1/16: RLRR LRLL", "1/16: RLLL RLLL", "1/16: RLRL RLRL"]
    (tmp_path / "BOOK.txt").write_text("\n".join(book), "utf-8")
    asked = ["--history", str(tmp_path / "DIR"), "--book", str(tmp_path / "BOOK.txt")]
    plan = said_json(capsys, *PLAN, *asked)
    check_days(plan, days=5, seconds=1200)
    items = [item for day in plan["days"] for item in day["items"]]
    own = [item for item in items if item["exercise"] in book]
    assert own
    assert any(item["block"] == "focus" for item in own)
    assert any("left" in item["why"] for item in items)
