"""The teacher's own takes: how they come in, whose stand they are on, and what they do not count for."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from starlette.testclient import TestClient

from evenhand.acts.takes.document import json_text
from evenhand.studio.archive import student_archive
from evenhand.studio.desk import Glances, desk_of
from evenhand.studio.store.studio import Studio
from evenhand.studio.students import heard_takes
from evenhand.studio.values import TEACHER, StudioTake
from tests.builders import a_heard_take
from tests.sounds import EXERCISE, TEMPO
from tests.web.walked import House


def send(client: TestClient, key: str, student: str = "", **more: Any) -> Any:
    form = {"exercise": EXERCISE, "tempo": TEMPO, "upload_key": key * 16, "source": "microphone", **more}
    headers = {"accept": "application/json"}
    file = {"recording": ("take.wav", b"RIFF" + key.encode() * 64, "audio/wav")}
    return client.post("/models/takes", data={**form, "student": student}, files=file, headers=headers)


def heard(studio: Studio, take_id: str) -> StudioTake:
    studio.queue.took_heard(take_id, json_text(a_heard_take()), 31.2)
    return studio.takes.get(take_id)


def test_a_model_stands_on_the_stand_of_whom_it_is_for(house: House) -> None:
    teacher, ida, una = house.client("teacher"), house.client("student"), house.client("student", house.una)
    own = send(teacher, "a", house.ida.id).json()["id"]
    place = f"/stand/practice/0?exercise={EXERCISE}&tempo={TEMPO}"
    assert f"/stand/takes/{own}/sound" in ida.get(place).text
    assert f"/stand/takes/{own}/sound" not in una.get(place).text
    assert una.get(f"/stand/takes/{own}/sound").status_code == 404
    shared = send(teacher, "b").json()["id"]
    assert house.studio.takes.get(shared).student_id == TEACHER
    assert f"/stand/takes/{shared}/sound" in una.get(place).text
    assert una.get(f"/stand/takes/{shared}/sound").status_code == 200
    assert f"/stand/takes/{own}/sound" in ida.get(place).text  # one's own goes before that for all


def test_a_model_is_sent_once_and_its_page_says_nothing_to_practise(house: House) -> None:
    teacher = house.client("teacher")
    first, again = send(teacher, "c", house.ida.id), send(teacher, "c", house.ida.id)
    assert (first.status_code, again.status_code) == (202, 200)
    take = heard(house.studio, first.json()["id"])
    assert (take.model, take.source) == (True, "teacher")
    for page in (f"/takes/{take.id}", f"/models/takes/{take.id}/result"):
        shown = teacher.get(page).text
        assert "weaker" in shown
        assert "To practise" not in shown


def test_a_model_counts_for_nothing_of_the_students(house: House) -> None:
    studio, ida = house.studio, house.ida
    now = studio.data.now().astimezone() + timedelta(seconds=1)
    before = (len(heard_takes(studio, ida, now)), desk_of(studio, now, Glances()).came)
    take = heard(studio, send(house.client("teacher"), "d", ida.id).json()["id"])
    assert (len(heard_takes(studio, ida, now)), desk_of(studio, now, Glances()).came) == before
    assert f"/stand/takes/{take.id}" not in house.client("student").get("/stand/takes").text
    archive = b"".join(student_archive(studio, ida, now))
    assert take.id[:8].encode() in archive  # it is kept of the student, but is no row of the history
    shown = house.client("student").get(f"/stand/takes/{take.id}").text
    assert "Your teacher plays it" in shown
    assert "weaker" not in shown


def test_the_recorder_comes_with_exercise_and_tempo(house: House) -> None:
    teacher = house.client("teacher")
    shown = teacher.get(f"/models/new?student={house.ida.id}&exercise={EXERCISE}&tempo={TEMPO}").text
    assert f"{house.ida.name} can hear it wherever this exercise comes in practice" in shown
    assert 'data-takes="/models/takes"' in shown
    assert teacher.get("/models/new?exercise=1/8: RX").status_code == 422
    assert teacher.get("/models/new?student=nobody&exercise=1/8: RL").status_code == 404
    assert "Choose what to play" in teacher.get("/models/new").text


def test_who_the_models_for_all_belong_to_is_no_student(house: House) -> None:
    teacher = house.client("teacher")
    send(teacher, "e")
    assert TEACHER not in {each.id for each in house.studio.students.all(archived=None)}
    assert teacher.get(f"/students/{TEACHER}").status_code == 404
    refused = teacher.post(f"/students/{TEACHER}/links", data={"nothing": ""})
    assert refused.status_code == 404


def test_a_take_is_put_beside_the_model_and_nobody_elses(house: House) -> None:
    teacher, studio = house.client("teacher"), house.studio
    model = heard(studio, send(teacher, "f", house.ida.id).json()["id"])
    take = heard(studio, house.takes[house.ida.id])
    shown = house.client("student").get(f"/stand/takes/{take.id}/beside").text
    assert "In turns" in shown
    assert f"/stand/takes/{model.id}/sound" in shown
    assert "What differs by more than chance" in shown
    assert f"/stand/takes/{take.id}/beside" in house.client("student").get(f"/stand/takes/{take.id}").text
