"""Hearing a take: the sound goes to the ear, the hits to the measures, and nothing is made up."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import evenhand
import evenhand.hearing.listen as ear
import evenhand.measuring.measure as figures
import evenhand.measuring.rules.findings as rules
from evenhand.acts.takes.hear import hear_take
from evenhand.acts.takes.request import TakeRequest
from evenhand.errors import NothingHeard, UnreadableRecording
from evenhand.take import EAR, ExtraHit, Heard, Hit, Remark
from evenhand.testing import FakeTakes, midi_take, sound_take
from tests.builders import a_heard_take

GUIDED = TakeRequest.read("1/8: RLRR LRLL", "1/8=140", "heard")
ONE_HIT = Heard((Hit(0.5, -12.0, 1.0),))
TAKES = FakeTakes(
    {"a.wav": sound_take(np.zeros(480, np.float32)), "a.mid": midi_take([0.0, 0.5], [-6.0, -9.0])}
)


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch) -> dict[str, Any]:
    """Put an ear and measures in place that write down what they were asked."""
    asked: dict[str, Any] = {}

    def listen(samples: Any, rate_hz: int, **how: Any) -> Heard:
        asked.update(samples=len(samples), rate_hz=rate_hz, **how)
        if how["progress"] is not None:
            how["progress"](0.5)
        return ONE_HIT

    def listen_to_blows(times_s: Any, levels_db: Any, **how: Any) -> Heard:
        asked.update(times_s=list(times_s), levels_db=list(levels_db), **how)
        return ONE_HIT

    monkeypatch.setattr(ear, "listen", listen)
    monkeypatch.setattr(ear, "listen_to_blows", listen_to_blows, raising=False)
    monkeypatch.setattr(figures, "measure", lambda *_: a_heard_take().measures)
    monkeypatch.setattr(rules, "find", lambda *_: a_heard_take().findings, raising=False)
    return asked


def test_sound_goes_to_the_ear_with_what_it_is_to_be_heard_as(asked: dict[str, Any]) -> None:
    take = hear_take(Path("a.wav"), GUIDED, opens=TAKES)
    assert (asked["samples"], asked["rate_hz"], asked["click"]) == (480, 48_000, "heard")
    assert asked["exercise"] is GUIDED.exercise
    assert (take.name, take.version, take.exercise_text) == ("a.wav", evenhand.__version__, "1/8: RLRR LRLL")
    assert take.findings == a_heard_take().findings


def test_blows_of_a_pad_need_no_ear(asked: dict[str, Any]) -> None:
    take = hear_take(Path("a.mid"), GUIDED, opens=TAKES)
    assert (asked["times_s"], asked["levels_db"]) == ([0.0, 0.5], [-6.0, -9.0])
    assert take.input.format == "midi"


@pytest.mark.usefixtures("asked")
def test_blind_there_is_nothing_to_measure_against() -> None:
    take = hear_take(Path("a.wav"), TakeRequest(), opens=TAKES)
    assert take.measures is None
    assert take.findings == ()


@pytest.mark.usefixtures("asked")
def test_progress_rises_from_opening_to_hearing() -> None:
    told: list[float] = []
    hear_take(Path("a.wav"), GUIDED, opens=TAKES, progress=told.append)
    assert told == [0.5, 0.75]


@pytest.mark.usefixtures("asked")
def test_a_take_without_strokes_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(ear, "listen", lambda *_, **__: Heard(()))
    with pytest.raises(NothingHeard, match=r"a\.wav: there is sound, but no hits"):
        hear_take(Path("a.wav"), GUIDED, opens=TAKES)


@pytest.mark.usefixtures("asked")
def test_strokes_that_fit_no_note_are_an_answer_and_no_refusal(monkeypatch: pytest.MonkeyPatch) -> None:
    unlike = Heard((), extra=(ExtraHit(0.5, -9.0),), unlike=Remark("no note found"))
    monkeypatch.setattr(ear, "listen", lambda *_, **__: unlike)
    assert hear_take(Path("a.wav"), GUIDED, opens=TAKES).heard == replace(unlike, ear=EAR)


def test_what_cannot_be_opened_is_said_by_the_one_who_opens() -> None:
    with pytest.raises(UnreadableRecording, match=r"gone\.wav: there is no such take"):
        hear_take(Path("gone.wav"), GUIDED, opens=TAKES)
