"""Guesses: many from one place, from many places, with sessions, at once; and who comes in all the same."""

from __future__ import annotations

import asyncio
import threading
from types import SimpleNamespace
from typing import Any, cast

import pytest
from starlette.testclient import TestClient
from uvicorn.middleware.proxy_headers import ProxyHeadersMiddleware

from evenhand.studio.store.studio import Studio
from evenhand.studio.typed import is_common, wrong_with
from evenhand.web.checking import AT_ONCE, MOST_WAITING, PasswordChecks, TooManyChecks
from evenhand.web.guard import (
    HSTS,
    KNOWN,
    LIMITS,
    comes_from,
)
from evenhand.web.serving import WebSettings
from tests.studios import PASSWORD
from tests.web.walked import HOST, HOUR, House

MOST = LIMITS["login"][0]


def a_browser(house: House, address: str = "192.0.2.1") -> TestClient:
    return TestClient(
        house.app,
        headers={"origin": HOST, "accept": "text/html"},
        follow_redirects=False,
        client=(address, 5000),
    )


def guess(client: TestClient, password: str = "a guess or two") -> int:  # noqa: S107 - a wrong one
    return int(client.post("/login", data={"password": password}).status_code)


def test_a_session_by_a_link_gives_no_further_guesses(house: House) -> None:
    """Before, the count was by session and a link gave a new one each time: 120 guesses, none refused."""
    secret, _ = house.studio.access.make_link(house.ida.id, lasts=HOUR)
    answers = []
    for _ in range(2 * MOST):
        client = a_browser(house)
        assert client.get(f"/s/{secret}").headers["location"] == "/stand"
        answers.append(guess(client))
    assert answers == [403] * MOST + [429] * MOST


def test_guesses_from_many_addresses_are_counted_by_account(house: House) -> None:
    most = LIMITS["account"][0]
    answers = [guess(a_browser(house, f"192.0.2.{number}")) for number in range(most + 5)]
    assert answers == [403] * most + [429] * 5


def test_the_teachers_own_device_comes_in_while_others_guess(house: House) -> None:
    """At the same address, with all counts full: a device that came in before passes."""
    mine = a_browser(house)
    assert guess(mine, PASSWORD) == 303
    assert KNOWN in mine.cookies
    for number in range(LIMITS["account"][0] + 20):
        guess(a_browser(house, f"192.0.2.{1 + number % 4}"))
    assert guess(a_browser(house), PASSWORD) == 429  # a stranger, even with the right one
    assert guess(mine, PASSWORD) == 303


def test_a_known_device_that_guesses_is_kept_waiting_by_itself(house: House) -> None:
    mine = a_browser(house)
    assert guess(mine, PASSWORD) == 303
    assert [guess(mine) for _ in range(MOST + 2)] == [403] * MOST + [429] * 2
    assert guess(a_browser(house), PASSWORD) == 303  # others are not kept out by it


def test_a_made_up_device_is_not_known(house: House) -> None:
    answers = []
    for number in range(MOST + 3):
        client = a_browser(house)
        client.cookies.set(KNOWN, f"made up {number}")
        answers.append(guess(client))
    assert answers[-3:] == [429] * 3


def test_right_passwords_are_no_guesses(house: House) -> None:
    assert {guess(a_browser(house), PASSWORD) for _ in range(MOST + 5)} == {303}


def test_fifty_students_behind_one_address_all_come_in(house: House) -> None:
    """Before, 20 of 50 got 429."""
    links = [
        house.studio.access.make_link(house.studio.students.add(f"Pupil {number}").id, lasts=HOUR)[0]
        for number in range(50)
    ]
    for _ in range(LIMITS["link"][0] + 5):  # somebody there tries wrong ones besides
        a_browser(house).get("/s/wrong")
    assert a_browser(house).get("/s/wrong").status_code == 429
    for secret in links:
        client = a_browser(house)
        assert client.get(f"/s/{secret}").headers["location"] == "/stand"
        assert client.get("/stand").status_code == 200


def test_a_link_opened_again_in_the_same_browser_makes_no_new_session(house: House) -> None:
    secret, _ = house.studio.access.make_link(house.una.id, lasts=HOUR)
    before = len(house.studio.access.sessions(house.una.id))
    client = a_browser(house)
    for _ in range(5):
        assert client.get(f"/s/{secret}").headers["location"] == "/stand"
    assert len(house.studio.access.sessions(house.una.id)) == before + 1
    for _ in range(LIMITS["opened"][0]):
        last = client.get(f"/s/{secret}").status_code
    assert last == 429


def test_passwords_are_checked_few_at_a_time_and_not_all_are_let_wait() -> None:
    """Before, 60 at once took 2.6 GB and 11 s: each takes 64 MB, and here the checks inside are counted."""
    checks, inside, most, lock = PasswordChecks(), [0], [0], threading.Lock()
    go_on = threading.Event()

    def check() -> bool:
        with lock:
            inside[0] += 1
            most[0] = max(most[0], inside[0])
        go_on.wait(20)
        with lock:
            inside[0] -= 1
        return True

    async def one() -> bool | None:
        try:
            return await checks.run(check)
        except TooManyChecks:
            return None

    async def sixty() -> list[bool | None]:
        asked = [asyncio.create_task(one()) for _ in range(60)]
        await asyncio.sleep(0)  # each has asked
        go_on.set()
        return await asyncio.gather(*asked)

    answers = asyncio.run(sixty())
    assert answers.count(True) == AT_ONCE + MOST_WAITING
    assert answers.count(None) == 60 - AT_ONCE - MOST_WAITING
    assert most[0] <= AT_ONCE
    assert asyncio.run(one()) is True  # and then there is room again
    checks.close()


def test_too_many_checks_are_said_and_are_no_guesses(house: House, monkeypatch: pytest.MonkeyPatch) -> None:
    async def full(_self: object, _check: object) -> None:
        raise TooManyChecks

    with monkeypatch.context() as changed:
        changed.setattr(PasswordChecks, "run", full)
        assert {guess(a_browser(house)) for _ in range(MOST + 5)} == {503}
    assert guess(a_browser(house), PASSWORD) == 303


def where_from(peer: str, forwarded: str, proxies: list[str]) -> str:
    """Tell whom the studio takes for the visitor, behind Uvicorn's own reading of the header."""
    seen: list[str] = []

    async def app(scope: Any, _receive: Any, _send: Any) -> None:
        seen.append(scope["client"][0])

    asked = {
        "type": "http",
        "scheme": "http",
        "client": (peer, 1),
        "headers": [(b"x-forwarded-for", forwarded.encode())],
    }
    read = ProxyHeadersMiddleware(cast("Any", app), trusted_hosts=proxies) if proxies else app
    asyncio.run(read(cast("Any", asked), cast("Any", None), cast("Any", None)))
    return seen[0]


def test_what_is_forwarded_is_believed_from_the_named_proxy_only() -> None:
    proxy = ["192.0.2.3"]
    assert where_from("192.0.2.3", "198.51.100.7", proxy) == "198.51.100.7"
    assert where_from("192.0.2.3", "203.0.113.9, 198.51.100.7", proxy) == "198.51.100.7"  # the nearest
    assert where_from("10.0.0.5", "198.51.100.7", proxy) == "10.0.0.5"  # private, but not named
    assert where_from("192.168.1.9", "198.51.100.7", []) == "192.168.1.9"


def test_an_address_of_version_6_is_counted_by_its_household() -> None:
    """A household has a /64 (RFC 6177), so that its last 64 bits are free for whoever guesses."""

    def of(host: str) -> str:
        return comes_from(cast("Any", SimpleNamespace(client=SimpleNamespace(host=host))))

    assert of("2001:db8:1:2:3:4:5:6") == of("2001:db8:1:2:ffff::1") != of("2001:db8:1:3::1")
    assert of("::ffff:192.0.2.1") == of("192.0.2.1")


@pytest.mark.parametrize(
    "password",
    [
        "password1234",
        "Password2026!",
        "P@ssw0rd2026",
        "passwordpassword",
        "123456789012",
        "qwertyuiop123",
        "aaaaaaaaaaaa",
        "abababababab",
        "abcdefghijkl",
        "zyxwvutsrqpo",
        "drumteacher1",
        "dr-um-te-ac-her 1",
        "LetMeIn!!!!!!",
        "000000000000",
        "iloveyou2026",
        "evenhand12345",
        "1q1q1q1q1q1q",
    ],
)
def test_what_is_tried_first_will_not_do(password: str) -> None:
    """From memory: what such lists begin with, and how people make a short one long."""
    assert wrong_with(password) == "common"


@pytest.mark.parametrize(
    "password",
    [
        PASSWORD,
        "a stick in each hand",
        "left hand leads",
        "K7#qwm29xLp4v",
        "木が倒れる音を聞いたことがある人",
    ],
)
def test_words_of_ones_own_will_do(password: str) -> None:
    assert not is_common(password)
    assert wrong_with(password, password) == ""


def test_a_name_that_the_studio_does_not_have_is_refused(house: House) -> None:
    """A page of somebody else's whose name leads here would be of the same origin as ours."""
    settings = house.app.state.settings
    house.app.state.settings = WebSettings(settings.data, hosts=("testserver", "127.0.0.1"))
    try:
        client = a_browser(house)
        for host in ("elsewhere.example", "testserver.elsewhere.example", "", "[", "testserver@elsewhere"):
            answer = client.get("/login", headers={"host": host, "origin": f"http://{host}"})
            assert answer.status_code == 421
            assert "Content-Security-Policy" in answer.headers
        for host in ("testserver", "testserver:8420", "127.0.0.1:80"):
            assert client.get("/login", headers={"host": host}).status_code == 200
    finally:
        house.app.state.settings = settings


def test_with_https_nothing_private_is_kept_and_browsers_stay_with_it(house: House) -> None:
    settings = house.app.state.settings
    assert "Strict-Transport-Security" not in a_browser(house).get("/login").headers
    house.app.state.settings = WebSettings(settings.data, secure=True)
    try:
        secret, _ = house.studio.access.begin("teacher", lasts=HOUR)
        client = a_browser(house)
        client.headers["cookie"] = f"__Host-evenhand={secret}"
        sound = f"/takes/{house.takes[house.ida.id]}/sound"
        for path in ("/", "/students", "/settings", sound, "/export", "/none", "/login"):
            answer = client.get(path)
            assert answer.status_code in {200, 303, 404}
            assert answer.headers["cache-control"] == "no-store", path
            assert answer.headers["strict-transport-security"] == HSTS["Strict-Transport-Security"]
        assert "no-store" not in client.get("/static/studio.css").headers.get("cache-control", "")
        client.headers["cookie"] = f"evenhand={secret}"  # the name that a neighbour could set
        assert client.get("/").headers["location"] == "/login"
    finally:
        house.app.state.settings = settings


def test_sessions_are_listed_and_ended_one_by_one(house: House) -> None:
    client = house.client("teacher")
    other, session = house.studio.access.begin("teacher", lasts=HOUR, browser="Firefox, Linux")
    shown = client.get("/access").text
    assert "Firefox, Linux" in shown
    assert "this browser" in shown
    answer = client.post(f"/access/sessions/{session.id}/end", data={"x": ""})
    assert answer.headers["location"].startswith("/access?said=")
    assert "is logged out" in client.get(answer.headers["location"]).text
    assert house.studio.access.session(other) is None
    assert client.get("/access").status_code == 200


def test_what_was_done_is_logged_without_names_and_secrets(house: House) -> None:
    studio: Studio = house.studio
    nora = studio.students.add("Nora Veldt")
    client = house.client("teacher")
    guess(a_browser(house))
    assert guess(a_browser(house), PASSWORD) == 303
    client.post(f"/students/{nora.id}/links", data={"x": ""})
    secret, link = studio.access.make_link(nora.id, lasts=HOUR)
    a_browser(house).get(f"/s/{secret}")
    client.post(f"/links/{link.id}/revoke", data={"student": nora.id})
    client.get(f"/students/{nora.id}/export")
    client.get("/export")
    client.post(f"/students/{nora.id}/erase", data={"name": "Nora Veldt"})
    done = [act.what for act in studio.log.newest(8)]
    assert sorted(done) == sorted(
        [
            "login refused",
            "login",
            "link made",
            "link opened",
            "link revoked",
            "student exported",
            "studio exported",
            "student erased",
        ]
    )
    kept = repr(studio.log.newest(5000))
    for private in ("Nora", nora.id, secret, PASSWORD):
        assert private not in kept
    assert "A student was erased" in client.get("/access").text


def test_a_line_is_shown_only_where_the_studio_itself_sent_it(house: House) -> None:
    """Before, any link put any words on our own page: ``?said=Your password ran out, mail it to ...``."""
    client = house.client("teacher")
    for path in ("/", "/students", "/book", "/settings", f"/students/{house.ida.id}", "/access"):
        for seal in ("", "&seal=", f"&seal={'0' * 32}", "&seal=%C3%A9"):
            assert "mail it" not in client.get(f"{path}?said=mail+it{seal}").text
    sent = client.post("/settings", data={"name": "Studio Larkfield", "unit": "in"}).headers["location"]
    assert "saved" in client.get(sent).text.lower()
    elsewhere = sent.replace("/settings", "/book")
    assert 'class="said"' not in client.get(elsewhere).text
