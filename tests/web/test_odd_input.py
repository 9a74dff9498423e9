"""Odd addresses and odd forms: whatever is sent, the answer is in words and no error of ours."""

from __future__ import annotations

import re
from pathlib import Path
from urllib.parse import quote

import pytest

from evenhand.web.assets import STATIC
from evenhand.web.routes import StudioRoute
from tests.web.stands import a_stand, assign, yesterday
from tests.web.walked import GETS, GUARDED, POSTS, House, each

DIGITS = "9" * 5000
ODD = (DIGITS, "-1", "1e400", "nan", "\u0663", "\u00bd", "\x00", "\udcff", "1/" + DIGITS, "{}", "[" * 3000)
FIELDS = sorted(
    {
        name
        for page in (STATIC.parent / "templates").glob("*.html")
        for name in re.findall(r'name="(\w+)"', page.read_text("utf-8"))
    }
    - {"csrf", "recording", "file"}
)
ASKED = ("day", "week", "all", "paper", "exercise", "tempo", "book", "said", "seal", "act", "number", "from")

LONG = ("day", "week", "exercise", "tempo")


def address(house: House, route: StudioRoute, value: str) -> str:
    """Put an odd text in the place of every name in the address."""
    names = dict.fromkeys(house.names, quote(value, safe="", errors="surrogateescape"))
    return route.path.format_map(names)


@each([route for route in GUARDED if "{" in route.path])
def test_odd_names_in_an_address_are_not_there(house: House, route: StudioRoute) -> None:
    """Before, ``/stand/practice/<5000 digits>`` was an error of ours: Python reads no number so long."""
    client = house.client(route.who)  # type: ignore[arg-type]
    for value in ODD:
        answer = client.request(
            route.method, address(house, route, value), data={"x": ""} if route in POSTS else None
        )
        assert answer.status_code in {303, 404, 405, 422}, value[:20]


@each([route for route in GETS if route.who != "anyone"])
def test_odd_questions_are_answered(house: House, route: StudioRoute) -> None:
    client = house.client(route.who)  # type: ignore[arg-type]
    for value in ODD:
        asked = quote(value, safe="", errors="surrogateescape")
        together = ["&".join(f"{name}={asked}" for name in ASKED)]
        for query in together if len(asked) < 1000 else [f"{name}={asked}" for name in LONG]:
            answer = client.get(f"{house.address(route)}?{query}")
            assert answer.status_code < 500, (value[:20], answer.text[-300:])


@each([route for route in POSTS if route.path not in {"/logout", "/stand/leave"}])
def test_odd_forms_are_answered(house: House, route: StudioRoute) -> None:
    """Every field that any page has, with the same odd text in each."""
    for value in ODD:
        client = house.client(route.who if route.who != "anyone" else None)
        sent = quote(value[:5000], safe="", errors="surrogateescape")
        body = "&".join(f"{name}={sent}" for name in FIELDS).encode()
        headers = {"content-type": "application/x-www-form-urlencoded"}
        answer = client.post(house.address(route), content=body, headers=headers)
        assert answer.status_code < 500, (value[:20], answer.text[-300:])


def test_the_fields_are_those_of_the_pages() -> None:
    assert {"words", "minutes", "changes", "password", "lesson_time"} <= set(FIELDS)
    assert Path(STATIC.parent / "templates").is_dir()


@pytest.mark.parametrize(
    "name", ["take.wav", "\udcff.wav", "a" * 5000, "../../x.wav", "a\x00b.wav", "\u202egnp.wav"]
)
def test_whatever_a_file_is_called_it_is_taken_or_refused_in_words(house: House, name: str) -> None:
    """A name that is no UTF-8 comes as the bytes that it is; nothing of it is ever a path."""
    client = house.client("student")
    raw = name.encode("utf-8", "surrogateescape").replace(b"\x00", b"\x00")
    head = b'--x\r\ncontent-disposition: form-data; name="recording"; filename="' + raw + b'"\r\n\r\n'
    key = b'--x\r\ncontent-disposition: form-data; name="upload_key"\r\n\r\n' + b"k" * 20 + b"\r\n"
    body = key + head + b"RIFF\r\n--x--\r\n"
    answer = client.post(
        "/stand/takes", content=body, headers={"content-type": "multipart/form-data; boundary=x"}
    )
    assert answer.status_code in {202, 200, 303, 400, 413, 422}, answer.text


def test_a_day_of_many_digits_is_no_day(tmp_path: Path) -> None:
    """Before, ``?day=`` with 5000 digits was an error of ours, where a week was sent."""
    with a_stand(tmp_path) as stand:
        assign(stand, yesterday())
        for value in ODD:
            asked = quote(value, safe="", errors="surrogateescape")
            for path in ("/stand", "/stand/practice/1", "/stand/today.json"):
                assert stand.client.get(f"{path}?day={asked}").status_code == 200
            sent = value.encode("utf-8", "replace").decode()
            refused = stand.send(b"", item=sent, day=sent)
            assert refused.status_code == 422
