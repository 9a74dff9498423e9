"""A week copied to another student: whose tempos it gets, what is said, what stays as it was typed."""

from __future__ import annotations

import html
import re
from collections.abc import Iterator
from datetime import datetime
from fractions import Fraction
from pathlib import Path

import pytest

from evenhand.music.beat import tempo_on
from evenhand.music.text import parse_exercise
from evenhand.planning.standing import exercise_standing
from evenhand.progress.history import History, PastTake
from evenhand.studio.students import heard_so_far
from evenhand.studio.weeks.typed import TypedRow, TypedWeek, add_up, plan_of
from evenhand.studio.whole.copied import copied_plan
from evenhand.web.pages import today
from tests.desks import a_heard_take, heard_json, words_of
from tests.unit.planning.weeks import past_take, well
from tests.web.test_week import DOUBLE, SINGLE, Place, a_place


@pytest.fixture
def place(tmp_path: Path) -> Iterator[Place]:
    with a_place(tmp_path) as found:
        yield found


def read_rows(page: str, name: str) -> list[str]:
    """List what stands in a column of the form's rows."""
    return [html.unescape(each) for each in re.findall(rf'name="row_{name}"[^>]*? value="([^"]*)"', page)]


def a_past(tempo: str, day: int, *, controlled: bool = True) -> PastTake:
    return past_take(SINGLE, tempo, day, tried=well(float(tempo.partition("=")[2]), controlled=controlled))


def test_a_copied_week_s_tempos_are_what_the_student_s_own_standing_says() -> None:
    """By hand: the fastest becomes the standing's next tempo, half as fast stays half as fast."""
    rows = [TypedRow(1, SINGLE, "tap", f"1/8 = {bpm}") for bpm in (150, 75)]
    rows.append(TypedRow(1, DOUBLE, "tap", "1/8 = 120"))
    week = TypedWeek(tuple(rows), 1)
    plan = plan_of(week, add_up(week), student="Ida", starts=today())
    history = History((a_past("1/8=80", 0), a_past("1/8=80", 1)), student="Nora")
    copied, pieces = copied_plan(plan, history)
    expected = exercise_standing(parse_exercise(SINGLE), history.takes, stroke="tap").next_s
    assert expected is not None
    single, slow, double = (item.tempo for item in copied.days[0].items)
    assert single.whole_note_s == pytest.approx(expected, rel=0.02)  # as a click is set
    assert slow.whole_note_s == pytest.approx(2 * expected, rel=0.02)
    assert str(double) == "1/8 = 120"
    assert [piece.is_known for piece in pieces] == [True, False]
    assert (copied.student, copied.starts) == ("", None)


def test_a_week_is_copied_as_a_draft_of_the_other_s_and_says_what_was_changed(place: Place) -> None:
    place.post(place.here, [{}, {"exercise": DOUBLE}], do="send", words="For Ines alone.")
    (week,) = place.studio.weeks.all(place.student_id)
    nora = place.studio.students.add("Nora Veldt", stage="half", minutes_a_day=9.0)
    late, now = heard_json(("late-hand=L:24",), 8, 1), datetime.now().astimezone()
    a_heard_take(place.studio, nora.id, now, heard=late, stroke="tap")
    history, _ = heard_so_far(place.studio, nora, now)
    own = exercise_standing(parse_exercise(SINGLE), history.takes, stroke="tap").tempo
    assert own is not None
    at = str(tempo_on(Fraction(1, 8), own))
    answer = place.post(f"/weeks/{week.id}/copy", to=nora.id)
    shown = place.client.get(answer.headers["location"])
    assert answer.headers["location"].startswith(f"/students/{nora.id}/week?as={week.id}")
    words = words_of(shown.text)
    assert "Copied from Ines Varga, as a draft: nothing is sent." in words
    assert f"Tempos set by what was heard of Nora Veldt: Paradiddle (1/8 = 60 to {at})." in words
    assert "1 exercise was never heard of Nora Veldt" in words
    assert f"Why: up to {at} instead of 1/8 = 60, from Nora Veldt's own 1 take." in words
    assert read_rows(shown.text, "tempo") == [at, "1/8 = 60"]
    assert "For Ines alone." not in shown.text
    assert 'name="minutes" inputmode="decimal" size="4" value="9"' in shown.text
    assert place.studio.weeks.all(nora.id) == []
    typed = place.post(f"/students/{nora.id}/week/sum", [{"tempo": "1/8 = 77"}], **{"as": week.id})
    assert typed.status_code == 200
    again = place.client.get(place.post(f"/weeks/{week.id}/copy", to=nora.id).headers["location"])
    assert "is as you left it" in words_of(again.text)
    assert read_rows(again.text, "tempo") == ["1/8 = 77"]


def test_a_week_is_copied_to_nobody_who_is_not_there(place: Place) -> None:
    place.post(place.here, [{}], do="send")
    (week,) = place.studio.weeks.all(place.student_id)
    assert place.post(f"/weeks/{week.id}/copy", to="nobody").status_code == 404
    assert place.post("/weeks/nothing/copy", to=place.student_id).status_code == 404
    assert place.post(f"/weeks/{week.id}/copy", to=place.student_id).status_code == 303
    assert place.studio.weeks.drafts(place.student_id) == []
