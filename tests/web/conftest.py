"""The studio whose routes are tried."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path

import pytest
from starlette.applications import Starlette

from evenhand.studio.school import School
from evenhand.studio.store.studio import Studio
from evenhand.studio.values import Holiday, LessonChange, Said
from evenhand.web.app import create_app
from evenhand.web.guard import Limiter
from evenhand.web.serving import WebSettings
from tests.places import objects, postgres
from tests.studios import QUICK, a_new_take, a_studio
from tests.web.walked import HOUR, SOUND, House

__all__ = ["furnished", "house", "objects", "postgres"]


@contextmanager
def a_house(folder: Path) -> Iterator[House]:
    """Furnish a studio in a folder, so that every address leads to something."""
    a_studio(folder).close()
    app = create_app(WebSettings(folder / "studio"), hears=False)
    app.state.school.close()
    app.state.school = School.open(folder / "studio", hasher=QUICK)
    studio = app.state.school.front
    yield furnish(app, studio)
    studio.close()


def furnish(app: Starlette, studio: Studio) -> House:
    """Put something of everything into a studio that an application serves."""
    ida, una = studio.students.add("Ida Quill"), studio.students.add("Una Marsh")
    takes = {who.id: studio.takes.receive(a_new_take(who.id), SOUND)[0].id for who in (ida, una)}
    secret, link = studio.access.make_link(ida.id, lasts=HOUR)
    entry = studio.book.add("1/8: RRLL", "Doubles", "")
    said = studio.threads.say(Said("said", ida.id, "student", studio.data.now(), takes[ida.id]), SOUND)
    names = {
        "student_id": ida.id,
        "take_id": takes[ida.id],
        "other_id": takes[una.id],
        "link_id": link.id,
        "entry_id": entry.id,
        "said_id": said.id,
        "secret": secret,
        "week_id": "none",
        "number": "1",
        "change_id": studio.lessons.change(LessonChange("", ida.id, date(2026, 3, 2))).id,
        "holiday_id": studio.lessons.add_holiday(Holiday("", date(2026, 3, 3), date(2026, 3, 4))).id,
        "session_id": studio.access.begin("teacher", lasts=HOUR)[1].id,
        "substitute_id": "none",  # one teacher alone has none
    }
    return House(app, studio, ida, una, takes, names)


@pytest.fixture(scope="module")
def furnished(tmp_path_factory: pytest.TempPathFactory) -> Iterator[House]:
    with a_house(tmp_path_factory.mktemp("routes")) as house:
        yield house


@pytest.fixture
def house(furnished: House) -> House:
    furnished.app.state.limiter = Limiter()
    return furnished
