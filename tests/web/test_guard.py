"""The guard's own rules: whose page asked, whose form it is, and how often somebody came."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime
from types import SimpleNamespace
from typing import Any

import pytest
from starlette.requests import Request

from evenhand.studio.values import Session
from evenhand.web.guard import LIMITS, csrf_holds, origin_holds

SESSION = Session("id", "teacher", None, "the-token", datetime(2026, 3, 2, tzinfo=UTC))
HOST = "studio.example:8420"


def asked(origins: tuple[str, ...] = (), **headers: str) -> Request:
    """Give a request with these headers, underscores as hyphens."""
    app = SimpleNamespace(state=SimpleNamespace(settings=SimpleNamespace(origins=origins)))
    pairs = [(name.replace("_", "-").encode(), value.encode()) for name, value in headers.items()]
    scope: Mapping[str, Any] = {"type": "http", "headers": pairs, "app": app}
    return Request(dict(scope))


@pytest.mark.parametrize(
    ("origin", "holds"),
    [
        (f"https://{HOST}", True),
        (f"http://{HOST}", True),  # behind a proxy the server does not see the outer scheme
        ("https://studio.example", False),  # another port is another origin (RFC 6454, 4)
        ("https://studio.example:8421", False),
        (f"https://{HOST}.elsewhere.example", False),
        (f"https://sub.{HOST}", False),
        (f"https://{HOST}@elsewhere.example", False),
        ("https://elsewhere.example", False),
        ("null", False),  # what a sandboxed frame and a data: page send
        ("", False),
        ("studio.example:8420", False),
        ("https://[broken", False),
    ],
)
def test_a_page_is_ours_only_with_our_host_and_port(origin: str, holds: bool) -> None:  # noqa: FBT001 - a case
    assert origin_holds(asked(origin=origin, host=HOST)) is holds


def test_an_address_that_was_named_is_ours_too() -> None:
    named = ("https://drums.example",)
    assert origin_holds(asked(named, origin="https://drums.example", host="127.0.0.1:8420"))
    assert not origin_holds(asked(named, origin="http://drums.example", host="127.0.0.1:8420"))


@pytest.mark.parametrize(
    ("site", "holds"), [("same-origin", True), ("same-site", False), ("cross-site", False), ("none", False)]
)
def test_without_an_origin_the_browser_must_say_that_it_is_the_same(site: str, holds: bool) -> None:  # noqa: FBT001 - a case
    assert origin_holds(asked(host=HOST, sec_fetch_site=site)) is holds


def test_without_either_nobody_knows_whose_page_it_is() -> None:
    assert not origin_holds(asked(host=HOST))


def test_the_token_may_come_by_form_or_by_header_and_must_be_the_sessions() -> None:
    assert csrf_holds(asked(), SESSION, "the-token")
    assert csrf_holds(asked(x_evenhand_csrf="the-token"), SESSION, None)
    for given in (None, "", "the-toke", "the-token ", "THE-TOKEN", "\u212b"):
        assert not csrf_holds(asked(), SESSION, given)
    assert not csrf_holds(asked(), None, "")
    assert not csrf_holds(asked(), None, "the-token")


def test_passwords_cannot_be_tried_in_number() -> None:
    """At most 10 in 5 minutes is 2 880 a day: nothing against a password of 8 letters and more."""
    most, seconds = LIMITS["login"]
    assert most / seconds * 86_400 <= 2_880
