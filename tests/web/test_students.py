"""Students: taking in one or many, the private link shown once, consent, archive, export, erasing."""

from __future__ import annotations

import re
from base64 import b64decode
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from evenhand.acts.weeks.document import plan_to_json
from evenhand.music.exercise import Tempo
from evenhand.music.text import parse_exercise
from evenhand.planning.practice import PracticeDay, PracticeItem, PracticePlan
from evenhand.report.plots.shell import face_rules
from evenhand.studio.students import Wrong, heard_takes, read_fields, stage_since, take_in
from evenhand.studio.students import read_table as read_students
from evenhand.studio.values import Student, Week
from evenhand.web.pages import today, weekday_words
from tests.desks import ADesk, a_desk, a_heard_take, words_of

FACTS = {"stage": "tap", "lesson_day": "Monday", "lesson_time": "16:30", "minutes": "20", "days": "5"}


@pytest.fixture
def desk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> ADesk:
    return a_desk(tmp_path, monkeypatch)


def now() -> datetime:
    return datetime.now().astimezone()


def test_a_student_is_added_and_the_link_is_shown_once(desk: ADesk) -> None:
    shown = desk.post("/students", name="Nora Veldt", **FACTS)
    assert shown.status_code == 200
    assert shown.headers["cache-control"] == "no-store"
    (student,) = desk.studio.students.all()
    assert (student.stage, student.lesson_day, student.lesson_time) == ("tap", 0, "16:30")
    found = re.search(r'value="http://testserver/s/([^"]+)"', shown.text)
    assert found is not None
    assert desk.studio.access.student_of_link(found[1]) == student
    assert "<svg" in shown.text  # the code for a camera
    assert found[1] not in desk.get(f"/students/{student.id}").text


@pytest.mark.parametrize(
    ("field", "typed", "said"),
    [
        ("name", " ", "The name must be 1 to 80 characters"),
        ("name", "N" * 81, "The name must be 1 to 80 characters"),
        ("stage", "wizard", "The stage must be one of rebound, half"),
        ("lesson_day", "Caturday", "must be a weekday such as Monday or Mon; got “Caturday”"),
        ("lesson_time", "25:00", "The time must be such as 16:30 or 4:30 pm; got “25:00”"),
        ("minutes", "0", "a number from 1 to 240"),
        ("minutes", "nan", "a number from 1 to 240"),
        ("days", "8", "a whole number from 1 to 7"),
    ],
)
def test_what_is_wrong_comes_back_with_all_that_was_typed(
    desk: ADesk, field: str, typed: str, said: str
) -> None:
    shown = desk.post("/students", **{"name": "Nora Veldt", **FACTS, field: typed})
    assert shown.status_code == 422
    assert said in words_of(shown.text)
    assert 'value="20"' in shown.text or field == "minutes"
    assert desk.studio.students.all() == []


def test_two_students_of_one_name_are_told_apart(desk: ADesk) -> None:
    desk.studio.students.add("Nora Veldt")
    shown = desk.post("/students", name="nora  veldt", **FACTS)
    assert shown.status_code == 422
    assert "there is a student called nora veldt already" in words_of(shown.text).replace("There", "there")


def test_many_are_invited_from_a_table(desk: ADesk) -> None:
    heading = "name;stage;minor;lesson day;lesson time;minutes;days"
    table = f"{heading}\nAda Wyndham;tap;no;Mon;4:30 pm;25;6\nBo Field;;yes;;;;\n"
    shown = desk.post("/students/invite", table=table)
    assert shown.status_code == 200
    ada, bo = desk.studio.students.all()
    assert (ada.stage, ada.lesson_day, ada.lesson_time, ada.minutes_a_day, ada.days_a_week) == (
        "tap",
        0,
        "16:30",
        25.0,
        6,
    )
    assert (bo.stage, bo.minor, bo.lesson_day) == ("rebound", True, None)
    assert len(re.findall(r"http://testserver/s/", shown.text)) == 2


def test_a_table_may_come_as_a_file(desk: ADesk) -> None:
    answer = desk.client.post(
        "/students/invite",
        data={"csrf": desk.csrf, "table": ""},
        files={"file": ("students.csv", "\ufeffname,stage\nAda Wyndham,half\n".encode(), "text/csv")},
    )
    assert answer.status_code == 200
    assert [student.stage for student in desk.studio.students.all()] == ["half"]


def test_a_file_that_is_no_text_is_refused_in_words(desk: ADesk) -> None:
    answer = desk.client.post(
        "/students/invite",
        data={"csrf": desk.csrf, "table": ""},
        files={"file": ("students.xlsx", b"PK\x03\x04\xff\xfe", "application/zip")},
    )
    assert answer.status_code == 422
    assert "The table must be text as UTF-8" in words_of(answer.text)


def test_what_is_wrong_in_a_table_is_said_by_row_and_nobody_is_added(desk: ADesk) -> None:
    table = "Ada Wyndham, tap\nBo Field, wizard\nCy Low, tap, no, Mon, 99:00\nAda Wyndham\n"
    shown = desk.post("/students/invite", table=table)
    words = words_of(shown.text)
    assert shown.status_code == 422
    assert "Row 2: The stage must be one of" in words
    assert "Row 3: The time must be such as 16:30" in words
    assert "Row 4: There is a student called Ada Wyndham already" in words
    assert "Bo Field, wizard" in shown.text
    assert desk.studio.students.all() == []


@pytest.mark.parametrize(
    ("table", "wrong"),
    [
        ("", Wrong("rows", "0")),
        ("name,shoe size\nAda,7\n", Wrong("columns", "shoe_size", 1)),
        ("name,name\nAda,Bo\n", Wrong("columns", "name, name", 1)),
        ("Ada,tap,no,Mon,16:30,20,5,more\n", Wrong("cells", "8", 1)),
        ("x\n" * 501, Wrong("rows", "501")),
    ],
)
def test_a_table_that_is_none_is_refused(table: str, wrong: Wrong) -> None:
    found, said = read_students(table)
    assert found == ()
    assert wrong in said


@pytest.mark.parametrize(
    ("text", "day"), [("Mon", 0), ("tuesday", 1), ("We", 2), ("th.", 3), ("", None), ("Sun", 6)]
)
def test_a_day_may_be_written_short(text: str, day: int | None) -> None:
    assert read_fields({"lesson_day": text}) == ({"lesson_day": day}, ())


@pytest.mark.parametrize("text", ["T", "S", "Mo nday", "7"])
def test_a_day_that_may_be_two_is_refused(text: str) -> None:
    assert read_fields({"lesson_day": text})[1] == (Wrong("lesson_day", text),)


def test_nobody_is_added_when_adding_breaks_off(desk: ADesk, monkeypatch: pytest.MonkeyPatch) -> None:
    students = desk.studio.students
    add = students.add

    def breaking(name: str, **fields: Any) -> Student:
        """Take two in, and break at the third."""
        if len(students.all()) == 2:
            raise OSError("the disk is full")
        return add(name, **fields)

    monkeypatch.setattr(students, "add", breaking)
    with pytest.raises(OSError, match="full"):
        take_in(desk.studio, [{"name": name} for name in "abc"])
    assert students.all() == []


def test_a_page_that_is_not_there_is_said_so(desk: ADesk) -> None:
    answer = desk.get("/students/nobody")
    assert answer.status_code == 404
    assert "not found" in answer.text


def test_one_students_page_has_takes_week_and_link(desk: ADesk) -> None:
    student = desk.studio.students.add("Nora Veldt", stage="tap", lesson_day=2, lesson_time="16:30")
    take = a_heard_take(desk.studio, student.id, now() - timedelta(hours=2))
    item = PracticeItem(parse_exercise("1/8: RLRR LRLL"), Tempo.parse("1/8=80"), 4, 60.0, "tap")
    half = PracticeItem(parse_exercise("1/8: RLRL RLRL"), Tempo.parse("1/8=60"), 4, 60.0, "half")
    plan = plan_to_json(PracticePlan((PracticeDay((half, item)), PracticeDay((item,)))))
    sent = now() - timedelta(days=1)
    desk.studio.weeks.save(Week("", student.id, sent.date(), "tap", plan, "Slowly first.", sent, sent))
    shown = desk.get(f"/students/{student.id}")
    words = words_of(shown.text)
    assert "tap · lesson Wednesday 16:30 · 20 min a day, 5 days a week" in words
    assert f'href="/takes/{take.id}"' in shown.text
    assert "The left hand comes" in words
    assert "2 days of up to 2 min" in words
    assert "You wrote: Slowly first." in words
    assert words.index("1/8: RLRL RLRL half") < words.index("1/8: RLRR LRLL tap")  # in the day's order
    assert "There is no link." in words


def test_a_week_sent_ahead_of_the_lesson_is_on_the_page_at_once(desk: ADesk) -> None:
    student = desk.studio.students.add("Nora Veldt", stage="tap")
    item = PracticeItem(parse_exercise("1/8: RLRR LRLL"), Tempo.parse("1/8=80"), 4, 60.0, "tap")
    plan, sent = plan_to_json(PracticePlan((PracticeDay((item,)),))), now()
    tuesday = today() + timedelta(days=3)
    desk.studio.weeks.save(Week("", student.id, tuesday, "tap", plan, "", sent, sent))
    words = words_of(desk.get(f"/students/{student.id}").text)
    assert "Nothing has been sent yet" not in words
    assert (
        f"Sent. It can be seen and begun now. From {weekday_words(tuesday)}, tap: one day of up to" in words
    )


def test_a_plan_that_cannot_be_read_does_not_break_the_page(desk: ADesk) -> None:
    student = desk.studio.students.add("Nora Veldt")
    sent = now() - timedelta(days=1)
    desk.studio.weeks.save(Week("", student.id, sent.date(), "tap", "{}", "", sent, sent))
    assert "This week's plan cannot be read." in words_of(desk.get(f"/students/{student.id}").text)


def test_ten_takes_are_shown_and_the_others_on_demand(desk: ADesk) -> None:
    student = desk.studio.students.add("Nora Veldt")
    for minutes in range(12):
        a_heard_take(desk.studio, student.id, now() - timedelta(hours=1, minutes=minutes))
    here = f"/students/{student.id}"
    assert desk.get(here).text.count('href="/takes/') == 10
    assert desk.get(f"{here}?all").text.count('href="/takes/') == 12
    assert "Older takes" not in desk.get(f"{here}?all").text


def test_notes_and_facts_are_changed_apart(desk: ADesk) -> None:
    student = desk.studio.students.add("Nora Veldt", stage="tap", minor=True)
    here = f"/students/{student.id}"
    assert desk.post(here, part="notes", notes="Left-handed at the table.").status_code == 303
    assert desk.post(here, part="facts", name="Nora Veldt", **FACTS | {"minutes": "35"}).status_code == 303
    changed = desk.studio.students.find(student.id)
    assert changed is not None
    assert (changed.notes, changed.minutes_a_day, changed.minor) == ("Left-handed at the table.", 35.0, False)
    wrong = desk.post(here, part="facts", name="", **FACTS)
    assert wrong.status_code == 422
    assert "The name must be 1 to 80 characters" in words_of(wrong.text)
    assert desk.post(here, part="nonsense").status_code == 422


def test_a_link_is_made_used_and_taken_back(desk: ADesk) -> None:
    student = desk.studio.students.add("Nora Veldt")
    made = desk.post(f"/students/{student.id}/links")
    secret = re.search(r"/s/([^\"]+)\"", made.text)
    assert secret is not None
    (link,) = desk.studio.access.links(student.id)
    assert "not used yet" in desk.get(f"/students/{student.id}").text
    assert desk.studio.access.student_of_link(secret[1]) is not None
    answer = desk.post(f"/links/{link.id}/revoke", student=student.id)
    assert answer.headers["location"].startswith(f"/students/{student.id}?said=")
    assert desk.studio.access.student_of_link(secret[1]) is None
    assert "There is no link." in desk.get(f"/students/{student.id}").text


def test_taking_a_link_back_leads_nowhere_else(desk: ADesk) -> None:
    student = desk.studio.students.add("Nora Veldt")
    _, link = desk.studio.access.make_link(student.id, lasts=timedelta(days=1))
    answer = desk.post(f"/links/{link.id}/revoke", student="//elsewhere.example")
    assert answer.headers["location"].startswith("/students?said=")


def test_a_link_made_on_the_teachers_computer_has_the_address_that_a_phone_needs(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk = a_desk(tmp_path, monkeypatch)
    student = desk.studio.students.add("Nora Veldt")
    here = {"host": "127.0.0.1:8420", "origin": "http://127.0.0.1:8420"}
    desk.client.headers.update(here)
    local = desk.post(f"/students/{student.id}/links").text
    assert "This address works on this computer only" in words_of(local)
    outside = ("https://192.0.2.7:8420", "https://127.0.0.1:8420")
    desk.app.state.settings = replace(desk.app.state.settings, origins=outside)
    reached = desk.post(f"/students/{student.id}/links").text
    assert 'value="https://192.0.2.7:8420/s/' in reached
    assert "This address works on this computer only" not in words_of(reached)


def test_a_minor_needs_somebodys_consent(desk: ADesk) -> None:
    student = desk.studio.students.add("Samir Adeyo", minor=True)
    here = f"/students/{student.id}"
    assert "Nobody has agreed yet" in words_of(desk.get(here).text)
    tomorrow = (date.today() + timedelta(days=1)).isoformat()  # noqa: DTZ011 - the teacher's own day
    assert desk.post(here, part="consent", consent_by="Funmi Adeyo", consent_on=tomorrow).status_code == 422
    assert desk.post(here, part="consent", consent_by="Funmi Adeyo", consent_on="").status_code == 303
    agreed = desk.studio.students.find(student.id)
    assert agreed is not None
    assert agreed.may_record
    assert "Agreed by Funmi Adeyo on" in words_of(desk.get(here).text)
    desk.post(here, part="consent", consent_by="", consent_on="")
    taken_back = desk.studio.students.find(student.id)
    assert taken_back is not None
    assert not taken_back.may_record


def test_archived_students_are_off_the_desk_and_come_back(desk: ADesk) -> None:
    student = desk.studio.students.add("Nora Veldt")
    desk.post(f"/students/{student.id}", part="archive")
    assert desk.studio.students.all() == []
    assert "Archived" in desk.get("/students").text
    desk.post(f"/students/{student.id}", part="archive")
    assert [each.name for each in desk.studio.students.all()] == ["Nora Veldt"]


def test_erasing_needs_the_name(desk: ADesk) -> None:
    student = desk.studio.students.add("Nora Veldt")
    wrong = desk.post(f"/students/{student.id}/erase", name="Nora")
    assert wrong.status_code == 422
    assert "That is not the name. Nothing was erased." in words_of(wrong.text)
    assert 'id="wrong-erase"' in wrong.text
    field = re.search(r'<input id="erase-name"[^>]*>', wrong.text)
    assert field
    assert 'aria-invalid="true" aria-describedby="wrong-erase" autofocus' in field[0]
    assert wrong.text.count("autofocus") == 1
    done = desk.post(f"/students/{student.id}/erase", name=" nora veldt ")
    assert done.status_code == 303
    assert desk.studio.students.all() == []
    assert desk.studio.students.find(student.id) is None


def test_the_weeks_are_drawn_and_the_stage_is_judged(desk: ADesk) -> None:
    student = desk.studio.students.add("Nora Veldt", stage="tap")
    here = f"/students/{student.id}/progress"
    assert "Too few takes to follow" in words_of(desk.get(here).text)
    for days in (9, 5, 2):
        a_heard_take(desk.studio, student.id, now() - timedelta(days=days), stroke="tap")
    shown = desk.get(here)
    words = words_of(shown.text)
    assert "24 repetitions on 3 days" in words
    assert "1/8: RLRR LRLL" in words
    assert "This is a proposal. The teacher decides." in words
    assert "<h1>Over the weeks</h1>" in shown.text  # followed as a link, it is a whole page
    assert "<html" in shown.text
    assert "<html" not in desk.client.get(here, headers={"HX-Request": "true"}).text
    drawn = re.findall(r"data:image/svg\+xml;base64,([^\"]+)", shown.text)
    assert len(drawn) == 2
    assert all(face_rules("regular", "bold") in b64decode(each).decode() for each in drawn)


def test_the_stage_lasts_since_its_first_week_without_a_break() -> None:
    """By hand: tap since 15 June; the half before it, the tap before that and a draft do not count."""
    sent = datetime(2026, 6, 1, tzinfo=UTC)

    def week(day: int, stage: str, *, draft: bool = False) -> Week:
        return Week(str(day), "s", date(2026, 6, day), stage, "{}", "", sent, None if draft else sent)

    weeks = [week(29, "full", draft=True), week(22, "tap"), week(15, "tap"), week(8, "half"), week(1, "tap")]
    assert stage_since(weeks, "tap") == date(2026, 6, 15)
    assert stage_since(weeks, "full") is None


def test_a_student_cannot_open_the_teachers_pages(desk: ADesk) -> None:
    student = desk.studio.students.add("Nora Veldt")
    secret, session = desk.studio.access.begin("student", student_id=student.id, lasts=timedelta(days=1))
    desk.client.cookies.clear()
    desk.client.cookies.set("evenhand", secret)
    desk.csrf = session.csrf
    assert desk.client.get("/students", follow_redirects=False).headers["location"] == "/stand"
    assert desk.get(f"/students/{student.id}/export").status_code == 403
    assert desk.post(f"/students/{student.id}/erase", name="Nora Veldt").status_code == 403
    assert desk.studio.students.find(student.id) is not None


def test_a_form_without_the_sessions_token_changes_nothing(desk: ADesk) -> None:
    desk.csrf = "another"
    assert desk.post("/students", name="Nora Veldt", **FACTS).status_code == 403
    assert desk.studio.students.all() == []


def test_a_day_of_many_goes_does_not_crowd_the_weeks_out(desk: ADesk) -> None:
    """Of an exercise at one tempo on one day, the two newest goes; every day stays."""
    student = desk.studio.students.add("Nora Veldt")
    noon = (now().astimezone() - timedelta(days=1)).replace(hour=12)
    for day in (0, 1, 2):
        for go in range(4):
            a_heard_take(desk.studio, student.id, noon - timedelta(days=day, minutes=go))
    found = heard_takes(desk.studio, student, now().astimezone())
    assert len(found) == 6
    assert [take.recorded_at for take in found] == sorted(take.recorded_at for take in found)
    assert all(take.heard for take in found)
