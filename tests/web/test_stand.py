"""The student's stand: today's practice, a recording, what was heard; and nobody else's."""

from __future__ import annotations

import html
import json
import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from evenhand.acts.weeks.document import plan_to_json
from evenhand.planning.practice import PracticeDay, PracticePlan
from evenhand.studio.work.pool import hear_waiting_once
from evenhand.take import in_words
from tests.web.stands import (
    JSON,
    KEY,
    TEMPO,
    TEXT,
    Stand,
    a_plan,
    a_recording,
    a_stand,
    assign,
    practice_of,
    yesterday,
)


@pytest.fixture
def stand(tmp_path: Path) -> Iterator[Stand]:
    """Let a student in."""
    with a_stand(tmp_path) as found:
        yield found


@pytest.fixture(scope="module")
def recording() -> bytes:
    """Give a recording whose left hand comes 25 ms late."""
    return a_recording(12, late_ms={"R": 0.0, "L": 25.0})


def test_the_next_item_stands_ready_with_height_tempo_times_and_minutes(stand: Stand) -> None:
    assign(stand, yesterday())
    page = stand.client.get("/stand").text
    assert "Day 1, 4 minutes" in page or "Today, 4 minutes" in page  # 90 + 60 + 2 x 30 s, 3.5 rounded to even
    assert "Start the day" in page
    assert "Start click and recording" in stand.client.get("/stand/practice/1").text
    assert "1/4 = 110" in page
    assert "Paradiddle" in page
    assert "Taps, 3–5" in page
    assert "8 times, about" in page
    assert "Let the stick fall." in page
    assert page.count("<h1") == 1


def test_the_script_is_told_click_notes_and_repetitions(stand: Stand) -> None:
    assign(stand, yesterday())
    facts = practice_of(stand.client.get("/stand").text)
    assert (facts["bpm"], facts["beat"], facts["repetitions"], facts["count_in"]) == (110, "1/4", 8, 4)
    assert facts["beats"] == 4.0  # eight eighths
    assert [note["hand"] for line in facts["lines"] for note in line["notes"]] == list("RLRRLRLL")
    assert facts["sent"].keys() == {"exercise", "tempo", "stroke", "week", "day", "item"}


def test_an_item_has_a_page_of_its_own_and_one_that_is_not_there_has_none(stand: Stand) -> None:
    assign(stand, yesterday())
    assert "1/16: &gt;RLRL RRLL" in stand.client.get("/stand/practice/2").text
    assert stand.client.get("/stand/practice/3").status_code == 404


def test_without_a_week_the_stand_says_so_and_takes_any_exercise(stand: Stand) -> None:
    stand.studio.book.add("1/8: RRLL", "Doubles")
    page = stand.client.get("/stand").text
    assert "Nothing is assigned yet" in page
    assert "Doubles" in page
    free = stand.client.get("/stand/practice/0", params={"book": "1/8: RRLL", "tempo": "1/8=90"}).text
    assert practice_of(free)["repetitions"] is None
    assert "1/8 = 90" in free


def test_a_number_alone_is_of_the_exercises_own_beat(stand: Stand) -> None:
    asked = {"exercise": "1/8: RRLL", "tempo": "72"}
    facts = practice_of(stand.client.get("/stand/practice/0", params=asked).text)
    assert (facts["beat"], facts["bpm"]) == ("1/8", 72)
    in_four = {**asked, "exercise": "2/4 1/8: RRLL"}
    assert practice_of(stand.client.get("/stand/practice/0", params=in_four).text)["beat"] == "1/4"
    assert (
        practice_of(stand.client.get("/stand/practice/0", params={"exercise": "1/8: RRLL"}).text)["bpm"] == 80
    )


def test_every_take_comes_with_its_stroke_height(stand: Stand, recording: bytes) -> None:
    """So it is judged at its stage, whoever recorded it and wherever."""
    assign(stand, yesterday())
    page = stand.client.get("/stand").text
    assert '<option value="tap" selected>taps, 3–5 in</option>' in page  # the upload's, as it was assigned
    stand.send(recording, source="microphone", **practice_of(page)["sent"])
    assert stand.only_take().stroke == "tap"
    free = {"exercise": "1/8: RRLL", "tempo": "72", "stroke": "half"}
    page = stand.client.get("/stand/practice/0", params=free).text
    assert '<option value="half" selected>' in page
    stand.send(recording, key=f"{KEY}-2", **practice_of(page)["sent"])
    stand.send(recording, key=f"{KEY}-3", stroke="sideways")
    assert sorted(take.stroke or "-" for take in stand.studio.takes.all(stand.student.id)) == [
        "-",
        "half",
        "tap",
    ]


def test_an_exercise_that_cannot_be_read_comes_back_as_it_was_typed(stand: Stand) -> None:
    answer = stand.client.get("/stand/practice/0", params={"exercise": "1/8: RLX", "tempo": "1/8=90"})
    assert answer.status_code == 422
    assert "The exercise cannot be read: character 8 is &#39;X&#39;. It must be R, L, " in answer.text
    assert 'value="1/8: RLX"' in answer.text
    assert 'value="1/8=90"' in answer.text
    nothing = stand.client.get("/stand/practice/0", params={"exercise": " "})
    assert "Choose an exercise from the book, or type one." in nothing.text


def test_takes_stand_in_the_order_of_recording(stand: Stand, recording: bytes) -> None:
    """One was recorded yesterday without a network and came after today's; it does not split the days."""
    at = datetime.now(UTC)
    for number, (text, ago) in enumerate((("RLRL RR", 2), ("RLRL LL", 49), ("RLRL RL", 1))):
        facts = {"recorded_at": (at - timedelta(hours=ago)).isoformat(), "exercise": f"1/8: {text}"}
        stand.send(recording, key=f"{KEY}-{number}", **facts)
    page = stand.client.get("/stand/takes").text
    assert re.findall(r"1/8: (RLRL \w\w)", page) == ["RLRL RL", "RLRL RR", "RLRL LL"]


def test_a_week_that_cannot_be_read_does_not_close_the_stand(stand: Stand) -> None:
    assign(stand, yesterday(), plan='{"days": []}')
    assert "This week&#39;s practice cannot be read" in stand.client.get("/stand").text


def test_a_draft_is_not_shown(stand: Stand) -> None:
    week = assign(stand, yesterday())
    other = stand.as_another(stand.studio.students.add("Ruta Blom"))
    assert week.sent_at is not None
    assert "Nothing is assigned yet" in other.client.get("/stand").text


def test_today_as_data(stand: Stand) -> None:
    assert stand.client.get("/stand/today.json").json() == {"day": None, "items": []}
    assign(stand, yesterday())
    found = stand.client.get("/stand/today.json").json()
    assert found["day"]["seconds"] == 210.0
    assert [item["exercise"] for item in found["items"]] == [TEXT, "1/16: >RLRL RRLL"]


def test_the_sheet_is_a_pdf_where_there_is_a_week(stand: Stand) -> None:
    assert stand.client.get("/stand/sheet.pdf").status_code == 404
    assign(stand, yesterday())
    answer = stand.client.get("/stand/sheet.pdf")
    assert answer.headers["content-type"] == "application/pdf"
    assert answer.content.startswith(b"%PDF")


def test_a_recording_is_acknowledged_once_and_kept_once(stand: Stand, recording: bytes) -> None:
    first, second = stand.send(recording), stand.send(recording)
    assert (first.status_code, second.status_code) == (202, 200)
    assert first.json()["id"] == second.json()["id"] == stand.only_take().id


def test_a_take_is_heard_and_shown_in_the_reports_words_and_picture(stand: Stand, recording: bytes) -> None:
    take_id = stand.send(recording).json()["id"]
    state = stand.client.get(f"/stand/takes/{take_id}/state.json").json()
    assert state == {"status": "waiting", "progress": 0.0, "reason": None, "said": ""}
    assert stand.client.get(f"/stand/takes/{take_id}/result").status_code == 202
    hear_waiting_once(stand.studio)
    state = stand.client.get(f"/stand/takes/{take_id}/state.json").json()
    assert state["status"] == "heard"
    assert state["said"] in stand.client.get(f"/stand/takes/{take_id}/result").text
    part = stand.client.get(f"/stand/takes/{take_id}/result").text
    assert "left hand" in part
    assert "<svg" in part
    assert "The take under its notes" in part
    assert "95 % range" in part
    page = stand.client.get(f"/stand/takes/{take_id}").text
    assert part.strip()[:200] in page
    assert '<h1 class="small">Single paradiddle</h1>' in page  # as the book and the stand call it
    assert ">Single paradiddle</a>" in stand.client.get("/stand/takes").text
    assert "Again" in page


def test_what_was_played_fills_the_days_bar(stand: Stand, recording: bytes) -> None:
    assign(stand, yesterday())
    sent = practice_of(stand.client.get("/stand").text)["sent"]
    stand.send(recording, seconds="88", source="microphone", **sent)
    items = stand.client.get("/stand/today.json").json()["items"]
    assert (items[0]["played_s"], items[0]["done"], items[1]["done"]) == (88.0, True, False)
    assert 'aria-label="1 of 2 played"' in stand.client.get("/stand").text
    assert "1/16: &gt;RLRL RRLL" in stand.client.get("/stand").text.split("After that")[0]


def test_one_tap_plays_what_is_still_to_play(stand: Stand, recording: bytes) -> None:
    (first, second) = a_plan().days[0].items
    day = PracticeDay((first, second, replace(second, title="The third")))
    assign(stand, yesterday(), plan=plan_to_json(PracticePlan((day, day))))
    sent = practice_of(stand.client.get("/stand").text)["sent"]
    stand.send(recording, seconds="88", source="microphone", **sent)
    page = stand.client.get("/stand").text
    found = re.search(r"data-run='([^']*)'", page)
    assert found
    run = json.loads(html.unescape(found[1]))
    assert [each["number"] for each in run] == [2, 3]
    assert len(re.findall(r'<template id="item-', page)) == 2
    assert len(re.findall(r'<template id="music-', page)) == 1  # the same exercise twice, engraved once


def test_a_day_in_blocks_says_what_each_exercise_is_for(stand: Stand) -> None:
    (first, second) = a_plan().days[0].items
    easy = replace(first, block="warm-up", purpose=in_words("Wake the hands up."), goes=2, pause_s=10.0)
    plan = PracticePlan((PracticeDay((easy, second)),), story=in_words("The left hand catches up."))
    assign(stand, yesterday(), plan=plan_to_json(plan))
    page = stand.client.get("/stand").text
    for words in ("Warm-up", "Wake the hands up.", "2 × 8 times", "The left hand catches up."):
        assert words in page
    assert "The left came late." not in page  # the teacher's reason
    item = stand.client.get("/stand/today.json").json()["items"][0]
    assert (item["block"], item["purpose"], item["goes"]) == ("warm-up", "Wake the hands up.", 2)


def test_a_day_is_summed_up_with_the_one_finding(stand: Stand, recording: bytes) -> None:
    (first, second) = a_plan().days[0].items
    day = PracticeDay((first, replace(second, block="record", exercise=first.exercise)))
    assign(stand, yesterday(), plan=plan_to_json(PracticePlan((day,))))
    nothing = stand.client.get("/stand/summary").text
    assert "Nothing of this day was recorded" in nothing
    sent = practice_of(stand.client.get("/stand/practice/2").text)["sent"]
    take_id = stand.send(recording, seconds="88", source="microphone", **sent).json()["id"]
    assert "One of them waits" in stand.client.get("/stand/summary").text
    hear_waiting_once(stand.studio)
    page = stand.client.get("/stand/summary").text
    assert stand.client.get(f"/stand/takes/{take_id}/state.json").json()["said"] in page
    assert "Your teacher gets one recording of this day" in page
    assert "compared from week to week" in page
    assert re.findall(r"not recorded|played in part", page) == ["not recorded", "played in part"]


def test_headphones_without_a_measured_delay_say_offset_unknown(stand: Stand, recording: bytes) -> None:
    facts = {"click": "headphones", "first_note_s": "0.45", "source": "microphone"}
    take_id = stand.send(recording, **facts).json()["id"]
    hear_waiting_once(stand.studio)
    part = stand.client.get(f"/stand/takes/{take_id}/result").text
    assert "Offset unknown" in part
    assert "early against your own tempo" in part
    assert "on the click" not in part


def test_headphones_with_a_measured_delay_are_judged_by_the_click(stand: Stand) -> None:
    """By construction: both play on time to a note due at 0.5 s; said is 0.43 s and a delay of 40 ms."""
    device = stand.client.post("/stand/device", data={"csrf": stand.csrf, "latency_ms": "40"}).json()["id"]
    facts = {"click": "headphones", "first_note_s": "0.43", "source": "microphone", "device": device}
    played = a_recording(12, timekeeper_sd_ms=0.0, late_ms={"R": 0.0, "L": 0.0})
    take_id = stand.send(played, **facts).json()["id"]
    hear_waiting_once(stand.studio)
    part = stand.client.get(f"/stand/takes/{take_id}/result").text
    assert "Offset unknown" not in part
    assert "early against the click" in part
    late = re.search(r"Both hands come late on the click: the right by ([\d.]+)", part)
    assert late
    assert float(late[1]) == pytest.approx(
        30.0, abs=2.0
    )  # 0.5 s - 0.43 s - 40 ms; the hand's own mean ± 1 ms


def test_the_sound_can_be_had_in_parts(stand: Stand, recording: bytes) -> None:
    take_id = stand.send(recording).json()["id"]
    answer = stand.client.get(f"/stand/takes/{take_id}/sound", headers={"range": "bytes=0-3"})
    assert answer.status_code == 206
    assert answer.content == b"RIFF"
    assert answer.headers["content-type"].startswith("audio/")


def test_a_students_recordings_are_listed_and_nobody_elses(stand: Stand, recording: bytes) -> None:
    assert "Nothing recorded yet." in stand.client.get("/stand/takes").text
    stand.send(recording)
    other = stand.as_another(stand.studio.students.add("Ruta Blom"))
    assert TEXT in stand.client.get("/stand/takes").text
    assert TEXT not in other.client.get("/stand/takes").text


@pytest.mark.parametrize("ending", ["", "/result", "/state.json", "/sound"])
def test_anothers_take_is_not_there(stand: Stand, recording: bytes, ending: str) -> None:
    take_id = stand.send(recording).json()["id"]
    other = stand.as_another(stand.studio.students.add("Ruta Blom"))
    assert other.client.get(f"/stand/takes/{take_id}{ending}").status_code == 404
    assert stand.client.get(f"/stand/takes/nothing{ending}").status_code == 404


def test_the_same_upload_key_of_two_students_is_two_takes(stand: Stand, recording: bytes) -> None:
    other = stand.as_another(stand.studio.students.add("Ruta Blom"))
    assert stand.send(recording).json()["id"] != other.send(recording).json()["id"]


def test_the_stand_is_a_students_alone(stand: Stand) -> None:
    nobody = TestClient(stand.client.app, follow_redirects=False)
    assert nobody.get("/stand").headers["location"] == "/gone"
    assert nobody.get("/stand/today.json").status_code == 401
    assert stand.as_teacher().get("/stand/today.json").status_code == 403


@pytest.mark.parametrize(
    ("changes", "status", "words"),
    [
        ({"key": "short"}, 422, "upload key"),
        ({"exercise": "1/8: RLX"}, 422, "column 8"),
        ({"kind": "text/html"}, 415, "text/html"),
    ],
)
def test_what_cannot_be_taken_is_refused_in_words(
    stand: Stand, recording: bytes, changes: dict[str, str], status: int, words: str
) -> None:
    answer = stand.send(recording, **changes)
    assert answer.status_code == status
    assert words in answer.json()["error"]
    assert stand.studio.takes.all(stand.student.id) == []


def test_a_form_without_a_file_is_refused_on_a_page(stand: Stand) -> None:
    form = {"csrf": stand.csrf, "upload_key": KEY, "exercise": TEXT, "tempo": TEMPO}
    answer = stand.client.post("/stand/takes", data=form)
    assert answer.status_code == 422
    assert "Choose a file with the recording first." in answer.text


def test_a_file_sent_by_the_form_leads_to_its_page(stand: Stand, recording: bytes) -> None:
    form = {"csrf": stand.csrf, "upload_key": KEY, "exercise": TEXT, "tempo": TEMPO, "source": "upload"}
    form |= {"tape": "R=blue, L=pink", "pad_cm": "25,5"}
    answer = stand.client.post(
        "/stand/takes", data=form, files={"recording": ("a.mov", recording, "video/mp4")}
    )
    assert "It has arrived." in answer.text
    assert stand.only_take().source == "upload"
    assert stand.only_take().original_name == "a.mov"
    assert stand.only_take().facts == {"tape": "R=blue, L=pink", "pad_cm": "25.5"}


@pytest.mark.parametrize(("kind", "status"), [("video/webm;codecs=vp9", 202), ("audio/webm", 415)])
def test_a_film_goes_with_a_recording(stand: Stand, recording: bytes, kind: str, status: int) -> None:
    form = {"csrf": stand.csrf, "upload_key": KEY, "exercise": TEXT, "tempo": TEMPO, "film_starts_s": "0.25"}
    files = {"recording": ("take.wav", recording, "audio/wav"), "film": ("film", b"\x1aE\xdf\xa3", kind)}
    answer = stand.client.post("/stand/takes", data=form, files=files, headers=JSON)
    assert answer.status_code == status
    if status == 202:
        take = stand.only_take()
        assert (take.facts["film_starts_s"], (take.original or "")[-5:]) == ("0.25", ".webm")


def test_a_take_needs_the_pages_token(stand: Stand, recording: bytes) -> None:
    files = {"recording": ("take.wav", recording, "audio/wav")}
    answer = stand.client.post("/stand/takes", data={"upload_key": KEY}, files=files, headers=JSON)
    assert answer.status_code == 403


def test_what_cannot_be_heard_says_why(stand: Stand) -> None:
    take_id = stand.send(b"no sound at all" * 40).json()["id"]
    hear_waiting_once(stand.studio)
    part = stand.client.get(f"/stand/takes/{take_id}/result").text
    assert "It could not be heard." in part


def test_a_minor_without_consent_clicks_but_does_not_record(tmp_path: Path, recording: bytes) -> None:
    with a_stand(tmp_path, minor=True) as stand:
        assign(stand, yesterday())
        page = stand.client.get("/stand").text
        assert "once your teacher has noted that a parent or guardian agrees" in page
        assert practice_of(page)["may_record"] is False
        assert 'type="file"' not in page
        answer = stand.send(recording)
        assert answer.status_code == 403
        assert stand.studio.takes.all(stand.student.id) == []


def test_a_device_is_kept_and_anothers_is_not_taken_over(stand: Stand) -> None:
    form = {"csrf": stand.csrf, "latency_ms": "87.5", "label": "phone"}
    kept = stand.client.post("/stand/device", data=form).json()
    again = stand.client.post("/stand/device", data={**form, "device": kept["id"], "latency_ms": "90"}).json()
    assert (kept["latency_ms"], again) == (87.5, {"id": kept["id"], "latency_ms": 90.0})
    other = stand.as_another(stand.studio.students.add("Ruta Blom"))
    theirs = other.client.post(
        "/stand/device", data={**form, "csrf": other.csrf, "device": kept["id"]}
    ).json()
    assert theirs["id"] != kept["id"]
    assert [each.latency_ms for each in stand.studio.students.devices(stand.student.id)] == [90.0]
    assert stand.client.post("/stand/device", data={**form, "latency_ms": "x"}).status_code == 422


def test_a_measured_device_is_known_to_the_page(stand: Stand) -> None:
    assign(stand, yesterday())
    kept = stand.client.post("/stand/device", data={"csrf": stand.csrf, "latency_ms": "87.5"}).json()
    assert practice_of(stand.client.get("/stand").text)["devices"] == {kept["id"]: 87.5}


def test_who_leaves_is_out(stand: Stand) -> None:
    answer = stand.client.post("/stand/leave", data={"csrf": stand.csrf})
    assert "You are logged out" in answer.text
    assert stand.client.get("/stand/today.json").status_code == 401


def test_words_with_quotes_stay_words(stand: Stand) -> None:
    assign(stand, yesterday(), words="""It's "easy" <b>now</b>""")
    page = stand.client.get("/stand").text
    assert "<b>now" not in page
    assert practice_of(page)["bpm"] == 110
