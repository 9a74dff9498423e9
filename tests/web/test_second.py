"""The teacher's second factor on the pages, and the command for a teacher who is locked out."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta

import pytest
from starlette.testclient import TestClient

from evenhand.cli.main import run
from evenhand.studio.store.second import new_otp_secret, unsealed_with
from evenhand.web.guard import LIMITS
from tests.storage.test_second import code_at
from tests.studios import PASSWORD
from tests.web.walked import HOST, House

NEXT = timedelta(seconds=30)


@pytest.fixture
def on(house: House) -> str:
    """Switch it on, with its first code long used; give its secret."""
    secret, second = new_otp_secret(), house.studio.access.second
    second.drop()
    second.put_on(PASSWORD, secret, code_at(now(), secret))
    second._keep(type(second.kept)(second.kept.sealed, 1, second.kept.recovery))  # noqa: SLF001 - time passes
    return secret


def now() -> datetime:
    return datetime.now(UTC)


def stranger(house: House) -> TestClient:
    return TestClient(house.app, headers={"origin": HOST, "accept": "text/html"}, follow_redirects=False)


def log_in(house: House, password: str, code: str = "") -> int:
    return int(stranger(house).post("/login", data={"password": password, "code": code}).status_code)


def test_it_is_switched_on_by_what_the_page_shows(house: House) -> None:
    house.studio.access.second.drop()
    client = house.client("teacher")
    shown = client.get("/access/second")
    assert shown.headers["cache-control"] == "no-store"
    assert "<svg" in shown.text
    (secret,) = re.findall(r'name="secret" value="(\w+)"', shown.text)
    assert "otpauth://totp/Evenhand:" in shown.text
    assert 'name="code"' not in stranger(house).get("/login").text
    form = {"secret": secret, "password": PASSWORD, "code": code_at(now(), secret)}
    for wrong in ({"password": "a guess or two"}, {"code": "000000"}, {"secret": "A"}, {"secret": "1" * 32}):
        refused = client.post("/access/second", data={**form, **wrong})
        assert refused.status_code == 422
        assert not house.studio.access.second.kept.sealed
        if "secret" not in wrong:
            assert secret in refused.text  # the app need not read another
    done = client.post("/access/second", data=form)
    codes = re.findall(r"<li>([a-z2-7-]{29})</li>", done.text)
    assert len(codes) == 8
    assert codes[0] not in client.get("/access/second").text
    assert 'name="code"' in stranger(house).get("/login").text
    assert log_in(house, PASSWORD) == 403
    assert log_in(house, PASSWORD, codes[0]) == 303
    assert log_in(house, PASSWORD, codes[0]) == 403
    again = client.post("/access/second", data={**form, "secret": new_otp_secret()})
    assert again.status_code == 422  # it is on: no other takes its place
    house.studio.access.second.drop()


def test_a_code_lets_in_once(house: House, on: str) -> None:
    code = code_at(now() + NEXT, on)
    assert [log_in(house, PASSWORD, code) for _ in range(2)] == [303, 403]
    assert log_in(house, PASSWORD, code_at(now() - 10 * NEXT, on)) == 403


def test_guesses_of_codes_are_counted_as_those_of_passwords(house: House, on: str) -> None:
    client, most = stranger(house), LIMITS["login"][0]
    answers = [
        client.post("/login", data={"password": PASSWORD, "code": f"{n:06}"}).status_code
        for n in range(most + 2)
    ]
    assert answers == [403] * most + [429] * 2
    teacher = house.client("teacher")
    for path in ("/access/second/off", "/access/second/codes"):
        assert teacher.post(path, data={"password": PASSWORD, "code": "x"}).status_code == 422
    answers = [
        teacher.post("/access/second/off", data={"password": PASSWORD, "code": "x"}).status_code
        for _ in range(LIMITS["password"][0])
    ]
    assert answers[-2:] == [429, 429]
    assert unsealed_with(PASSWORD, house.studio.access.second.kept.sealed) == on


def test_it_is_switched_off_by_password_and_code(house: House, on: str) -> None:
    client = house.client("teacher")
    for form in ({"password": PASSWORD}, {"password": "a guess or two", "code": code_at(now(), on)}):
        assert client.post("/access/second/off", data=form).status_code == 422
    form = {"password": PASSWORD, "code": code_at(now(), on)}
    assert client.post("/access/second/off", data=form).headers["location"].startswith("/access?said=")
    assert log_in(house, PASSWORD) == 303
    done = [act.what for act in house.studio.log.newest(3)]
    assert done[:2] == ["login", "second factor off"]
    assert "Two-step login was switched off" in client.get("/access").text


def test_new_recovery_codes_end_the_old_ones(house: House, on: str) -> None:
    client = house.client("teacher")
    form = {"password": PASSWORD, "code": code_at(now(), on)}
    new = re.findall(r"<li>([a-z2-7-]{29})</li>", client.post("/access/second/codes", data=form).text)
    assert len(new) == 8
    assert log_in(house, PASSWORD, new[3]) == 303
    assert "7 recovery codes are left" in client.get("/access").text


@pytest.mark.usefixtures("on")
def test_a_teacher_who_is_locked_out_comes_in_by_the_computer(
    house: House, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    inside = house.client("teacher")
    data = str(house.app.state.settings.data)
    assert log_in(house, PASSWORD) == 403
    assert run(["reset-login", "--data", data]) == 0
    assert "the password alone opens it" in capsys.readouterr().out
    assert inside.get("/access").headers["location"] == "/login"
    assert log_in(house, PASSWORD) == 303
    monkeypatch.setenv("EVENHAND_PASSWORD", "four words of mine")
    assert run(["reset-login", "--data", data, "--new-password"]) == 0
    assert [log_in(house, each) for each in (PASSWORD, "four words of mine")] == [403, 303]
    house.studio.access.change_password(PASSWORD)
    assert run(["reset-login", "--data", f"{data}/none"]) == 2


def test_everybody_is_logged_out_at_once(house: House) -> None:
    teacher, other, student = house.client("teacher"), house.client("teacher"), house.client("student")
    assert teacher.post("/access/out", data={"who": "teacher"}).headers["location"] == "/login"
    assert other.get("/").headers["location"] == "/login"
    assert student.get("/stand").status_code == 200
    assert house.client("teacher").post("/access/out", data={"who": "everybody"}).status_code == 303
    assert student.get("/stand").headers["location"] == "/gone"
    assert house.studio.log.newest(1)[0].what == "everybody out"
