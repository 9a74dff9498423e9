"""The table of the security standard: a line has a test that there is, or a reason."""

from __future__ import annotations

import re

import pytest

from evenhand.studio.store.data import GB, Quota
from evenhand.web import checking as passwords
from evenhand.web import guard, requests, routes, wire
from evenhand.web.views import live as ears
from tests.architecture.house import ROOT, TESTS

TEXT = (ROOT / "docs/security.md").read_text("utf-8")
STANDARD = (ROOT / "docs/asvs.md").read_text("utf-8")
ROWS = re.findall(r"^\| (\d+\.\d+\.\d+\S*) \| ([^|]+) \| ([^|]+) \| ([^|]+) \|$", STANDARD, re.MULTILINE)
NAMED = r"`([\w/]+\.py)::(test_\w+)`"
THERE = {
    (path.relative_to(ROOT / "tests").as_posix(), name)
    for path in TESTS
    for name in re.findall(r"^def (test_\w+)", path.read_text("utf-8"), re.MULTILINE)
}


def test_the_table_is_read_whole() -> None:
    lines = [line for line in STANDARD.splitlines() if re.match(r"\| \d", line)]
    assert len(ROWS) == len(lines) > 180
    assert {number.partition(".")[0] for number, *_ in ROWS} == {str(chapter) for chapter in range(1, 18)}
    assert len({number for number, *_ in ROWS}) == len(ROWS)
    holds, in_part, no, not_here = (
        sum(here == each for _, _, here, _ in ROWS) for each in ("holds", "in part", "no", "not here")
    )
    assert f"{holds} hold, {in_part} hold in part, {no} do not, and {not_here} speak of nothing" in STANDARD


@pytest.mark.parametrize("row", ROWS, ids=[row[0] for row in ROWS])
def test_a_line_has_a_test_that_there_is_or_a_reason(row: tuple[str, str, str, str]) -> None:
    _, _, here, why = row
    assert here in {"holds", "in part", "no", "not here"}
    named = re.findall(NAMED, why)
    assert set(named) <= THERE
    assert len(re.findall(r"test_\w+\.py", why)) == len(named), (
        "a test is named by its place and its own name"
    )
    reason = re.sub(r"`[^`]*`|[\s,:;.]", "", why)
    assert named or reason
    if here in {"in part", "no"}:
        assert len(reason) > 20 or "see " in why


def test_the_bounds_on_the_page_are_those_of_the_code() -> None:
    login = next(route for route in routes.ROUTES if route.path == "/login" and route.method == "POST")
    quota = Quota()
    for words in (
        f"{login.largest_bytes >> 10} kB for the login, {routes.RECORDING_BYTES >> 20} MB for a recording",
        f"{requests.MOST_FIELD_BYTES >> 20} MB, {requests.MOST_FIELDS} fields, {requests.MOST_FILES} files",
        f"{requests.MOST_UPLOADS_EACH} of each visitor",
        f"{quota.student_bytes // GB} GB a student, {quota.studio_bytes // GB} GB a studio",
        f"head | {wire.HEAD_S:g} s",
        f"at least {wire.PACE_BYTES // 1000} kB in {wire.PACE_S:g} s",
        f"takes | {wire.STALLED_S:g} s",
        f"in the making | {requests.MOST_PAGES_EACH} ",
        f"wrong passwords | {guard.LIMITS['login'][0]} in 5 minutes from an address or a known device",
        f"known device, {guard.LIMITS['account'][0]} from all",
        f"{passwords.AT_ONCE} at a time (64 MB each), {passwords.MOST_WAITING} waiting",
        f"wrong links | {guard.LIMITS['link'][0]} in 5 minutes",
        f"live ears | 8 for each core up to 4 cores, {ears.MOST_EARS_EACH} a student",
    ):
        assert words in TEXT
