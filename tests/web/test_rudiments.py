"""A student's rudiments: heard at which tempo, signed off by the teacher, and taken back."""

from __future__ import annotations

import json
from datetime import date, datetime
from pathlib import Path
from zipfile import ZipFile

import pytest

from evenhand.acts.exercises.rudiments import heard_rungs
from evenhand.music.rudiments import rudiments
from evenhand.progress.history import History
from evenhand.studio.archive import student_archive
from evenhand.studio.signed import signed_rungs, with_signed
from evenhand.web.pages import today
from tests.desks import ADesk, a_desk, a_heard_take, words_of
from tests.unit.planning.weeks import past_take, well

SINGLES, PARADIDDLE = 1, 16


@pytest.fixture
def desk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> ADesk:
    return a_desk(tmp_path, monkeypatch)


def sign(desk: ADesk, student_id: str, act: object = "sign", **fields: object) -> str:
    """Press a button of the page, and give the page that it leads to."""
    answer = desk.post(f"/students/{student_id}/rudiments", act=act, **fields)
    assert answer.status_code == 303
    return words_of(desk.get(answer.headers["location"]).text)


def test_a_tempo_is_signed_off_today_and_taken_back(desk: ADesk) -> None:
    student = desk.studio.students.add("Nora Veldt")
    assert "Signed off so far: 0 of 120." in words_of(desk.get(f"/students/{student.id}/rudiments").text)
    said = sign(desk, student.id, number=PARADIDDLE, rung="middle")
    assert "Signed off so far: 1 of 120." in said
    (kept,) = signed_rungs(desk.studio.students.get(student.id).signed_off).items()
    assert kept == ((PARADIDDLE, "middle"), today())
    assert "Signed off so far: 0 of 120." in sign(
        desk, student.id, "take back", number=PARADIDDLE, rung="middle"
    )
    assert desk.studio.students.get(student.id).signed_off == ""


@pytest.mark.parametrize("fields", [{"number": 41, "rung": "slow"}, {"number": 1, "rung": "gold"}, {}])
def test_what_the_forty_have_not_is_refused_in_words(desk: ADesk, fields: dict[str, object]) -> None:
    student = desk.studio.students.add("Nora Veldt")
    assert "must be" in sign(desk, student.id, **fields)
    assert desk.studio.students.get(student.id).signed_off == ""


def test_what_was_heard_is_shown_with_its_count_and_day(desk: ADesk) -> None:
    student = desk.studio.students.add("Nora Veldt")
    a_heard_take(desk.studio, student.id, datetime.now().astimezone())
    said = words_of(desk.get(f"/students/{student.id}/rudiments").text)
    assert said.count("not heard") >= 3 * 39  # the take is of one rudiment at most
    assert words_of(desk.get(f"/students/{student.id}").text).count("The forty rudiments") == 1


def test_a_rung_counts_what_is_as_fast_or_faster() -> None:
    paradiddle = rudiments()[PARADIDDLE - 1]
    take = past_take(paradiddle.text, "1/8=60", 3, tried=(*well(60, 6), *well(60, 2, controlled=False)))
    slow, middle, _ = heard_rungs(paradiddle, History((take,)))
    assert (slow.repetitions, slow.controlled, slow.newest, slow.in_control) == (8, 6, take.day, True)
    assert (middle.repetitions, middle.newest, middle.in_control) == (0, None, False)


def test_signing_again_keeps_the_first_day_and_other_lines_say_nothing() -> None:
    first = with_signed("", "20", "slow", date(2026, 11, 29))
    assert with_signed(first, "20", "slow", date(2026, 12, 4)) == first
    assert signed_rungs(first + "\n20 slow\n1 gold 2026-11-29\n2 slow tomorrow") == signed_rungs(first)


def test_it_is_in_the_students_export_and_goes_with_the_student(desk: ADesk, tmp_path: Path) -> None:
    student = desk.studio.students.add("Nora Veldt")
    sign(desk, student.id, number=SINGLES, rung="target")
    signed = desk.studio.students.get(student.id)
    place = tmp_path / "all.zip"
    place.write_bytes(b"".join(student_archive(desk.studio, signed, datetime.now().astimezone())))
    with ZipFile(place) as archive:
        texts = [archive.read(name).decode() for name in archive.namelist() if name.endswith(".json")]
    assert any(json.loads(text).get("student", {}).get("signed_off") == signed.signed_off for text in texts)
    desk.studio.students.erase(student.id)
    assert desk.get(f"/students/{student.id}/rudiments").status_code == 404
