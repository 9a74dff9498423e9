"""A teacher changes the path in the studio, and every student keeps a place."""

from __future__ import annotations

import html
import re
from pathlib import Path

import pytest

from evenhand.acts.weeks.path import path_from_toml
from evenhand.progress.stages.path import Stage
from evenhand.progress.stages.usual import COMMON_PATH
from evenhand.studio.path import path_of
from evenhand.studio.stage_form import read_stage, typed_stage
from tests.desks import ADesk, a_desk, words_of

FIRST, SECOND, THIRD = (stage.name for stage in COMMON_PATH.stages[:3])


@pytest.fixture
def desk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> ADesk:
    return a_desk(tmp_path, monkeypatch)


def typed_in(page: str) -> dict[str, str]:
    """Read a form as a browser sends it."""
    typed = {}
    for tag in re.findall(r"<input[^>]*>", page):
        name, value = (re.search(rf'{key}="([^"]*)"', tag) for key in ("name", "value"))
        if name and value and ('type="checkbox"' not in tag or " checked" in tag):
            typed[html.unescape(name[1])] = html.unescape(value[1])
    for name, inside in re.findall(r'<select[^>]*name="([^"]+)"[^>]*>(.*?)</select>', page, re.DOTALL):
        chosen = re.search(r'<option(?: value="([^"]*)")? selected>([^<]*)', inside)
        typed[name] = html.unescape(chosen[1] or chosen[2]) if chosen else ""
    words = re.search(r"<textarea[^>]*>(.*?)</textarea>", page, re.DOTALL)
    typed["words"] = html.unescape(words[1]) if words else ""
    return typed


@pytest.mark.parametrize("stage", COMMON_PATH.stages, ids=lambda stage: stage.name)
def test_a_stage_that_is_not_touched_stays_as_it_was(stage: Stage) -> None:
    assert read_stage(typed_stage(stage), stage) == stage


def test_a_stage_gets_another_name_and_bounds_and_keeps_its_students(desk: ADesk) -> None:
    student = desk.studio.students.add("Nora Veldt", stage=SECOND)
    form = typed_in(desk.get(f"/path/stage?name={SECOND}").text)
    assert form["name"] == SECOND
    changed = {**form, "name": "Letting fall", "rate_to": "1.5", "bound_0": "12", "words": "Let it fall."}
    answer = desk.post("/path/stage", **changed)
    assert answer.status_code == 303
    stage = path_of(desk.studio).stages[1]
    assert (stage.name, stage.rate_per_s[1], stage.words) == ("Letting fall", 1.5, "Let it fall.")
    assert stage.conditions[0].bound == 12
    assert len(stage.conditions) == len(COMMON_PATH.stages[1].conditions)
    assert desk.studio.students.get(student.id).stage == "Letting fall"
    words = words_of(desk.get("/path").text)
    assert "This is your own path." in words
    assert "One student: Nora Veldt" in words


def test_what_must_be_seen_is_chosen_with_when_it_holds_back(desk: ADesk) -> None:
    form = typed_in(desk.get(f"/path/stage?name={SECOND}").text)
    number = next(key[8:] for key, value in form.items() if value == "free_percent")
    assert form[f"holds_{number}"] == "never"
    desk.post("/path/stage", **{**form, f"holds_{number}": "always", f"bound_{number}": "60"})
    (asked,) = [each for each in path_of(desk.studio).stages[1].conditions if each.measure == "free_percent"]
    assert (asked.bound, asked.holds) == (60.0, "always")
    words = words_of(desk.get("/path").text)
    assert "heights within the stroke's class, each hand: at least 80 % (preferred, if filmed)" in words


def test_a_stage_is_moved_taken_out_and_the_usual_path_comes_back(desk: ADesk) -> None:
    student = desk.studio.students.add("Nora Veldt", stage=SECOND)
    desk.post("/path/change", name=SECOND, act="up")
    assert [stage.name for stage in path_of(desk.studio).stages[:2]] == [SECOND, FIRST]
    assert f"Nora Veldt will be in {FIRST}." in words_of(desk.get("/path").text)
    desk.post("/path/change", name=SECOND, act="remove")
    assert desk.studio.students.get(student.id).stage == FIRST
    assert path_of(desk.studio).stage(SECOND) is not None  # a week of that stage still finds one
    desk.post("/path/change", act="usual")
    assert path_of(desk.studio) == COMMON_PATH
    assert desk.studio.students.get(student.id).stage == FIRST


def test_a_stage_is_added_after_another(desk: ADesk) -> None:
    form = typed_in(desk.get(f"/path/stage?after={SECOND}").text)
    assert form["name"] == ""
    desk.post("/path/stage", **{**form, "name": "Waiting", "measure_0": "days", "bound_0": "2"})
    added = path_of(desk.studio).stages[2]
    assert (added.name, added.conditions[0].measure) == ("Waiting", "days")


@pytest.mark.parametrize(
    ("field", "typed", "words"),
    [
        ("name", "", "the name"),
        ("name", THIRD, "a second time"),
        ("rate_to", "fast", "got fast as rate to; must be a number"),
        ("rate_to", "0", "rate_per_s"),
        ("repetitions_from", "2.5", "must be a whole number"),
        ("record", "1/8: RLX", "X"),
        ("measure_0", "charm", "the measure"),
    ],
)
def test_what_cannot_be_kept_is_named_and_comes_back(desk: ADesk, field: str, typed: str, words: str) -> None:
    form = typed_in(desk.get(f"/path/stage?name={SECOND}").text)
    answer = desk.post("/path/stage", **{**form, "words": "Still here.", field: typed})
    assert answer.status_code == 422
    assert words in words_of(answer.text)
    assert "Still here." in answer.text
    assert path_of(desk.studio) == COMMON_PATH


def test_the_path_goes_out_and_comes_in_as_a_file(desk: ADesk) -> None:
    desk.post("/path/change", name=SECOND, act="up")
    text = desk.get("/path/path.toml").text
    desk.post("/path/change", act="usual")
    desk.client.post("/path/read", data={"csrf": desk.csrf}, files={"path": ("path.toml", text)})
    assert path_of(desk.studio) == path_from_toml(text, name="it")
    bad = desk.client.post("/path/read", data={"csrf": desk.csrf}, files={"path": ("p.toml", "stage = 1")})
    assert bad.status_code == 422
    assert "the path" in words_of(bad.text)


def test_a_stage_that_is_not_there_has_no_form(desk: ADesk) -> None:
    assert desk.get("/path/stage?name=wizard").status_code == 404
    assert desk.post("/path/change", name="wizard", act="up").status_code == 422
