"""Which model stands with an exercise, and what a take beside it says."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

from evenhand.acts.takes.document import json_text
from evenhand.studio.takes.models import beside_model, model_of
from evenhand.studio.takes.shown import shown_heard
from evenhand.studio.values import StudioTake
from tests.builders import a_heard_take

AT = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)


def a_take(name: str, exercise: str = "1/8: RLRR LRLL", tempo: str = "1/8 = 140", **more: Any) -> StudioTake:
    facts = {"upload_key": name, "recorded_at": AT, "received_at": AT, "recording": "ab/cd.flac", **more}
    return StudioTake(name, "nora", exercise=exercise, tempo=tempo, source="teacher", status="heard", **facts)


def test_the_model_at_the_tempo_goes_before_a_nearer_listed_one() -> None:
    models = [a_take("slow", tempo="1/8 = 70"), a_take("there", tempo="1/4 = 70"), a_take("later")]
    found = model_of(models, "4/4 1/8: RLRR LRLL", "1/8 = 140")
    assert found is not None
    assert (found.take.id, found.tempo) == ("there", "")  # 1/4 = 70 is 1/8 = 140
    nearest = model_of(models, "1/8: RLRR LRLL", "1/8 = 80")
    assert nearest is not None
    assert (nearest.take.id, nearest.tempo) == ("slow", "1/8 = 70")


def test_another_exercise_or_a_take_without_sound_is_no_model() -> None:
    models = [
        a_take("other", "1/8: RRLL"),
        a_take("midi", recording="ab/cd.mid"),
        a_take("gone", recording=None),
    ]
    assert model_of(models, "1/8: RLRR LRLL", "1/8 = 140") is None


def test_a_take_like_its_model_differs_in_nothing_and_stands_in_turns_with_it() -> None:
    heard = a_take("one", heard=json_text(a_heard_take()))
    found = beside_model(heard, replace(heard, id="two"))
    assert found is not None
    assert found.differ == ()
    assert found.alike
    assert 'class="stripe"' in found.figure
    assert "Each row marked T, on a stripe, is your teacher; the row under it is you." in found.figure
    assert beside_model(heard, a_take("waits")) is None


def test_of_a_model_nothing_is_said_to_practise() -> None:
    text = json_text(a_heard_take())
    assert "To practise:" in shown_heard(text).findings
    assert "To practise:" not in shown_heard(text, model=True).findings
    assert "weaker" in shown_heard(text, model=True).findings  # but what was heard is said
