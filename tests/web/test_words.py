"""Words both ways: who sees and hears them, when they are new, and what is not taken."""

from __future__ import annotations

import io
import wave
from datetime import date, timedelta
from typing import Any

import pytest

from evenhand.acts.weeks.document import plan_to_json
from evenhand.studio.values import Said, Week
from tests.e2e.furnished import a_plan
from tests.web.walked import House

JSON = {"accept": "application/json"}


def a_voice(seconds: float = 2.0, rate: int = 16_000) -> bytes:
    out = io.BytesIO()
    with wave.open(out, "wb") as file:
        file.setparams((1, 2, rate, 0, "NONE", ""))
        file.writeframes(bytes(2 * int(seconds * rate)))
    return out.getvalue()


def say(house: House, who: str, path: str, voice: bytes | None = None, **form: Any) -> Any:
    client = house.client("teacher") if who == "teacher" else house.client("student", getattr(house, who))
    files = {} if voice is None else {"voice": ("voice.wav", voice, "audio/wav")}
    return client.post(path, data={"nothing": "", **form}, files=files or None)


@pytest.fixture
def week(house: House) -> Week:
    starts = date.today() - timedelta(days=1)  # noqa: DTZ011 - the pages go by the teacher's own clock
    kept = house.studio.weeks.save(Week("", house.ida.id, starts, "tap", plan_to_json(a_plan()), "Slowly."))
    return house.studio.weeks.send(kept.id)


@pytest.fixture(autouse=True)
def silence(house: House) -> None:
    """Begin with nothing said."""
    for each in house.studio.threads.of_student(house.ida.id):
        if each.id != "said":
            house.studio.threads.take_back(each.id)


def test_the_teachers_word_is_new_on_the_first_page_until_its_take_is_opened(
    house: House, week: Week
) -> None:
    take = house.takes[house.ida.id]
    assert say(house, "teacher", f"/takes/{take}/words", words="Let the left fall.").status_code == 303
    assert say(house, "teacher", f"/weeks/{week.id}/words", words="Well begun.").status_code == 303
    ida, una = house.client("student"), house.client("student", house.una)
    first = ida.get("/stand").text
    assert "Let the left fall." in first
    assert "About this week" in first
    assert first.count('class="new"') == 2
    assert "Let the left fall." not in una.get("/stand").text
    opened = ida.get(f"/stand/takes/{take}").text
    assert "Let the left fall." in opened
    assert 'class="new"' in opened
    assert 'class="new"' not in ida.get(f"/stand/takes/{take}").text
    assert "Let the left fall." not in ida.get("/stand").text
    assert "opened" in house.client("teacher").get(f"/takes/{take}").text


def test_a_student_answers_and_the_desk_shows_it_until_it_is_opened(house: House, week: Week) -> None:
    take = house.takes[house.ida.id]
    say(house, "ida", f"/stand/takes/{take}/words", words="Which finger?")
    say(house, "ida", f"/stand/weeks/{week.id}/words", unclear="yes")
    teacher = house.client("teacher")
    for page in ("/", f"/students/{house.ida.id}"):
        shown = teacher.get(page).text
        assert "Which finger?" in shown
        assert "I don't understand" in shown
    assert "“I don&#39;t understand this.”" in teacher.get(f"/weeks/{week.id}/words").text
    assert "Which finger?" in teacher.get(f"/takes/{take}").text
    assert "Which finger?" not in teacher.get("/").text


def test_a_voice_note_is_heard_by_the_two_of_them_and_by_nobody_else(house: House) -> None:
    take = house.takes[house.ida.id]
    note = a_voice()
    assert say(house, "ida", f"/stand/takes/{take}/words", note, key="k" * 16).status_code == 303
    assert (
        say(house, "ida", f"/stand/takes/{take}/words", note, key="k" * 16).status_code == 303
    )  # sent twice
    (said,) = [each for each in house.studio.threads.of_take(take) if each.id != "said"]
    assert (said.seconds, said.text) == (2.0, "")
    assert house.client("teacher").get(f"/words/{said.id}/sound").content == note
    assert house.client("student").get(f"/stand/words/{said.id}/sound").content == note
    una = house.client("student", house.una)
    assert una.get(f"/stand/words/{said.id}/sound").status_code == 404
    assert una.post(f"/stand/words/{said.id}/take-back", data={"nothing": ""}).status_code == 404
    assert una.get(f"/words/{said.id}/sound").status_code == 403
    assert (
        house.client("student").post(f"/stand/words/{said.id}/take-back", data={"nothing": ""}).status_code
        == 303
    )
    assert said.recording not in set(house.studio.data.recordings.kept_keys())


@pytest.mark.parametrize(
    ("voice", "form", "said"),
    [
        (None, {}, "Write a sentence, or record a voice note."),
        (None, {"words": "a" * 1001}, "These are 1001 letters, and 1000 is the most."),
        (a_voice(61.0), {}, "this one is 61.0 s"),
        (a_voice(0.1), {}, "this one is 0.1 s"),
        (b"no wav at all" * 50, {}, "This is no voice note"),
        (a_voice(50.0, rate=48_000), {"words": "kept here"}, "This is no voice note"),
    ],
    ids=["nothing", "long text", "long", "short", "no sound", "large"],
)
def test_what_is_not_taken_comes_back_with_its_reason(
    house: House, voice: bytes | None, form: dict[str, str], said: str
) -> None:
    take = house.takes[house.ida.id]
    answer = say(house, "ida", f"/stand/takes/{take}/words", voice, **form)
    assert answer.status_code == 422
    assert said in answer.text
    assert form.get("words", "") in answer.text
    assert [each.id for each in house.studio.threads.of_take(take)] == ["said"]


def test_another_students_take_or_week_is_not_to_be_spoken_of(house: House, week: Week) -> None:
    take = house.takes[house.ida.id]
    assert say(house, "una", f"/stand/takes/{take}/words", words="hello").status_code == 404
    assert say(house, "una", f"/stand/weeks/{week.id}/words", words="hello").status_code == 404
    una = house.client("student", house.una)
    assert una.get(f"/stand/weeks/{week.id}/words").status_code == 404
    draft = house.studio.weeks.save(Week("", house.ida.id, date(2026, 3, 2), "tap", "{}"))
    assert house.client("student").get(f"/stand/weeks/{draft.id}/words").status_code == 404


def test_a_child_speaks_only_with_consent_and_is_told_who_hears_it(house: House) -> None:
    studio, take = house.studio, house.takes[house.ida.id]
    studio.students.change(house.ida.id, minor=True)
    try:
        shown = house.client("student").get(f"/stand/takes/{take}").text
        assert "data-voice" not in shown
        assert "Your teacher can read and hear this, and whoever opens your link; nobody else." in shown
        assert say(house, "ida", f"/stand/takes/{take}/words", a_voice()).status_code == 403
        assert say(house, "ida", f"/stand/takes/{take}/words", words="Hello").status_code == 303
    finally:
        studio.students.change(house.ida.id, minor=False)


def test_the_teacher_alone_takes_back_the_teachers_words(house: House) -> None:
    take = house.takes[house.ida.id]
    now = house.studio.data.now()
    said = house.studio.threads.say(Said("mine", house.ida.id, "teacher", now, take, text="<b>Slower</b>"))
    assert "&lt;b&gt;Slower" in house.client("student").get(f"/stand/takes/{take}").text
    answer = house.client("student").post(f"/stand/words/{said.id}/take-back", data={"nothing": ""})
    assert answer.status_code == 404
    assert (
        house.client("teacher").post(f"/words/{said.id}/take-back", data={"nothing": ""}).status_code == 303
    )
    assert "Slower" not in house.client("student").get(f"/stand/takes/{take}").text


def test_a_link_to_what_was_said_can_be_copied(house: House) -> None:
    take = house.takes[house.ida.id]
    assert (
        f'value="http://testserver/stand/takes/{take}"' in house.client("teacher").get(f"/takes/{take}").text
    )
