"""What is written keeps to the schema that is shipped, and the schema keeps to the domain's words."""

from __future__ import annotations

import json
from importlib.resources import files
from typing import Any, get_args

import pytest
from jsonschema import Draft202012Validator, ValidationError

from evenhand.acts.takes.document import SCHEMA_ID, as_json, json_text
from evenhand.measuring.values import FindingKind, HeardTake
from evenhand.take import Heard
from tests.builders import a_blind_take, a_heard_take

SCHEMA: dict[str, Any] = json.loads(files("evenhand").joinpath("schema/listen-2.json").read_text("utf-8"))


def check(take: HeardTake) -> None:
    Draft202012Validator(SCHEMA).validate(json.loads(json_text(take)))


def test_the_schema_is_one() -> None:
    Draft202012Validator.check_schema(SCHEMA)
    assert SCHEMA["$id"] == SCHEMA_ID


def test_takes_heard_with_and_without_an_exercise_keep_to_it() -> None:
    check(a_heard_take())
    check(a_blind_take())
    check(a_blind_take(heard=Heard(())))


def test_every_key_that_is_written_is_in_the_schema_and_needed() -> None:
    assert set(as_json(a_heard_take())) == set(SCHEMA["properties"]) == set(SCHEMA["required"])


def test_the_schema_knows_every_kind_of_finding() -> None:
    assert set(SCHEMA["$defs"]["finding"]["properties"]["kind"]["enum"]) == set(get_args(FindingKind))


@pytest.mark.parametrize(
    ("key", "wrong"),
    [
        ("clock", "sundial"),
        ("tempo_bpm", {"value": 3.0, "unit": "bpm", "n": 3}),
        ("hands", {"X": {}}),
        ("hits", [{"time_s": 1.0}]),
        ("extra", [{"time_s": 1.0, "level_db": "loud"}]),
        ("more", 1),
    ],
)
def test_the_schema_refuses_what_is_not_the_contract(key: str, wrong: object) -> None:
    with pytest.raises(ValidationError):
        Draft202012Validator(SCHEMA).validate(as_json(a_heard_take()) | {key: wrong})
