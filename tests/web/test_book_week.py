"""From the book into a student's week: where it stands there, at which tempo, and that nothing is sent."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from evenhand.music.exercise import Tempo
from evenhand.music.text import parse_exercise
from evenhand.music.writing.rates import rate_per_s
from evenhand.progress.history import History
from evenhand.progress.stages.usual import COMMON_PATH
from evenhand.studio.path import path_of
from evenhand.studio.store.studio import Studio
from evenhand.studio.values import Student
from evenhand.studio.weeks.day import read_draft
from evenhand.studio.weeks.put import exercise_for
from evenhand.studio.weeks.typed import TypedWeek
from evenhand.web.app import create_app
from evenhand.web.guard import COOKIE
from evenhand.web.serving import TEACHER_STAYS, WebSettings
from tests.histories import TEXT, a_take, day
from tests.studios import a_studio

FLAMS = "1/8: lR rL lR rL"
Desk = tuple[TestClient, str, Studio, Student]


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Desk]:
    """Log a teacher in who has one student."""
    studio = a_studio(tmp_path)
    student = studio.students.add("Ines Varga", stage="tap", minutes_a_day=6.0, days_a_week=2)
    secret, session = studio.access.begin("teacher", lasts=TEACHER_STAYS)
    studio.close()
    app = create_app(WebSettings(tmp_path / "studio"), hears=False)
    origin = {"origin": "http://testserver"}
    with TestClient(app, headers=origin, cookies={COOKIE: secret}) as client:
        yield client, session.csrf, app.state.school.front, student


def put(desk: Desk, exercise: str = FLAMS, title: str = "Flams") -> str:
    client, csrf, _, student = desk
    fields = {"csrf": csrf, "exercise": exercise, "title": title}
    return client.post(f"/students/{student.id}/week/put", data=fields).text


def typed(desk: Desk) -> TypedWeek:
    (draft,) = desk[2].weeks.drafts(desk[3].id)
    read = read_draft(draft.form)
    assert read is not None
    assert read[1] is not None
    return read[1]


def test_it_comes_at_the_end_of_every_day_of_the_proposed_week(desk: Desk) -> None:
    shown = put(desk)
    assert "Flams stands on every day, at 1/4 = " in shown
    assert "Ines Varga does not see it yet." in shown
    week = typed(desk)
    assert week.days == 2
    for number in (1, 2):
        rows = [row for row in week.rows if row.day == number]
        assert len(rows) > 1  # what is proposed stands before it
        assert (rows[-1].exercise, rows[-1].title, rows[-1].stroke) == (FLAMS, "Flams", "tap")
    assert desk[2].weeks.all(desk[3].id) == []  # nothing is kept as a week, nothing sent


def test_its_tempo_lies_within_the_stage_for_who_never_played_it(desk: Desk) -> None:
    put(desk)
    row = typed(desk).rows[-1]
    stage = path_of(desk[2]).stage("tap")
    assert stage is not None
    rate = rate_per_s(parse_exercise(FLAMS), Tempo.parse(row.tempo))
    assert stage.rate_per_s[0] * 0.95 <= rate <= stage.rate_per_s[1]
    seconds = int(row.repetitions) * float(parse_exercise(FLAMS).length) * Tempo.parse(row.tempo).whole_note_s
    assert 50 <= seconds <= 70
    assert row.why == "New, so start slowly."


def test_put_in_again_it_is_said_to_be_there(desk: Desk) -> None:
    put(desk)
    before = typed(desk)
    assert "Flams is in this week already." in put(desk)
    assert typed(desk) == before


def test_what_cannot_be_read_or_is_nobodys_is_refused(desk: Desk) -> None:
    client, csrf, studio, student = desk
    assert "column 7" in put(desk, "1/8: RXLL")
    assert "the feet alone" in put(desk, "1/8: RkLk")
    fields = {"csrf": csrf, "exercise": FLAMS}
    assert client.post("/students/nobody/week/put", data=fields).status_code == 404
    studio.students.change(student.id, archived=True)
    assert "There is no student yet" in client.get(f"/book/week?exercise={FLAMS}").text


def test_its_tempo_is_the_standing_s_for_who_played_it() -> None:
    """What went well at 1/8 = 80 begins a little faster; what was out of control at 1/8 = 120, slower."""
    stage, exercise = COMMON_PATH.stage("tap"), parse_exercise(TEXT)
    assert stage is not None
    at = {}
    for tempo, ceiling in (("1/8=80", 100.0), ("1/8=120", 60.0)):
        takes = tuple(a_take(day(x), tempo=tempo, ceiling_bpm=ceiling, stroke="tap") for x in (0, 1))
        at[tempo] = exercise_for(exercise, "", stage, History(takes))
    well, over = at["1/8=80"], at["1/8=120"]
    assert (
        0.9 * Tempo.parse("1/8=80").whole_note_s
        < well.tempo.whole_note_s
        < Tempo.parse("1/8=80").whole_note_s
    )
    assert well.why == "Even at every tempo so far, so a little faster."
    assert over.tempo.whole_note_s > Tempo.parse("1/8=120").whole_note_s
    assert over.why.startswith("No faster until")
