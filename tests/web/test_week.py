"""Next week's page: the proposal, changed in place, kept, sent, printed."""

from __future__ import annotations

import html
import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from evenhand.acts.weeks.document import plan_from_json
from evenhand.studio.store.studio import Studio
from evenhand.studio.weeks.day import weeks_now
from evenhand.studio.weeks.typed import FIELDS
from evenhand.web.app import create_app
from evenhand.web.guard import COOKIE
from evenhand.web.pages import today
from evenhand.web.serving import TEACHER_STAYS, WebSettings
from tests.studios import a_studio

ORIGIN = {"origin": "http://testserver"}
SINGLE, DOUBLE = "1/8: RLRR LRLL", "1/8: RRLL RRLL"
ROW = {
    "day": "1",
    "exercise": SINGLE,
    "stroke": "tap",
    "tempo": "1/8 = 60",
    "repetitions": "4",
    "goes": "1",
    "pause": "0",
    "rest": "12",
    "block": "",
    "purpose": "",
    "tempo_was": "",
    "title": "",
    "was": "",
    "why": "",
}


@dataclass
class Place:
    """A studio behind its routes, with a teacher logged in and one student."""

    client: TestClient
    csrf: str
    studio: Studio
    student_id: str

    @property
    def here(self) -> str:
        """The page's address."""
        return f"/students/{self.student_id}/week"

    def post(self, path: str, rows: list[dict[str, str]] | None = None, **fields: Any) -> Any:
        """Send the form, with rows that differ from the usual one."""
        head = {"starts": today().isoformat(), "stage": "tap", "minutes": "2", "days": "1", "words": ""}
        data: dict[str, Any] = {"csrf": self.csrf, "day_count": "1", **head, **fields}
        whole = [{**ROW, **row} for row in rows or []]
        data |= {f"row_{name}": [row[name] for row in whole] for name in FIELDS}
        part = {"hx-request": "true"} if data.pop("part", False) else {}
        return self.client.post(path, data=data, headers=part, follow_redirects=False)


@pytest.fixture
def place(tmp_path: Path) -> Iterator[Place]:
    with a_place(tmp_path) as found:
        yield found


@contextmanager
def a_place(tmp_path: Path) -> Iterator[Place]:
    """Serve a studio with a student and two exercises."""
    studio = a_studio(tmp_path)
    student = studio.students.add("Ines Varga", stage="tap", minutes_a_day=4.0, days_a_week=2)
    studio.book.add(SINGLE, "Paradiddle")
    studio.book.add(DOUBLE, "Doubles")
    secret, session = studio.access.begin("teacher", lasts=TEACHER_STAYS)
    studio.close()
    app = create_app(WebSettings(tmp_path / "studio"), hears=False)
    with TestClient(app, headers=ORIGIN, cookies={COOKIE: secret}) as client:
        yield Place(client, session.csrf, app.state.school.front, student.id)


def test_the_page_is_there_at_once_and_fetches_its_proposal(place: Place) -> None:
    shown = place.client.get(place.here).text
    assert "Next week for Ines Varga" in shown
    assert f'hx-post="{place.here}/propose" hx-trigger="load"' in shown
    assert 'name="minutes" inputmode="decimal" size="4" value="4"' in shown


def test_the_proposal_adds_up_to_the_minutes_asked(place: Place) -> None:
    part = place.post(f"{place.here}/propose", minutes="4", days="2", part=True)
    assert part.status_code == 200
    assert "<html" not in part.text
    assert part.text.count('class="day"') == 2
    assert part.text.count(">4 min</span>") == 2
    assert 'value="1/8: RLRR LRLL"' in part.text
    assert "What the path says" in part.text
    assert "The teacher decides." in part.text
    assert "The proposal, before anything was changed:" in part.text  # what follows is not counted anew
    whole = place.post(f"{place.here}/propose", minutes="4", days="2")
    assert "<html" in whole.text
    assert whole.text.count(">4 min</span>") == 2


def test_three_clicks_send_and_print_a_week(place: Place) -> None:
    place.client.get(place.here)  # first click; the proposal comes by itself
    part = place.post(f"{place.here}/propose", minutes="4", days="2", part=True).text
    answer = place.client.post(
        place.here, data={**as_sent(part), "csrf": place.csrf, "do": "send"}, follow_redirects=False
    )
    assert answer.status_code == 303  # second click
    (week,) = place.studio.weeks.all(place.student_id)
    assert week.sent_at is not None
    assert weeks_now(place.studio.weeks.all(place.student_id), today()).week == week
    shown = place.client.get(answer.headers["location"]).text
    assert "Sent. It is on Ines Varga&#39;s stand" in shown
    link = re.search(r'href="(/weeks/\w+/sheet.pdf)"', shown)
    assert link is not None
    sheet = place.client.get(link[1])  # third click
    assert sheet.content.startswith(b"%PDF")


def as_sent(part: str) -> dict[str, Any]:
    """Read a form as a browser sends it, the head as the test's."""
    fields: dict[str, list[str]] = {}
    for tag in re.finditer(r"<(input|select)([^>]*)>(.*?)(?=<input|<select|$)", part, re.DOTALL):
        name = re.search(r' name="(row_\w+|day_count)"', tag[2])
        if name is None:
            continue
        value = re.search(r' value="([^"]*)"', tag[2]) or re.search(r'value="(\w*)" selected', tag[3])
        fields.setdefault(name[1], []).append(html.unescape(value[1] if value else ""))
    return {**fields, "starts": today().isoformat(), "stage": "tap", "minutes": "4", "days": "2", "words": ""}


def test_sums_follow_what_is_typed(place: Place) -> None:
    # By hand: 4 times 8 s and a count-in of 4 s, and 12 s of rest are 48 s; 6 times, 64 s.
    sums = place.post(f"{place.here}/sum", [{}], part=True).text
    assert 'id="row-0-sum"' in sums
    assert ">48 s</span>" in sums
    assert "1 min 12 s under" in sums
    assert "right 16, left 16" in sums
    assert ">1 min 4 s</span>" in place.post(f"{place.here}/sum", [{"repetitions": "6"}], part=True).text


def test_what_cannot_be_read_is_said_beside_the_sum(place: Place) -> None:
    sums = place.post(f"{place.here}/sum", [{"tempo": "fast"}, {}], part=True).text
    assert "<strong>Tempo</strong>: got &#39;fast&#39;; must be a note value" in sums
    assert "One row cannot be read" in sums


def test_a_number_alone_is_of_the_rows_own_beat(place: Place) -> None:
    """A row's beat is what it was planned in; a new row's is its exercise's own."""
    rows = [
        {"tempo": "72", "tempo_was": "1/4 = 60"},
        {"tempo": "72"},
        {"tempo": "72", "exercise": f"4/4 1/16: {'RLRR LRLL' * 2}"},
    ]
    sums = place.post(f"{place.here}/sum", rows, part=True).text
    read = re.findall(r'id="row-\d-tempo"[^>]*>([^<]*)<', sums)
    assert read == ["1/4 = 72", "1/8 = 72", "1/4 = 72"]
    place.post(place.here, rows, do="save")
    (week,) = place.studio.weeks.all(place.student_id)
    (day,) = plan_from_json(week.plan, name="it").days
    assert [str(item.tempo) for item in day.items] == read


def test_rows_are_moved_added_and_taken_out_with_and_without_script(place: Place) -> None:
    rows = [{"exercise": SINGLE}, {"exercise": DOUBLE}]
    part = place.post(f"{place.here}/sum", rows, act="up:1", part=True).text
    assert part.index(DOUBLE) < part.index(SINGLE)
    whole = place.post(place.here, rows, act="remove:0").text
    assert "<html" in whole
    assert whole.count('name="row_exercise"') == 1
    added = place.post(place.here, rows, act="add:1").text
    assert added.count('name="row_exercise"') == 3
    assert "choose or type an exercise" in added
    assert place.studio.weeks.all(place.student_id) == []


def test_a_draft_is_kept_and_gone_on_with(place: Place) -> None:
    answer = place.post(place.here, [{"exercise": DOUBLE}], words="Slowly!", do="save")
    assert answer.status_code == 303
    (week,) = place.studio.weeks.all(place.student_id)
    assert (week.sent_at, week.words) == (None, "Slowly!")
    assert weeks_now(place.studio.weeks.all(place.student_id), today()).week is None
    again = place.client.get(place.here).text
    assert "Slowly!</textarea>" in again
    assert f'value="{DOUBLE}"' in again
    place.post(place.here, [{"tempo": "1/8 = 99"}], week=week.id, do="save")
    (kept,) = place.studio.weeks.all(place.student_id)
    (item,) = plan_from_json(kept.plan, name="it").days[0].items
    assert (kept.id, item.tempo.bpm, item.title) == (week.id, 99.0, "Paradiddle")


def test_nothing_that_was_typed_is_lost_by_a_mistake(place: Place) -> None:
    rows = [{"exercise": "1/8: RLXR", "repetitions": "17"}, {"exercise": DOUBLE, "tempo": "1/8 = 77"}]
    answer = place.post(place.here, rows, words="Keep the left low.", minutes="lots", do="send")
    assert answer.status_code == 422
    for typed in (
        'value="1/8: RLXR"',
        'value="17"',
        'value="1/8 = 77"',
        "Keep the left low.",
        'value="lots"',
    ):
        assert typed in answer.text
    assert "Minutes a day: got lots; must be 1 to 240" in answer.text
    assert "What you typed is still here" in answer.text
    assert place.studio.weeks.all(place.student_id) == []


def test_an_empty_week_is_not_sent(place: Place) -> None:
    answer = place.post(place.here, [], do="send")
    assert answer.status_code == 422
    assert "The week is empty" in answer.text


def test_sending_makes_stage_and_minutes_the_student_s(place: Place) -> None:
    place.post(place.here, [{}], stage="building speed", minutes="25", days="3", do="send")
    student = place.studio.students.find(place.student_id)
    assert student is not None
    assert (student.stage, student.minutes_a_day, student.days_a_week) == ("speed in bursts", 25.0, 3)


def test_the_week_after_one_that_was_sent_begins_a_week_later(place: Place) -> None:
    place.post(place.here, [{}], do="send")
    after = today() + timedelta(days=7)
    assert f'name="starts" value="{after.isoformat()}"' in place.client.get(place.here).text


def test_a_jump_in_load_is_pointed_out_where_it_is_assigned(place: Place) -> None:
    place.post(place.here, [{}], do="send")
    later = (today() + timedelta(days=7)).isoformat()
    sums = place.post(f"{place.here}/sum", [{"repetitions": "8"}], starts=later, part=True).text
    assert "This week over the one before: both hands strokes +100 %" in sums


def test_the_same_again_is_a_new_week(place: Place) -> None:
    place.post(place.here, [{"exercise": DOUBLE}], do="send")
    (week,) = place.studio.weeks.all(place.student_id)
    shown = place.client.get(f"{place.here}?as={week.id}").text
    assert f'value="{DOUBLE}"' in shown
    assert '<input type="hidden" name="week" value="">' in shown


def test_a_printed_link_is_new_and_its_secret_stands_nowhere_else(place: Place) -> None:
    place.post(place.here, [{}], do="save")
    (week,) = place.studio.weeks.all(place.student_id)
    bare = place.client.get(f"/weeks/{week.id}/sheet.pdf")
    sheet = place.post(f"/weeks/{week.id}/send", link="new")
    assert sheet.headers["content-type"] == "application/pdf"
    assert sheet.headers["cache-control"] == "no-store"
    assert len(sheet.content) > len(bare.content)  # the QR code
    assert len(place.studio.access.links(place.student_id)) == 1
    sent = place.studio.weeks.find(week.id)
    assert sent is not None
    assert sent.sent_at is not None


def test_a_draft_is_sent_as_it_stands(place: Place) -> None:
    place.post(place.here, [{}], do="save")
    (week,) = place.studio.weeks.all(place.student_id)
    answer = place.post(f"/weeks/{week.id}/send")
    assert answer.headers["location"].startswith(f"{place.here}?week={week.id}")
    assert weeks_now(place.studio.weeks.all(place.student_id), today()).week is not None


def test_the_week_is_a_calendar_too(place: Place) -> None:
    place.post(place.here, [{}], do="save")
    (week,) = place.studio.weeks.all(place.student_id)
    answer = place.client.get(f"/weeks/{week.id}/week.ics?at=17:30")
    assert answer.headers["content-type"].startswith("text/calendar")
    assert "T173000" in answer.text
    assert "T180000" in place.client.get(f"/weeks/{week.id}/week.ics?at=half past").text


def test_it_is_the_teacher_s_alone(place: Place) -> None:
    place.post(place.here, [{}], do="save")
    (week,) = place.studio.weeks.all(place.student_id)
    secret, session = place.studio.access.begin("student", student_id=place.student_id, lasts=TEACHER_STAYS)
    with TestClient(place.client.app, headers=ORIGIN, cookies={COOKIE: secret}) as student:
        assert student.get(place.here, follow_redirects=False).headers["location"] == "/stand"
        for path in (f"/weeks/{week.id}/sheet.pdf", f"/weeks/{week.id}/week.ics"):
            assert student.get(path).status_code == 403
        for path in (place.here, f"{place.here}/propose", f"{place.here}/sum", f"/weeks/{week.id}/send"):
            assert student.post(path, data={"csrf": session.csrf}).status_code == 403
    assert weeks_now(place.studio.weeks.all(place.student_id), today()).week is None


def test_another_student_s_week_is_not_this_one_s(place: Place) -> None:
    other = place.studio.students.add("Tomas Okoye")
    place.post(place.here, [{}], do="save")
    (week,) = place.studio.weeks.all(place.student_id)
    answer = place.post(f"/students/{other.id}/week", [{}], week=week.id, do="save")
    assert answer.status_code == 404
    assert place.client.get(f"/students/{other.id}/week?week={week.id}").status_code == 200
    assert week.id not in place.client.get(f"/students/{other.id}/week?week={week.id}").text


@pytest.mark.parametrize("path", ["/students/none/week", "/weeks/none/sheet.pdf", "/weeks/none/week.ics"])
def test_what_is_not_there_is_said(place: Place, path: str) -> None:
    assert place.client.get(path).status_code == 404


def test_a_torn_form_is_refused_and_not_half_read(place: Place) -> None:
    answer = place.client.post(f"{place.here}/sum", data={"csrf": place.csrf, "row_day": ["1", "1"]})
    assert answer.status_code == 422
    assert "do not fit together" in answer.text


def test_words_are_words_and_no_markup(place: Place) -> None:
    shown = place.post(place.here, [{"exercise": '"><script>x</script>'}], words="<b>", do="save").text
    assert "<script>x" not in shown
    assert "&lt;b&gt;</textarea>" in shown


def test_dates_are_the_student_s_lesson_day(place: Place) -> None:
    lesson = (today() + timedelta(days=3)).weekday()
    place.studio.students.change(place.student_id, lesson_day=lesson)
    shown = place.client.get(place.here).text
    wanted: date = today() + timedelta(days=3)
    assert f'name="starts" value="{wanted.isoformat()}"' in shown


def test_what_is_typed_is_there_when_the_page_is_opened_again(place: Place) -> None:
    """Also what cannot be read yet; and from another browser, after the session that typed it has ended."""
    rows = [{"exercise": "1/8: RLX", "tempo": "72", "repetitions": "17"}, {"exercise": DOUBLE}]
    sums = place.post(f"{place.here}/sum", rows, words="Let it bou", minutes="lots", part=True).text
    assert "What you type is kept. Ines Varga does not see it until you send it." in sums
    place.client.post("/logout", data={"csrf": place.csrf})
    secret, _ = place.studio.access.begin("teacher", lasts=TEACHER_STAYS)
    with TestClient(place.client.app, headers=ORIGIN, cookies={COOKIE: secret}) as later:
        shown = later.get(place.here).text
    for typed in ('value="1/8: RLX"', 'value="72"', 'value="17"', "Let it bou</textarea>", 'value="lots"'):
        assert typed in shown
    assert "You typed this on" in shown
    assert place.studio.weeks.all(place.student_id) == []


def test_what_is_typed_before_the_proposal_is_there_stays_and_the_proposal_comes(place: Place) -> None:
    head = {"starts": today().isoformat(), "stage": "tap", "minutes": "4", "days": "2", "words": "Softly."}
    place.client.post(f"{place.here}/sum", data={"csrf": place.csrf, **head}, headers={"hx-request": "true"})
    shown = place.client.get(place.here).text
    assert "Softly.</textarea>" in shown
    assert f'hx-post="{place.here}/propose" hx-trigger="load"' in shown
    first = place.post(f"{place.here}/propose", minutes="4", days="2", first="yes", part=True)
    assert 'name="row_exercise"' in first.text
    (draft,) = place.studio.weeks.drafts(place.student_id)
    assert '"rows"' not in draft.form  # a proposal that comes by itself is nothing that was typed


def test_a_button_s_change_and_a_new_proposal_are_kept_too(place: Place) -> None:
    place.post(f"{place.here}/sum", [{}, {"exercise": DOUBLE}], act="remove:0", part=True)
    shown = place.client.get(place.here).text
    assert f'value="{DOUBLE}"' in shown.split("<datalist")[0]
    assert shown.count('name="row_exercise"') == 1
    place.post(f"{place.here}/propose", minutes="6", days="3", part=True)
    assert place.client.get(place.here).text.count('class="day"') == 3


def test_what_was_typed_is_gone_once_it_was_saved_sent_or_discarded(place: Place) -> None:
    place.post(f"{place.here}/sum", [{"repetitions": "17"}], page="p", stamp="4", part=True)
    place.post(place.here, [{"repetitions": "17"}], page="p", do="save")
    place.post(f"{place.here}/sum", [{"repetitions": "16"}], page="p", stamp="5", part=True)  # on its way
    assert place.studio.weeks.drafts(place.student_id) == []
    (week,) = place.studio.weeks.all(place.student_id)
    place.post(f"{place.here}/sum", [{"repetitions": "18"}], week=week.id, part=True)
    assert 'value="18"' in place.client.get(place.here).text
    assert 'value="18"' in place.client.get(f"{place.here}?week={week.id}").text
    answer = place.client.post(f"{place.here}/discard", data={"csrf": place.csrf, "week": week.id})
    assert 'value="17"' in answer.text
    assert "Discarded." in answer.text
    assert "You typed this" not in answer.text


def test_what_is_typed_into_one_week_touches_no_other(place: Place) -> None:
    place.post(place.here, [{"exercise": DOUBLE}], do="send")
    (sent,) = place.studio.weeks.all(place.student_id)
    place.post(f"{place.here}/sum", [{"repetitions": "21"}], week=sent.id, part=True)
    place.post(f"{place.here}/sum", [{"repetitions": "22"}], part=True)
    place.post(f"{place.here}/sum", [{"repetitions": "23"}], **{"as": sent.id}, part=True)
    other = place.studio.students.add("Tomas Okoye")
    for query, typed in ((f"?week={sent.id}", "21"), ("?new", "22"), (f"?as={sent.id}", "23"), ("", "23")):
        assert f'value="{typed}"' in place.client.get(f"{place.here}{query}").text, query
    assert "You typed this" not in place.client.get(f"/students/{other.id}/week").text
    shown = place.client.get(f"{place.here}?week={sent.id}").text
    assert f'href="{place.here}?new"' in shown  # the others are one click away
    (kept,) = plan_from_json(sent.plan, name="it").days
    assert kept.items[0].repetitions == 4  # the student sees what was sent
    refused = place.client.post(
        f"/students/{other.id}/week/discard", data={"csrf": place.csrf, "week": sent.id}
    )
    assert refused.status_code == 404


def test_a_new_week_typed_long_ago_begins_at_the_next_lesson(place: Place) -> None:
    long_ago = (today() - timedelta(days=30)).isoformat()
    place.post(f"{place.here}/sum", [{"repetitions": "17"}], starts=long_ago, part=True)
    shown = place.client.get(place.here).text
    assert f'name="starts" value="{today().isoformat()}"' in shown
    assert 'value="17"' in shown
