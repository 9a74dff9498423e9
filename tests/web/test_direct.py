"""Recordings go from the page to the store and back by links, past the server; the guard comes first."""

from __future__ import annotations

import hashlib
import json
import re
import time
from collections.abc import Iterator, Mapping
from contextlib import closing
from datetime import timedelta
from pathlib import Path
from typing import Any
from urllib.error import HTTPError
from urllib.request import Request, urlopen

import pytest
from starlette.testclient import TestClient

from evenhand.studio.school import School
from evenhand.studio.store import data
from evenhand.studio.store.data import Quota
from evenhand.studio.store.layout import Backing
from evenhand.studio.store.places import bucket
from evenhand.studio.store.places.address import client_of
from evenhand.studio.store.places.bucket import BucketFiles
from evenhand.studio.store.studio import Studio
from evenhand.studio.work.pool import hear_waiting_once
from evenhand.web.app import create_app
from evenhand.web.guard import COOKIE
from evenhand.web.serving import WebSettings
from tests.objects import BUCKET, Store
from tests.places import empty
from tests.postgres import Server
from tests.studios import PASSWORD, QUICK, a_new_take
from tests.web.stands import JSON, KEY, ORIGIN, TEMPO, TEXT, Stand, a_recording, a_stand

HOUR = timedelta(hours=1)
STUDIO = "https://drums.example"
WAV = b"RIFF\x00\x00\x00\x00WAVEfmt " + bytes(600)


def asked(
    method: str, url: str, content: bytes | None = None, headers: Mapping[str, str] | None = None
) -> tuple[int, bytes, Mapping[str, str]]:
    """Ask the store as a browser does."""
    request = Request(url, content, dict(headers or {}), method=method)  # noqa: S310 - the tests' own store
    try:
        with urlopen(request, timeout=20) as answer:  # noqa: S310 - the same
            return answer.status, answer.read(), dict(answer.headers)
    except HTTPError as error:
        with error:
            return error.code, error.read(), dict(error.headers)


@pytest.fixture
def stand(objects: Store, tmp_path: Path) -> Iterator[Stand]:
    """Give a stand whose recordings lie in a store that browsers reach."""
    kept_in = f"{objects.address_of(tmp_path.name)}&links={objects.endpoint}&encryption=AES256"
    with a_stand(tmp_path, backing=Backing(objects=kept_in)) as there:
        yield there


def sha256(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def ticket(stand: Stand, content: bytes, **changes: Any) -> Any:
    form = {"csrf": stand.csrf, "sent": sha256(content), "bytes": str(len(content)), **changes}
    return stand.client.post("/stand/ticket", data=form, headers=JSON)


def sent(stand: Stand, content: bytes = WAV) -> int:
    """Send a recording to the store by a ticket."""
    found = ticket(stand, content).json()
    return asked("PUT", found["url"], content, found["headers"])[0]


def received(stand: Stand, content: bytes = WAV, key: str = KEY, **more: str) -> Any:
    """Say that it is there."""
    form = {"csrf": stand.csrf, "upload_key": key, "exercise": TEXT, "tempo": TEMPO, "sent": sha256(content)}
    return stand.client.post("/stand/takes", data={**form, **more}, headers=JSON)


def names_in(stand: Stand, objects: Store) -> list[str]:
    """List what lies in the store, by the folder."""
    prefix = stand.studio.data.recordings.folder.parent.parent.name
    client = objects.client()
    page = client.list_objects_v2(Bucket=BUCKET, Prefix=f"{prefix}/")
    client.close()
    return sorted(each["Key"].split("/")[2] for each in page.get("Contents", []))


def test_a_recording_goes_past_the_server_and_is_heard(stand: Stand, objects: Store) -> None:
    playing = a_recording()
    assert sent(stand, playing) == 200
    assert names_in(stand, objects) == ["incoming", "labels"]  # the student's label
    answer = received(stand, playing)
    assert answer.status_code == 202
    take = stand.only_take()
    assert take.recording == f"{sha256(playing)[:2]}/{sha256(playing)}.wav"
    assert names_in(stand, objects) == ["labels", "labels", "recordings"]
    assert hear_waiting_once(stand.studio) == 1
    assert stand.only_take().status == "heard"
    again = received(stand, playing)  # its answer was lost on the way
    assert (again.status_code, again.json()["id"]) == (200, take.id)


def test_a_film_goes_the_same_way_beside_it(stand: Stand) -> None:
    film = b"\x1aE\xdf\xa3" + bytes(900)
    assert (sent(stand), sent(stand, film)) == (200, 200)
    assert received(stand, sent_film=sha256(film)).status_code == 202
    assert (stand.only_take().original or "").endswith(f"{sha256(film)}.webm")


def test_a_sound_is_a_link_that_the_guard_gives(stand: Stand) -> None:
    sent(stand)
    take = received(stand).json()["id"]
    answer = stand.client.get(f"/stand/takes/{take}/sound", follow_redirects=False)
    assert (answer.status_code, answer.headers["cache-control"]) == (302, "no-store")
    link = answer.headers["location"]
    status, content, headers = asked("GET", link, headers={"Range": "bytes=4-9"})
    assert (status, content, headers["Content-Type"]) == (206, WAV[4:10], "audio/wav")
    assert headers["Cache-Control"] == "private, no-store"
    another = stand.as_another(stand.studio.students.add("Una Marsh"))
    refused = another.client.get(f"/stand/takes/{take}/sound", follow_redirects=False)
    assert refused.status_code in {403, 404}
    assert "location" not in refused.headers
    stand.client.cookies.clear()
    assert "X-Amz" not in stand.client.get(f"/stand/takes/{take}/sound", follow_redirects=False).text


def test_a_link_opens_one_thing_for_one_act_and_a_while(
    stand: Stand, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(bucket, "LINK_S", 2)
    sent(stand)
    take = stand.studio.takes.get(received(stand).json()["id"])
    link = stand.client.get(f"/stand/takes/{take.id}/sound", follow_redirects=False).headers["location"]
    assert asked("GET", link)[:2] == (200, WAV)
    label = link.replace(f"recordings/{take.recording}", f"labels/{take.student_id}/take-{take.id}.json")
    assert label != link
    other_studio = link.replace("/first/", "/second/")
    assert [asked("GET", each)[0] for each in (label, other_studio, link.split("?")[0])] == [403] * 3
    assert [asked(method, link, b"x")[0] for method in ("PUT", "DELETE")] == [403] * 2
    time.sleep(3)
    assert asked("GET", link)[0] == 403


def test_other_bytes_than_the_ticket_says_are_not_taken(stand: Stand) -> None:
    found = ticket(stand, WAV).json()
    other = WAV[:-1] + b"x"
    assert asked("PUT", found["url"], other, found["headers"])[0] == 400
    assert asked("PUT", found["url"], WAV + b"more", found["headers"])[0] == 403
    theirs = {**found["headers"], "x-amz-checksum-sha256": "A" * 43 + "="}
    assert asked("PUT", found["url"], other, theirs)[0] == 403
    assert received(stand).status_code == 409
    assert stand.studio.takes.all() == []


def test_who_knows_a_hash_has_not_the_recording(stand: Stand) -> None:
    """Neither before its take is kept nor after: only what a student sent can be that student's take."""
    una = stand.as_another(stand.studio.students.add("Una Marsh"))
    sent(stand)
    assert received(una).status_code == 409
    assert received(stand).status_code == 202
    assert received(una, key="another-key-of-una").status_code == 409
    assert ticket(una, WAV).json()["url"] != ticket(stand, WAV).json()["url"]


def test_in_a_school_nobody_gets_a_link_to_another_studios_recording(
    postgres: Server, objects: Store, tmp_path: Path
) -> None:
    """By the other teacher's session, or a student's of theirs; and the names in the store are apart."""
    url = postgres.url.render_as_string(hide_password=False)
    empty(url)
    backing = Backing(url, objects=f"{objects.address_of(tmp_path.name)}&links={objects.endpoint}")
    with closing(School(tmp_path / "school", backing, hasher=QUICK)) as school:
        school.bring_up_to_date(finish=True)
        school.add("mara", "Mara Veldt", PASSWORD)
        school.add("iven", "Iven Okoro", PASSWORD)
    app = create_app(WebSettings(tmp_path / "school", backing), hears=False)
    with TestClient(app, headers=ORIGIN) as client:
        mara, iven = (studio_named(app.state.school, name) for name in ("mara", "iven"))
        ida, una = mara.students.add("Ida Quill"), iven.students.add("Una Marsh")
        take, _ = mara.takes.receive(a_new_take(ida.id), WAV)
        for studio, student, status in ((mara, ida, 302), (iven, una, 404)):
            teachers = studio.access.begin("teacher", lasts=HOUR)[0]
            students = studio.access.begin("student", student_id=student.id, lasts=HOUR)[0]
            for secret, path in ((teachers, "/takes"), (students, "/stand/takes")):
                client.cookies.clear()
                client.cookies.set(COOKIE, secret)
                answer = client.get(f"{path}/{take.id}/sound", follow_redirects=False)
                assert answer.status_code == status
                link = answer.headers.get("location", "")
                own = f"/{mara.data.database.studio_id}/recordings/{take.recording}?"
                assert (own in link) == (studio is mara)
        assert [list(each.data.recordings.kept_keys()) for each in (mara, iven)] == [[take.recording], []]


def studio_named(school: School, login: str) -> Studio:
    found = school.by_login(login)
    assert found is not None
    return school.studio(found.id)


@pytest.mark.parametrize(
    ("changes", "status"),
    [({"sent": "../labels"}, 422), ({"sent": ""}, 422), ({"bytes": "0"}, 422), ({"bytes": f"{10**10}"}, 413)],
)
def test_a_ticket_is_for_a_recording(stand: Stand, changes: dict[str, str], status: int) -> None:
    assert ticket(stand, WAV, **changes).status_code == status


def test_what_is_sent_and_never_kept_is_bounded(stand: Stand, monkeypatch: pytest.MonkeyPatch) -> None:
    """Else one student's tickets could fill the store: the share alone counts what is kept."""
    monkeypatch.setattr(data, "MOST_WAITING_BYTES", 1500)
    assert (sent(stand), sent(stand, WAV + b"2")) == (200, 200)
    refused = ticket(stand, WAV + b"3")
    assert (refused.status_code, "no room" in refused.json()["error"]) == (413, True)
    assert received(stand).status_code == 202
    assert ticket(stand, WAV + b"3").status_code == 200
    una = stand.as_another(stand.studio.students.add("Una Marsh"))
    assert ticket(una, WAV).status_code == 200


def test_the_share_of_a_student_holds_for_tickets_too(stand: Stand) -> None:
    stand.studio.data.quota = Quota(student_bytes=1000)
    assert sent(stand) == 200
    assert received(stand).status_code == 202
    assert ticket(stand, WAV + b"2").status_code == 413


def test_what_is_kept_is_not_written_over_by_what_is_sent_again(
    stand: Stand, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One that could exchange the bytes after they were looked at would exchange what others hear."""
    sent(stand)
    assert received(stand).status_code == 202
    copied: list[str] = []
    monkeypatch.setattr(BucketFiles, "copy", lambda _self, name, _to: copied.append(name))
    sent(stand)
    assert received(stand, key="another-key-of-hers").status_code == 202
    assert copied == []


def test_without_consent_there_is_no_ticket(objects: Store, tmp_path: Path) -> None:
    kept_in = f"{objects.address_of(tmp_path.name)}&links={objects.endpoint}"
    with a_stand(tmp_path, backing=Backing(objects=kept_in), minor=True) as stand:
        assert ticket(stand, WAV).status_code == 403


def test_a_page_may_reach_the_store_only_where_it_is_used(
    stand: Stand, objects: Store, tmp_path: Path
) -> None:
    policy = stand.client.get("/stand").headers["content-security-policy"]
    assert f"connect-src 'self' {objects.endpoint};" in policy
    assert f"media-src 'self' {objects.endpoint} blob:" in policy
    (tmp_path / "near").mkdir()
    kept_in = Backing(objects=objects.address_of(f"{tmp_path.name}/near"))
    with a_stand(tmp_path / "near", backing=kept_in) as near:
        assert "connect-src 'self';" in near.client.get("/stand").headers["content-security-policy"]
        assert "data-ticket" not in near.client.get("/stand").text
        assert ticket(near, WAV).status_code == 422
        take = near.send(WAV).json()["id"]
        answer = near.client.get(f"/stand/takes/{take}/sound", headers={"Range": "bytes=4-9"})
        assert (answer.status_code, answer.content) == (206, WAV[4:10])


def test_a_store_that_is_away_is_said_and_the_recording_stays_on_its_device(
    stand: Stand, monkeypatch: pytest.MonkeyPatch
) -> None:
    sent(stand)
    files = stand.studio.data.recordings.files
    assert isinstance(files, BucketFiles)
    monkeypatch.setattr(files, "_client", client_of(files.address, "http://127.0.0.1:9"))
    for answer in (received(stand), stand.send(WAV)):
        assert answer.status_code == 503
        assert "stays on the device" in answer.json()["error"]
        assert "127.0.0.1" not in answer.text
    assert stand.studio.takes.all() == []
    assert stand.client.get("/ready").json()["lacks"] == ["recordings"]
    assert stand.client.get("/stand").status_code == 200
    monkeypatch.undo()
    assert received(stand).status_code == 202


def test_what_the_store_must_allow_browsers_is_as_the_docs_say(stand: Stand, objects: Store) -> None:
    """The rules of docs/running.md let the studio's pages send and read, and nobody else's."""
    text = (Path(__file__).parents[2] / "docs" / "running.md").read_text("utf-8")
    (rules,) = re.findall(r'```json\n(\{"CORSRules".*)\n```', text)
    client = objects.client()
    client.put_bucket_cors(Bucket=BUCKET, CORSConfiguration=json.loads(rules))
    try:
        found = ticket(stand, WAV).json()
        names = ", ".join(found["headers"])
        before = {"Access-Control-Request-Method": "PUT", "Access-Control-Request-Headers": names}
        ours = asked("OPTIONS", found["url"], headers={"Origin": STUDIO, **before})
        assert (ours[0], ours[2].get("Access-Control-Allow-Origin")) == (200, STUDIO)
        theirs = asked("OPTIONS", found["url"], headers={"Origin": "https://elsewhere.example", **before})
        assert "Access-Control-Allow-Origin" not in theirs[2]
    finally:
        client.delete_bucket_cors(Bucket=BUCKET)
        client.close()
