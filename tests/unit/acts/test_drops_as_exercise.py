"""Drops that are assigned as an exercise are heard as drops, each with its hand."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from evenhand.acts.takes.document import heard_take_of, json_text
from evenhand.acts.takes.drops import past_drops
from evenhand.acts.takes.hear import hear_take
from evenhand.acts.takes.history import read_history
from evenhand.acts.takes.request import TakeRequest
from evenhand.media.open_take import open_take
from evenhand.media.write import write_wav
from evenhand.music.exercise import Tempo
from evenhand.music.text import parse_exercise
from evenhand.progress.history import History, PastBounce
from evenhand.progress.stages.advising import advise
from evenhand.progress.stages.usual import COMMON_PATH
from evenhand.report.words.remarks import doubts_of
from evenhand.report.words.take import student_sentence
from evenhand.synthesis.drops import Drop, record_drops
from evenhand.synthesis.instruments import Scene

DAY = date(2026, 3, 2)
TEXT = "1/2: R- L-"
TEMPO = 4 * 60 / 2.85  # a drop from 20 cm at e = 0.8 rings 1.95 s, and the next comes 0.9 s later
FREE, HELD = Drop(20, 0.8), Drop(20, 0.8, damped_after=3, damped_restitution=0.3)


@pytest.fixture
def recorded(tmp_path: Path) -> Path:
    """Record six drops from hand to hand, as the exercise says; the last is stopped by a finger."""
    take = record_drops([FREE, FREE, FREE, FREE, FREE, HELD], Scene(noise_snr_db=45), 6)
    write_wav(tmp_path / "drops.wav", take.samples, take.rate_hz)
    return tmp_path / "drops.wav"


def heard_as_exercise(place: Path, bpm: float) -> PastBounce:
    """Hear it as the studio does: kept as JSON, and read again."""
    asked = TakeRequest.read(TEXT, f"1/4={bpm:g}")
    kept = heard_take_of(json_text(hear_take(place, asked, opens=open_take)))
    found = past_drops(kept, parse_exercise(TEXT), Tempo.parse(f"1/4={bpm:g}"), DAY)
    assert found is not None
    return found


def test_each_drop_has_its_hand_and_what_a_finger_stopped_is_damped(recorded: Path) -> None:
    drops = heard_as_exercise(recorded, TEMPO).drops
    assert [drop.label for drop in drops] == ["R", "L", "R", "L", "R", "L"]
    assert [drop.kind for drop in drops] == ["free", "free", "free", "free", "free", "damped"]
    assert all(drop.bounces >= 9 for drop in drops if drop.kind == "free")


def test_what_was_heard_is_said_in_drops_and_not_as_something_unlike_the_exercise(recorded: Path) -> None:
    heard = hear_take(recorded, TakeRequest.read(TEXT, f"1/4={TEMPO:g}"), opens=open_take)
    kept = heard_take_of(json_text(heard))
    said = "6 drops, 5 left to bounce out by themselves. Leave the stick alone until it lies still."
    assert (student_sentence(kept), doubts_of(kept), kept.heard.unlike) == (said, [], None)


def test_the_first_stage_is_met_by_its_own_exercise(recorded: Path) -> None:
    twice = tuple(heard_as_exercise(recorded, TEMPO) for _ in range(2))
    judged = advise(History((), twice), COMMON_PATH, "rebound").judged
    assert {each.condition.measure: each.verdict for each in judged} == {
        "free_drops": "met",
        "bounces": "met",
    }
    assert set(judged[0].hands) == {"R", "L"}


def test_in_a_folder_a_take_of_drops_is_a_bounce_test(recorded: Path) -> None:
    row = f"2026-03-02,drops.wav,{TEXT},1/4={TEMPO:g}"
    (recorded.parent / "takes.csv").write_text(f"date,file,exercise,tempo\n{row}\n", "utf-8")
    history = read_history(recorded.parent, opens=open_take)
    assert (history.takes, history.left_out) == ((), ())
    assert [drop.label for drop in history.bounces[0].drops] == ["R", "L", "R", "L", "R", "L"]


def test_another_exercise_has_no_drops(recorded: Path) -> None:
    heard = hear_take(recorded, TakeRequest.read(None, None), opens=open_take)
    assert past_drops(heard, parse_exercise("1/8: RLRL"), Tempo.parse("1/4=60"), DAY) is None
