"""A take's page: who may see it, what it says, what can be done there."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from evenhand.acts.takes.document import json_text
from evenhand.studio.safekeeping.check import repair_studio
from evenhand.studio.store.studio import Studio
from evenhand.studio.values import StudioTake
from evenhand.studio.work.pool import hear_waiting_once
from evenhand.web.app import create_app
from evenhand.web.guard import COOKIE
from evenhand.web.serving import TEACHER_STAYS, WebSettings
from tests.builders import a_blind_take, a_heard_take
from tests.films import a_film
from tests.sounds import EXERCISE, TEMPO, a_recording
from tests.studios import a_new_take, a_studio

ORIGIN = {"origin": "http://testserver"}
SOUND = b"fLaC" + bytes(range(256)) * 8


@dataclass
class Place:
    """A studio behind its routes, with a teacher logged in."""

    client: TestClient
    csrf: str
    studio: Studio
    student_id: str

    def post(self, path: str, **fields: Any) -> Any:
        """Send a form."""
        return self.client.post(path, data={"csrf": self.csrf, **fields}, follow_redirects=False)

    def take(self, key: str = "one", **changes: Any) -> StudioTake:
        """Receive a take."""
        new = a_new_take(self.student_id, key, **changes)
        return self.studio.takes.receive(new, SOUND + key.encode(), original_name="evening.m4a")[0]

    def heard(self, key: str = "one", text: str = "", **changes: Any) -> StudioTake:
        """Receive a take that is heard."""
        take = self.take(key, **changes)
        self.studio.queue.took_heard(take.id, text or json_text(a_heard_take()), 31.2)
        return self.now(take)

    def now(self, take: StudioTake) -> StudioTake:
        """Read a take anew."""
        found = self.studio.takes.find(take.id)
        assert found is not None
        return found


@pytest.fixture
def place(tmp_path: Path) -> Iterator[Place]:
    studio = a_studio(tmp_path)
    student = studio.students.add("Ines Varga", stage="tap")
    secret, session = studio.access.begin("teacher", lasts=TEACHER_STAYS)
    studio.close()
    app = create_app(WebSettings(tmp_path / "studio"), hears=False)
    with TestClient(app, headers=ORIGIN, cookies={COOKIE: secret}) as client:
        yield Place(client, session.csrf, app.state.school.front, student.id)


def test_a_heard_take_has_its_picture_sound_findings_and_figures(place: Place) -> None:
    take = place.heard()
    shown = place.client.get(f"/takes/{take.id}").text
    assert "<h1>The left hand is 3.5 dB weaker than the right.</h1>" in shown
    assert f'src="/takes/{take.id}/sound"' in shown
    assert "data-places=" in shown
    assert 'data-time="1.0"' in shown  # the first repetition begins at 1 s
    assert "To practise: Sixteen slow bars" in shown
    assert "95 % range 3.0 to 4.0" in shown
    assert "from 126 hits" in shown


def test_it_is_the_teacher_s_alone(place: Place) -> None:
    take, other = place.heard("one"), place.heard("two")
    secret, session = place.studio.access.begin("student", student_id=place.student_id, lasts=TEACHER_STAYS)
    with TestClient(place.client.app, headers=ORIGIN, cookies={COOKIE: secret}) as student:
        for path in (f"/takes/{take.id}", f"/takes/{take.id}/beside/{other.id}"):
            answer = student.get(path, follow_redirects=False)
            assert (answer.status_code, answer.headers["location"]) == (303, "/stand")
        for path in (f"/takes/{take.id}/sound", f"/takes/{take.id}/figures.json"):
            assert student.get(path).status_code == 403
        for act in ("words", "correct", "hear-again", "delete"):
            answer = student.post(f"/takes/{take.id}/{act}", data={"csrf": session.csrf, "sure": "yes"})
            assert answer.status_code == 403
    with TestClient(place.client.app, headers=ORIGIN) as nobody:
        assert nobody.get(f"/takes/{take.id}", follow_redirects=False).headers["location"] == "/login"
        assert nobody.get(f"/takes/{take.id}/sound").status_code == 401
    assert place.studio.threads.of_take(take.id) == []


@pytest.mark.parametrize("path", ["", "/sound", "/figures.json", "/beside/none"])
def test_what_is_not_there_is_said(place: Place, path: str) -> None:
    answer = place.client.get(f"/takes/none{path}")
    assert answer.status_code == 404


def test_the_sound_is_given_in_parts_as_a_browser_asks(place: Place) -> None:
    # RFC 9110, 14: bytes=4-7 are the fifth to the eighth byte.
    take = place.take()
    whole = place.client.get(f"/takes/{take.id}/sound")
    assert (whole.headers["content-type"], whole.headers["accept-ranges"]) == ("audio/flac", "bytes")
    part = place.client.get(f"/takes/{take.id}/sound", headers={"range": "bytes=4-7"})
    assert part.status_code == 206
    assert part.content == whole.content[4:8] == bytes([0, 1, 2, 3])


def test_the_figures_are_the_take_s_json(place: Place) -> None:
    take = place.heard()
    assert place.client.get(f"/takes/{take.id}/figures.json").json()["schema"] == "urn:evenhand:listen-2"
    waits = place.take("waits")
    answer = place.client.get(f"/takes/{waits.id}/figures.json")
    assert (answer.status_code, answer.json()["status"]) == (404, "waiting")


def test_a_take_that_waits_says_so_and_asks_again(place: Place) -> None:
    take = place.take()
    shown = place.client.get(f"/takes/{take.id}").text
    assert "<h1>Waiting to be heard</h1>" in shown
    assert 'hx-trigger="every 2s, came from:body"' in shown
    place.studio.queue.claim("a worker")
    place.studio.queue.still_hearing(take.id, "a worker", 0.4)
    assert "40 % done." in place.client.get(f"/takes/{take.id}").text


def test_a_take_that_failed_says_why_and_what_to_do(place: Place) -> None:
    take = place.take()
    place.studio.queue.took_failed(take.id, "there is sound, but no hits")
    shown = place.client.get(f"/takes/{take.id}").text
    assert "This take could not be heard" in shown
    assert "there is sound, but no hits" in shown
    assert "have it heard again" in shown
    assert "every 2s" not in shown


def test_words_are_kept_and_too_many_come_back(place: Place) -> None:
    take = place.heard()
    assert place.post(f"/takes/{take.id}/words", words="Lower the left stick.").status_code == 303
    (said,) = place.studio.threads.of_take(take.id)
    assert (said.who, said.text) == ("teacher", "Lower the left stick.")
    assert "Lower the left stick.</p>" in place.client.get(f"/takes/{take.id}").text
    long = place.post(f"/takes/{take.id}/words", words="a" * 5001)
    assert long.status_code == 422
    assert "a" * 5001 in long.text
    assert place.studio.threads.of_take(take.id) == [said]


def test_words_are_words_and_no_markup(place: Place) -> None:
    take = place.heard()
    place.post(f"/takes/{take.id}/words", words="</textarea><script>alert(1)</script>")
    assert "<script>alert" not in place.client.get(f"/takes/{take.id}").text


def test_a_hit_is_corrected_and_marked(place: Place) -> None:
    take = place.heard()
    extra = json.loads(take.heard or "")["extra"][0]
    answer = place.post(f"/takes/{take.id}/correct", hit=f"{extra['time_s']:.7f}", kind="no hit")
    assert answer.status_code == 303
    found = place.now(take)
    assert found.corrected
    assert json.loads(found.heard or "")["extra"] == []
    assert "You corrected one hit by hand." in place.client.get(f"/takes/{take.id}").text


def test_a_take_is_heard_again_from_the_hit_that_it_begins_with(place: Place) -> None:
    take = place.heard()
    hit = json.loads(place.now(take).heard or "")["hits"][8]
    assert "it begins here" in place.client.get(f"/takes/{take.id}").text
    answer = place.post(f"/takes/{take.id}/correct", hit=f"{hit['time_s']:.7f}", kind="begins")
    assert answer.status_code == 303
    found = place.now(take)
    assert found.status == "waiting"
    assert float(found.facts["begins_at_s"]) == pytest.approx(hit["time_s"], abs=1e-6)
    place.post(f"/takes/{take.id}/hear-again", exercise=take.exercise, tempo=take.tempo, click="auto")
    assert "begins_at_s" not in place.now(take).facts  # left to the ear again


def test_a_hit_that_was_not_found_is_added_as_the_recording_has_it(place: Place) -> None:
    """A hit that is known to be there is taken out and added again: its time to 1 ms, its level to .5 dB."""
    sound = a_recording()
    new = a_new_take(place.student_id, "sound", exercise=EXERCISE, tempo=TEMPO)
    take = place.studio.takes.receive(new, sound, original_name="evening.wav")[0]
    hear_waiting_once(place.studio)
    hit = json.loads(place.now(take).heard or "")["hits"][5]
    place.post(f"/takes/{take.id}/correct", hit=f"{hit['time_s']:.7f}", kind="no hit")
    assert len(json.loads(place.now(take).heard or "")["hits"]) == 15
    note = {"repetition": str(hit["repetition"]), "note": str(hit["position"] + 1)}
    answer = place.post(
        f"/takes/{take.id}/correct", kind="added", at=f"{hit['time_s'] + 0.004:.3f}", hit="", **note
    )
    assert answer.status_code == 303
    found = json.loads(place.now(take).heard or "")["hits"][5]
    assert found["time_s"] == pytest.approx(hit["time_s"], abs=1e-3)
    assert found["level_db"] == pytest.approx(hit["level_db"], abs=0.5)
    assert (found["repetition"], found["position"]) == (hit["repetition"], hit["position"])
    twice = place.post(f"/takes/{take.id}/correct", kind="added", at=f"{hit['time_s']:.4f}", hit="", **note)
    assert twice.status_code == 422
    assert "where one was heard" in twice.text
    beyond = place.post(f"/takes/{take.id}/correct", kind="added", at="99", hit="", **note)
    assert "within the take" in beyond.text


def test_a_wrong_correction_comes_back_as_it_was_typed(place: Place) -> None:
    take = place.heard()
    answer = place.post(f"/takes/{take.id}/correct", hit="1.0000000", kind="note", repetition="9", note="3")
    assert answer.status_code == 422
    assert "hits in the order of their notes" in answer.text
    assert '<option value="1.0000000"' in answer.text.partition(" selected")[0].rpartition("\n")[2]
    assert 'name="repetition" min="1" max="9999" value="9"' in answer.text
    assert not place.now(take).corrected


def test_a_take_is_heard_again_as_something_else(place: Place) -> None:
    take = place.heard()
    wrong = place.post(f"/takes/{take.id}/hear-again", exercise="1/8: RLXR", tempo="1/8=140", click="auto")
    assert wrong.status_code == 422
    assert 'value="1/8: RLXR"' in wrong.text
    assert place.now(take).status == "heard"
    place.post(f"/takes/{take.id}/hear-again", exercise="1/8: RRLL", tempo="1/8=120", click="none")
    found = place.now(take)
    assert (found.status, found.exercise, found.tempo, found.click) == (
        "waiting",
        "1/8: RRLL",
        "1/8 = 120",
        "none",
    )
    assert found.heard == take.heard
    shown = place.client.get(f"/takes/{take.id}").text
    assert "It is being heard again, as 1/8: RRLL at 1/8 = 120." in shown
    assert '<span class="sticking">1/8: RLRR LRLL</span>' in shown
    assert "What was heard" in shown
    assert "{name}" not in shown
    assert f'action="/takes/{take.id}/correct"' not in shown
    place.studio.queue.took_failed(take.id, "The recording is missing.")
    shown = place.client.get(f"/takes/{take.id}").text
    assert "It could not be heard again: The recording is missing. Here is what was heard before." in shown
    assert (place.now(take).exercise, place.now(take).heard) == (take.exercise, take.heard)


def test_that_it_is_being_heard_is_said_as_long_as_it_is(place: Place) -> None:
    take = place.heard()
    answer = place.post(f"/takes/{take.id}/hear-again", exercise="1/8: RRLL", tempo="1/8=120", click="none")
    there = answer.headers["location"]
    assert "It is being heard again" in place.client.get(there).text
    assert "said=" not in there
    place.studio.queue.took_heard(take.id, take.heard or "", 5.0)
    shown = place.client.get(there).text  # the same address, as a reload has it
    assert "It is being heard again" not in shown
    assert "being heard" not in shown


def test_a_tempo_alone_is_of_the_beat_that_stood_there_and_the_stroke_is_asked_for(place: Place) -> None:
    take = place.heard()
    shown = place.client.get(f"/takes/{take.id}").text
    assert '<label for="upload-stroke">Stroke height</label>' in shown
    assert '<label for="again-stroke">Stroke height</label>' in shown
    was = {"exercise_was": take.exercise, "tempo_was": "1/4 = 70"}
    place.post(f"/takes/{take.id}/hear-again", exercise=take.exercise, tempo="72", stroke="half", **was)
    assert (place.now(take).tempo, place.now(take).stroke) == ("1/4 = 72", "half")
    place.post(f"/takes/{take.id}/hear-again", exercise="1/8: RRLL", tempo="72", stroke="", **was)
    assert (place.now(take).tempo, place.now(take).stroke) == ("1/8 = 72", None)


def test_a_take_is_deleted_only_when_it_is_meant(place: Place) -> None:
    take = place.heard()
    answer = place.post(f"/takes/{take.id}/delete")
    assert answer.status_code == 422
    assert "Nothing was deleted" in answer.text
    assert place.post(f"/takes/{take.id}/delete", sure="yes").status_code == 303
    assert place.studio.takes.find(take.id) is None


def upload(place: Place, content: bytes = SOUND, kind: str = "audio/flac", **fields: Any) -> Any:
    typed = {"csrf": place.csrf, "exercise": "1/8: RLRR LRLL", "tempo": "1/8=140", "whose": "mine", **fields}
    files = {"recording": ("model.flac", content, kind)}
    path = f"/students/{place.student_id}/takes"
    return place.client.post(path, data=typed, files=files, follow_redirects=False)


def test_the_teacher_s_own_take_is_the_model(place: Place) -> None:
    answer = upload(place, upload_key="k" * 20)
    assert answer.status_code == 303
    assert "said=" not in answer.headers["location"]  # that it is being heard says the page while it is
    assert upload(place, upload_key="k" * 20).status_code == 303  # sent twice, kept once
    (take,) = place.studio.takes.all(place.student_id)
    assert (take.source, take.model, take.original_name) == ("teacher", True, "model.flac")
    assert place.studio.takes.recording(take).read_bytes() == SOUND
    place.post(f"/takes/{take.id}/words", part="model")
    assert not place.now(take).model


def test_a_student_s_recording_can_be_added_with_its_day(place: Place) -> None:
    upload(place, whose="student", recorded_on="2026-01-09")
    (take,) = place.studio.takes.all(place.student_id)
    assert (take.source, take.model, take.recorded_at.astimezone().date().isoformat()) == (
        "upload",
        False,
        "2026-01-09",
    )


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"content": b""}, "Choose a file"),
        ({"kind": "text/html"}, "must be a sound, video or MIDI file; this is text/html."),
        ({"exercise": "1/8: RLXR"}, "column 8"),
        ({"tempo": ""}, "an exercise without a tempo"),
        ({"tape": "R=mauve"}, "a colour for each hand, such as R=blue,L=green"),
        ({"tape": "R=blue,L=blue"}, "another colour on each stick"),
        ({"pad_cm": "wide"}, "a number of centimetres, such as 30"),
        ({"pad_cm": "300"}, "10 to 60 cm"),
    ],
)
def test_what_cannot_be_taken_in_comes_back(place: Place, fields: dict[str, Any], words: str) -> None:
    answer = upload(place, **{"tempo": "1/8=99", **fields})
    assert answer.status_code == 422
    assert words in answer.text
    assert f'value="{fields.get("exercise", "1/8: RLRR LRLL")}"' in answer.text
    assert place.studio.takes.all() == []


def test_a_video_is_watched_and_its_page_says_what_was_seen(place: Place, tmp_path: Path) -> None:
    film = a_film(tmp_path / "film.mp4").read_bytes()
    fields = {"exercise": "1/8: RRLL", "tempo": "1/8=240", "tape": "R=blue, L=green", "pad_cm": "30"}
    page = upload(place, film, "video/mp4", **fields).headers["location"]
    assert hear_waiting_once(place.studio) == 1
    shown = place.client.get(page).text
    assert '<h2 id="h-seen">What was seen</h2>' in shown
    assert "The right hand" in shown.partition("What was seen<")[2].partition("<figure")[0]
    assert 'class="chart sticks"' in shown
    assert "At the foot, how high the stick was before each note" in shown
    assert "bar 1 RLRL, 2 RLRL, 3 RLRL was played" in shown
    assert "Whether a stick rebounds freely or is lifted is experimental" in shown
    assert "The video was not kept" in shown
    assert place.client.get(f"{page}/figures.json").json()["schema"] == "urn:evenhand:watch-1"
    (take,) = place.studio.takes.all(place.student_id)
    assert (take.facts, take.original) == ({"tape": "R=blue, L=green", "pad_cm": "30"}, None)
    assert (take.recording or "").endswith(".flac")


def test_a_video_that_is_kept_is_shown_and_deleted_by_itself(place: Place) -> None:
    take = place.heard()
    assert place.client.get(f"/takes/{take.id}/film").status_code == 404
    place.studio.change_facts(keep_videos=True)
    new = a_new_take(place.student_id, "two")
    filmed, _ = place.studio.takes.receive(new, SOUND + b"two", film=b"\x1aE\xdf\xa3 a film")
    place.studio.queue.took_heard(filmed.id, json_text(a_heard_take()), 31.2, is_film=True)
    assert f'src="/takes/{filmed.id}/film"' in place.client.get(f"/takes/{filmed.id}").text
    answer = place.client.get(f"/takes/{filmed.id}/film")
    assert (answer.headers["content-type"], answer.content) == ("video/webm", b"\x1aE\xdf\xa3 a film")
    assert place.post(f"/takes/{filmed.id}/film/delete").status_code == 303
    now = place.now(filmed)
    assert (now.original, now.heard, now.recording) == (None, json_text(a_heard_take()), filmed.recording)
    assert place.client.get(f"/takes/{filmed.id}/film").status_code == 404
    assert not [key for key in place.studio.data.recordings.kept_keys() if key.endswith(".webm")]


def test_a_minor_s_recording_needs_consent_and_a_model_does_not(place: Place) -> None:
    place.studio.students.change(place.student_id, minor=True)
    assert "parent or guardian agrees" in upload(place, whose="student").text
    assert upload(place, whose="mine").status_code == 303


def test_two_takes_stand_side_by_side(place: Place) -> None:
    first, second = place.heard("one"), place.heard("two")
    shown = place.client.get(f"/takes/{first.id}/beside/{second.id}").text
    assert "Two takes side by side" in shown
    assert shown.count("<figure") == 3  # each by itself, and both in turns
    assert "more than chance?" in shown
    assert "right minus left, level, dB" in shown
    every = [part.partition('"')[0] for part in shown.split(' id="')[1:]]
    assert len(every) == len(set(every))


def test_side_by_side_needs_both_heard(place: Place) -> None:
    first, second = place.heard("one"), place.take("two")
    answer = place.client.get(f"/takes/{first.id}/beside/{second.id}", follow_redirects=False)
    assert answer.status_code == 303
    assert "Both takes must be heard first" in place.client.get(answer.headers["location"]).text


def test_a_blind_take_is_shown_and_compared_honestly(place: Place) -> None:
    blind = place.heard("blind", json_text(a_blind_take()), exercise="", tempo="")
    shown = place.client.get(f"/takes/{blind.id}").text
    assert "no exercise was named" in shown
    assert "Correct a hit" not in shown
    guided = place.heard("guided")
    beside = place.client.get(f"/takes/{guided.id}/beside/{blind.id}").text
    assert "no figures to compare" in beside


def test_there_is_no_inline_script(place: Place) -> None:
    take = place.heard()
    for path in (f"/takes/{take.id}", f"/takes/{take.id}/beside/{take.id}"):
        shown = place.client.get(path).text
        assert "<script>" not in shown
        assert " onclick=" not in shown


def test_a_recording_that_was_found_again_is_given_to_its_student(place: Place) -> None:
    """It belongs to nobody until the teacher says whose it is; a minor's needs consent."""
    place.studio.data.recordings.add(b"fLaC found on the disk")
    assert repair_studio(place.studio).nobodys == 1
    nobody = next(each for each in place.studio.students.all() if each.name == "Found again")
    (take,) = place.studio.takes.all(nobody.id)
    shown = place.client.get(f"/takes/{take.id}").text
    assert "was found again on" in shown
    assert "Whose it is" in shown
    una = place.studio.students.add("Una Marsh", minor=True)
    refused = place.post(f"/takes/{take.id}/give", student=una.id)
    assert refused.status_code == 422
    assert place.post(f"/takes/{take.id}/give", student="none").status_code == 404
    place.studio.students.change(una.id, consent_by="R. Marsh")
    assert place.post(f"/takes/{take.id}/give", student=una.id).status_code == 303
    given = place.now(take)
    assert (given.student_id, given.recording, given.facts) == (una.id, take.recording, {})
    assert "Whose it is" not in place.client.get(f"/takes/{take.id}").text
    place.studio.students.erase(una.id)
    assert list(place.studio.data.recordings.kept_keys()) == []
