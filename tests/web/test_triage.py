"""What to hear first: each reason by a take that has it, their order, and what goes out once it was heard."""

from __future__ import annotations

import json
from datetime import timedelta
from pathlib import Path

import pytest

from evenhand.studio.values import Said, StudioTake
from evenhand.studio.whole.triage import BACK, Gists, ToHear, to_hear
from evenhand.web.pages import now
from tests import desks
from tests.desks import LATE, TEXT, ADesk, a_desk, a_heard_take, heard_json, words_of
from tests.studios import a_new_take

EVEN: tuple[str, ...] = ()
LATER = ("late-hand=L:40",)


@pytest.fixture
def desk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> ADesk:
    monkeypatch.setattr(desks, "PLACES", (*desks.PLACES, "takes"))
    return a_desk(tmp_path, monkeypatch)


def heard(
    desk: ADesk, name: str, days_ago: float, faults: tuple[str, ...] = EVEN, **changes: object
) -> StudioTake:
    """Let a take of somebody come, so many days ago; the exercise is the same, the tempo as it is said."""
    student = next((each for each in desk.studio.students.all() if each.name == name), None)
    student = student or desk.studio.students.add(name)
    tempo = changes.pop("tempo", None)
    take = a_heard_take(
        desk.studio, student.id, now() - timedelta(days=days_ago), heard=heard_json(faults, 24, 3), **changes
    )
    return take if tempo is None else desk.studio.takes.change(take.id, tempo=tempo)


def rows(desk: ADesk) -> dict[str, ToHear]:
    return {row.take.id: row for row in to_hear(desk.studio, now(), Gists())}


def kinds(row: ToHear) -> list[str]:
    return [reason.kind for reason in row.reasons]


def test_a_finding_is_new_or_worse_than_in_the_take_before(desk: ADesk) -> None:
    """Late by 24 and by 40 ms: far more apart than the simulated player scatters over 24 repetitions."""
    even = heard(desk, "Nora Veldt", 5)
    new = heard(desk, "Nora Veldt", 4, LATE)
    worse = heard(desk, "Nora Veldt", 3, LATER)
    same = heard(desk, "Nora Veldt", 2, LATER)
    better = heard(desk, "Nora Veldt", 1, LATE)
    found = rows(desk)
    assert [kinds(found[each.id]) for each in (even, new, worse, same, better)] == [
        [],
        ["new"],
        ["worse"],
        [],
        [],
    ]
    (reason,) = found[worse.id].reasons
    assert reason.before is not None
    assert reason.before.id == new.id
    assert list(found) == [new.id, worse.id, even.id, same.id, better.id]


def test_what_comes_and_goes_from_take_to_take_is_not_new_each_time(desk: ADesk) -> None:
    heard(desk, "Nora Veldt", 9)
    first = heard(desk, "Nora Veldt", 6, LATE)
    heard(desk, "Nora Veldt", 5)
    again = heard(desk, "Nora Veldt", 4, LATE)
    for days_ago in (3, 2, 1.5):
        heard(desk, "Nora Veldt", days_ago)
    after_three = heard(desk, "Nora Veldt", 1, LATE)
    found = rows(desk)
    assert [kinds(found[each.id]) for each in (first, again, after_three)] == [["new"], [], ["new"]]


def test_another_s_or_another_exercise_s_take_is_not_the_one_before(desk: ADesk) -> None:
    heard(desk, "Ida Quill", 5, LATE)
    other = heard(desk, "Nora Veldt", 4)
    desk.studio.takes.change(other.id, exercise="1/8: RRLL RRLL")
    first = heard(desk, "Nora Veldt", 3, LATE)
    assert kinds(rows(desk)[first.id]) == []


def test_a_take_faster_than_all_before_is_pointed_out(desk: ADesk) -> None:
    """Tempos on different notes are compared: 1/4 = 85 is 1/8 = 170."""
    heard(desk, "Nora Veldt", 5, tempo="1/8=150")
    heard(desk, "Nora Veldt", 4, tempo="1/8=160")
    slower = heard(desk, "Nora Veldt", 3, tempo="1/8=155")
    faster = heard(desk, "Nora Veldt", 2, tempo="1/4=85")
    found = rows(desk)
    assert kinds(found[slower.id]) == []
    (reason,) = found[faster.id].reasons
    assert (reason.kind, reason.takes) == ("tempo", 3)
    assert reason.before is not None
    assert reason.before.tempo == "1/8=160"


def test_what_is_asked_failed_or_doubtful_goes_before_and_who_waits_is_said(desk: ADesk) -> None:
    student = desk.studio.students.add("Theo Marchbank")
    failed, _ = desk.studio.takes.receive(a_new_take(student.id, "b", recorded_at=now()), b"2")
    desk.studio.queue.took_failed(failed.id, "Nothing but silence.")
    waits = heard(desk, "Nora Veldt", 8)
    new = heard(desk, "Nora Veldt", 4, LATE)
    asked = heard(desk, "Ida Quill", 1)
    document = json.loads(heard_json(EVEN, 24, 3))
    document["remarks"]["ambiguity"] = {"kind": "written", "facts": {"text": "Two alignments fit."}}
    doubtful = heard(desk, "Una Marsh", 2)
    desk.studio.takes.change(doubtful.id, heard=json.dumps(document))
    new_words = Said("s", asked.student_id, "student", now(), take_id=asked.id, text="Is the left too low?")
    desk.studio.threads.say(new_words)
    desk.studio.takes.listened([asked.id])
    found = to_hear(desk.studio, now(), Gists())
    assert [kinds(row) for row in found] == [["question"], ["doubt"], ["failed"], ["new"], ["waits"]]
    assert [row.take.id for row in found] == [asked.id, doubtful.id, failed.id, new.id, waits.id]
    assert "The student: “Is the left too low?”" in words_of(desk.get("/hear").text)
    desk.studio.threads.read(["s"])
    assert asked.id not in rows(desk)


def test_what_is_old_heard_or_the_teacher_s_is_not_there(desk: ADesk) -> None:
    heard(desk, "Nora Veldt", BACK.days + 1)
    heard(desk, "Nora Veldt", 3, source="teacher", model=True)
    done = heard(desk, "Nora Veldt", 2)
    left = heard(desk, "Nora Veldt", 1)
    desk.post(f"/takes/{done.id}/listened")
    assert list(rows(desk)) == [left.id]
    desk.post(f"/takes/{done.id}/listened", act="take back")
    assert set(rows(desk)) == {done.id, left.id}
    archived = desk.studio.students.all()[0]
    desk.studio.students.change(archived.id, archived=True)
    assert rows(desk) == {}


def test_words_to_a_take_say_that_it_was_heard(desk: ADesk) -> None:
    take = heard(desk, "Nora Veldt", 1)
    desk.post(f"/takes/{take.id}/words", words="Well begun.")
    assert rows(desk) == {}


def test_a_gist_is_read_once_and_of_a_corrected_take_each_time(desk: ADesk) -> None:
    take = heard(desk, "Nora Veldt", 1, LATE)
    gists = Gists()
    (outline,) = desk.studio.takes.outlines(now() - BACK)
    assert gists.of(desk.studio, [outline])[take.id].faults
    desk.studio.takes.change(take.id, heard=heard_json(EVEN, 24, 3))
    assert gists.of(desk.studio, [outline])[take.id].faults
    desk.studio.takes.change(take.id, corrected=True)
    (outline,) = desk.studio.takes.outlines(now() - BACK)
    assert not gists.of(desk.studio, [outline])[take.id].faults
    desk.studio.takes.change(take.id, heard="{}")
    assert not gists.of(desk.studio, [outline])[take.id].faults


def test_the_page_says_why_and_notes_what_was_heard(desk: ADesk) -> None:
    heard(desk, "Nora Veldt", 5)
    late = heard(desk, "Nora Veldt", 3, LATE)
    shown = desk.get("/hear")
    words = words_of(shown.text)
    assert "2 takes of the last 28 days that you have not heard." in words
    assert "The left hand comes" in words
    assert "not in the take before:" in words
    assert TEXT in words
    said = desk.post("/hear/listened", take=[late.id, "unknown"])
    assert "Noted: 1 take heard." in words_of(desk.get(said.headers["location"]).text)
    assert late.id not in desk.get("/hear").text
    assert "1 take of the last 28 days" in words_of(desk.get(f"/hear?of={late.student_id}").text)
