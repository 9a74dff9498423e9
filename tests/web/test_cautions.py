"""Wherever the studio assigns practice or makes a click, the cautions stand on the page, unfolded."""

from __future__ import annotations

import html
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from evenhand.report.words.figures import PAIN, TEACHER_CAUTION
from tests.studios import a_new_take
from tests.web.stands import Stand, a_stand, assign, yesterday


@pytest.fixture
def stand(tmp_path: Path) -> Iterator[Stand]:
    """Let a student in who has a week to practise."""
    with a_stand(tmp_path) as found:
        assign(found, yesterday())
        yield found


def unfolded(page: str) -> str:
    """Return what a page shows before anything is opened."""
    without_folds = re.sub(r"<details(?![^>]*\bopen\b).*?</details>", "", page, flags=re.DOTALL)
    return " ".join(html.unescape(without_folds).split())


@pytest.mark.parametrize(
    "where",
    [
        "/students/{student}",
        "/students/{student}/week",
        "/students/{student}/lesson",
        "/book",
        "/path",
        "/takes/{take}",
    ],
)
def test_the_teachers_pages_speak_as_to_a_teacher(stand: Stand, where: str) -> None:
    take, _ = stand.studio.takes.receive(a_new_take(stand.student.id), b"RIFF")
    page = unfolded(stand.as_teacher().get(where.format(student=stand.student.id, take=take.id)).text)
    assert TEACHER_CAUTION in page
    assert "your teacher" not in page.lower()


@pytest.mark.parametrize(
    "where", ["/stand", "/stand/practice/1", "/stand?exercise=1/8:RLRL", "/stand/takes", "/stand/weeks"]
)
def test_the_students_pages_say_what_to_do(stand: Stand, where: str) -> None:
    page = unfolded(stand.client.get(where).text)
    assert PAIN in page
    assert "harms hearing" in page
    assert "Let the load rise gradually" in page


@pytest.mark.parametrize("consent", [True, False], ids=["recorded", "not recorded"])
def test_the_click_has_its_caution_beside_its_volume_and_neither_is_folded(
    tmp_path: Path, *, consent: bool
) -> None:
    with a_stand(tmp_path, minor=not consent) as stand:
        assign(stand, yesterday())
        page = unfolded(stand.client.get("/stand").text)
    volume = re.search(r'<input id="volume"[^>]*> <p class="note">([^<]*)</p>', page)
    assert volume
    assert "harms hearing" in volume[1]
