"""Several processes serve one studio: real ones, on a real Postgres, used in turn, killed and ended.

One server has two processes behind one address, another has one behind its own. They are as on two machines:
each has a folder of its own, and nothing between them but a Postgres and a store of objects. The test is a
third, which hears.
"""

from __future__ import annotations

import html
import json
import os
import signal
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path

import httpx2
import pytest
from sqlalchemy import text
from websockets.exceptions import ConnectionClosed
from websockets.sync.client import connect
from websockets.typing import Origin

from evenhand.studio.store.layout import Backing
from evenhand.studio.store.studio import Studio
from evenhand.studio.values import Session, Student
from evenhand.studio.work.pool import hear_waiting_once
from evenhand.web.guard import COOKIE, CSRF_HEADER, LIMITS
from tests.e2e.served import Served
from tests.objects import running as a_store
from tests.places import empty
from tests.postgres import Server
from tests.sounds import EXERCISE, TEMPO, a_recording
from tests.studios import PASSWORD, QUICK, a_studio

PATIENCE_S, LOOK_S = 30.0, 0.05
WAIT_S = 20.0  # as long as a page waits for news
HOUR = timedelta(hours=1)
JSON = "application/json"
TOKEN = "by-chance-" * 2
AUTHORIZED = {"authorization": f"Bearer {TOKEN}"}
Login = tuple[str, Session]

pytestmark = [
    pytest.mark.slow,  # it starts interpreters
    pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="looks at /proc"),
]


@dataclass
class Two:
    """Two servers of one studio, and the studio as it is kept."""

    many: Served  # with two processes
    one: Served
    studio: Studio

    def ask(self, at: Served, path: str, login: Login | None = None, **more: object) -> httpx2.Response:
        """Ask one of the servers, as a page of its own would."""
        headers = {"origin": at.address, **({"accept": JSON} if path.startswith("/stand/takes") else {})}
        if login is not None:
            headers |= {"cookie": f"{COOKIE}={login[0]}", CSRF_HEADER: login[1].csrf}
        method = "POST" if {"data", "files"} & more.keys() else "GET"
        return httpx2.request(method, f"{at.address}{path}", headers=headers, timeout=PATIENCE_S, **more)  # type: ignore[arg-type]

    def teacher(self) -> Login:
        """Let the teacher in."""
        return self.studio.access.begin("teacher", lasts=HOUR)

    def student(self, name: str) -> tuple[Student, Login]:
        """Let a new student in."""
        student = self.studio.students.add(name)
        return student, self.studio.access.begin("student", student_id=student.id, lasts=HOUR)

    def send(self, at: Served, login: Login, key: str = "key-0123456789abcdef") -> str:
        """Send a take, and give its id."""
        form = {"upload_key": key, "exercise": EXERCISE, "tempo": TEMPO, "source": "microphone"}
        file = {"recording": ("take.wav", a_recording(3), "audio/wav")}
        answer = self.ask(at, "/stand/takes", login, data=form, files=file)
        assert answer.status_code == 202, answer.text
        return str(answer.json()["id"])


@pytest.fixture(scope="module")
def two(postgres: Server, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Two]:
    """Serve a new studio twice."""
    url = postgres.url.set(drivername="postgresql").render_as_string(hide_password=False)
    empty(url)
    machines = [tmp_path_factory.mktemp(name) for name in ("many", "one", "hears")]
    with a_store() as store, pytest.MonkeyPatch.context() as variables:
        for name, value in store.environment.items():
            variables.setenv(name, value)
        backing = Backing(url, objects=store.address_of("together"))
        a_studio(machines[2], backing=backing).close()
        given = ("--database", url, "--objects", store.address_of("together"), "--metrics-token", TOKEN)
        yield from served_twice(machines, backing, *given)


def served_twice(machines: Sequence[Path], backing: Backing, *given: str) -> Iterator[Two]:
    with (
        Served(machines[0] / "studio", *given, "--processes", "2", workers=0) as many,
        Served(machines[1] / "studio", *given, workers=0) as one,
        Studio.open(machines[2] / "studio", backing=backing, hasher=QUICK) as studio,
    ):
        until(lambda: len(children(many.pid)) == 2)
        yield Two(many, one, studio)
        left = children(many.pid)
        many.stop()
        assert [pid for pid in left if Path(f"/proc/{pid}").exists()] == []
        for served in (many, one):
            assert "Traceback" not in served.log(), served.log()
    assert "The studio is closed." in many.log()


def until(holds: Callable[[], object]) -> None:
    end_s = time.monotonic() + PATIENCE_S
    while not holds():
        assert time.monotonic() < end_s, "waited in vain"
        time.sleep(LOOK_S)


def children(pid: int) -> list[int]:
    """List the interpreters that a process has begun, but for Python's own helper."""
    found = []
    for place in Path("/proc").glob("[0-9]*"):
        with suppress(OSError):  # it ended in the meantime
            parent = int((place / "stat").read_text("utf-8").rpartition(")")[2].split()[1])
            if parent == pid and b"spawn_main" in (place / "cmdline").read_bytes():
                found.append(int(place.name))
    return found


def test_who_came_in_at_one_is_in_at_the_other_and_out_at_both_when_all_are(two: Two) -> None:
    came = two.ask(two.many, "/login", data={"password": PASSWORD})
    assert came.status_code == 303, came.text
    cookie = {"cookie": f"{COOKIE}={came.cookies[COOKIE]}"}
    for served in (two.one, two.many):
        assert httpx2.get(f"{served.address}/students", headers=cookie).status_code == 200
    assert two.ask(two.one, "/access/out", two.teacher(), data={"who": "all"}).status_code == 303
    for served in (two.one, two.many):
        assert httpx2.get(f"{served.address}/students", headers=cookie).status_code == 303


def test_wrong_passwords_at_both_are_counted_together(two: Two) -> None:
    most = LIMITS["login"][0]
    tries = [(two.one, two.many)[number % 2] for number in range(most + 2)]
    try:
        seen = [two.ask(at, "/login", data={"password": f"wrong {at.address}"}).status_code for at in tries]
        assert seen == [403] * most + [429] * 2
    finally:
        with two.studio.data.database.by_itself() as connection:
            connection.execute(text("DELETE FROM tries"))


def test_a_book_that_is_changed_at_one_is_seen_at_the_other_with_the_line_that_says_so(two: Two) -> None:
    teacher = two.teacher()
    written = {"text": "1/8: RRLL RRLL", "title": "Doubles for two", "section": ""}
    done = two.ask(two.one, "/book/entries", teacher, data=written)
    assert done.status_code == 303, done.text
    for _ in range(6):  # whichever process answers
        page = two.ask(two.many, done.headers["location"].partition("#")[0], teacher)
        assert "Doubles for two" in page.text
        assert 'class="said"' in page.text
    assert "Recordings stay in the studio's own store." in html.unescape(two.ask(two.one, "/", teacher).text)


def test_a_link_that_is_taken_back_and_a_student_who_left_are_out_at_both_at_once(two: Two) -> None:
    ida = two.studio.students.add("Ida Quill")
    for ends in ("revoke", "archive"):
        secret, link = two.studio.access.make_link(ida.id, lasts=HOUR)
        came = two.ask(two.many, f"/s/{secret}")
        cookie = {"cookie": f"{COOKIE}={came.cookies[COOKIE]}"}
        assert httpx2.get(f"{two.one.address}/stand", headers=cookie).status_code == 200
        if ends == "revoke":
            two.ask(two.one, f"/links/{link.id}/revoke", two.teacher(), data={})
        else:
            two.studio.students.change(ida.id, archived=True)
        for served in (two.one, two.many):
            assert httpx2.get(f"{served.address}/stand", headers=cookie).status_code == 303
            assert two.ask(served, f"/s/{secret}").headers["location"] == "/gone"


def test_what_a_worker_elsewhere_heard_is_answered_at_once_whoever_was_asked(two: Two) -> None:
    """Each question is asked once, and waits: the answer comes by the news, before the time is over."""
    _, una = two.student("Una Marsh")
    teacher, asked_s = two.teacher(), time.time()
    take_id = two.send(two.many, una)
    state = f"/stand/takes/{take_id}/state.json?wait={WAIT_S}"
    with ThreadPoolExecutor(3) as asking:
        waiting = [asking.submit(two.ask, at, state, una) for at in (two.one, two.many)]
        desk = asking.submit(two.ask, two.one, f"/news?wait={WAIT_S}&since={asked_s}", teacher)
        time.sleep(0.5)  # so that they wait; asked later, they would be answered the same
        assert hear_waiting_once(two.studio) == 1
        told = [each.result(WAIT_S / 2).json() for each in waiting]
        assert desk.result(WAIT_S / 2).json()["came"]
    assert [each["status"] for each in told] == ["heard", "heard"]
    for at in (two.many, two.one):
        assert two.ask(at, f"/stand/takes/{take_id}/sound", una).content.startswith(b"fLaC")


def test_who_is_logged_out_while_waiting_is_told_nothing(two: Two) -> None:
    una, login = two.student("Una Marsh")
    take_id = two.send(two.one, login)
    with ThreadPoolExecutor(1) as asking:
        waits = asking.submit(two.ask, two.one, f"/stand/takes/{take_id}/state.json?wait={WAIT_S}", login)
        time.sleep(0.5)
        two.studio.students.change(una.id, archived=True)
        two.studio.takes.change(take_id, progress=0.5)
        assert waits.result(WAIT_S / 2).status_code == 401
    hear_waiting_once(two.studio)


def test_a_server_that_is_told_no_news_answers_at_once_until_it_is_told_again(two: Two) -> None:
    """The line is cut as a network does that drops; pages look by themselves meanwhile."""
    teacher = two.teacher()
    until(lambda: two.ask(two.one, "/news", teacher).json()["holds"])
    with ThreadPoolExecutor(1) as asking:
        waits = asking.submit(two.ask, two.one, f"/news?wait={WAIT_S}", teacher)
        time.sleep(0.5)
        with two.studio.data.database.by_itself() as connection:
            cut = "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE application_name LIKE :name"
            assert connection.execute(text(cut), {"name": "evenhand news"}).all()
        assert not waits.result(WAIT_S / 2).json()["came"]
    until(lambda: two.ask(two.one, "/news", teacher).json()["holds"])


def test_a_student_plays_live_at_any_process_and_not_after_the_link_is_gone(two: Two) -> None:
    una, (secret, _) = two.student("Una Marsh")
    clicks = {"first_s": 0.2, "beat_s": 0.4, "count": 4}
    asked = {"rate": 48_000, "exercise": EXERCISE, "tempo": TEMPO, "first_note_s": 1.0, "clicks": clicks}
    for served in (two.many, two.one):
        address = f"{served.address.replace('http', 'ws', 1)}/stand/live"
        headers = {"cookie": f"{COOKIE}={secret}"}
        with connect(address, origin=Origin(served.address), additional_headers=headers) as socket:
            socket.send(json.dumps(asked))
            assert json.loads(socket.recv(PATIENCE_S)) == {"ready": True}
            if served is two.one:
                two.studio.students.change(una.id, archived=True)
                with suppress(ConnectionClosed):
                    assert "logged out" in json.loads(socket.recv(PATIENCE_S))["error"]


def test_one_that_dies_is_replaced_the_others_go_on_and_the_figures_never_go_back(two: Two) -> None:
    """What the dead one counted stays counted; the sum is that of both, whichever answers."""

    def answered() -> int:
        said = httpx2.get(f"{two.many.address}/metrics", headers=AUTHORIZED).text.splitlines()
        return sum(int(line.rpartition(" ")[2]) for line in said if "requests_total" in line)

    before, asked = answered(), 20
    for _ in range(asked):
        assert httpx2.get(f"{two.many.address}/health").status_code == 200
    assert answered() == before + asked + 1
    first = children(two.many.pid)
    os.kill(first[0], signal.SIGKILL)
    for _ in range(asked):
        assert httpx2.get(f"{two.many.address}/health").status_code == 200
    until(lambda: len(set(children(two.many.pid)) - {first[0]}) == 2)
    assert answered() >= before + 2 * asked + 2


def test_a_server_that_is_killed_takes_nothing_along(two: Two) -> None:
    _, una = two.student("Una Marsh")
    take_id = two.send(two.one, una)
    two.one.kill()
    found = two.ask(two.many, f"/stand/takes/{take_id}/state.json", una)
    assert found.json()["status"] == "waiting"
    again = two.ask(
        two.many,
        "/stand/takes",
        una,
        data={
            "upload_key": "key-0123456789abcdef",
            "exercise": EXERCISE,
            "tempo": TEMPO,
            "source": "microphone",
        },
        files={"recording": ("take.wav", a_recording(3), "audio/wav")},
    )
    assert (again.status_code, again.json()["id"]) == (200, take_id)
    two.one.start()
    assert two.ask(two.one, f"/stand/takes/{take_id}/state.json", una).json()["status"] == "waiting"
    hear_waiting_once(two.studio)
