"""In a school nobody learns of a studio not theirs: not who guesses, not another teacher, not the office."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from starlette.testclient import TestClient

from evenhand.studio.school import School
from evenhand.studio.store.layout import Backing
from evenhand.studio.store.studio import Studio
from evenhand.web.app import create_app
from evenhand.web.guard import COOKIE, Limiter
from evenhand.web.routes import ADMINISTRATORS_TOO, StudioRoute
from evenhand.web.serving import WebSettings
from tests.full_studio import everything
from tests.places import empty, postgres
from tests.postgres import Server
from tests.studios import PASSWORD, QUICK
from tests.web.conftest import furnish
from tests.web.walked import GUARDED, HOST, HOUR, House, form_of, name_of

__all__ = ["postgres"]
BRACED = [route for route in GUARDED if "{" in route.path]


@pytest.fixture(scope="module")
def school(postgres: Server, tmp_path_factory: pytest.TempPathFactory) -> Iterator[House]:
    """Serve a school of an office and two teachers; Mara's studio is furnished."""
    url, folder = postgres.url.render_as_string(hide_password=False), tmp_path_factory.mktemp("school")
    empty(url)
    made = School(folder, Backing(url), hasher=QUICK)
    made.bring_up_to_date(finish=True)
    made.add("office", "Larkfield School", PASSWORD, administrator=True)
    for login, name in (("mara", "Mara Veldt"), ("iven", "Iven Okoro")):
        made.add(login, name, PASSWORD)
    app = create_app(WebSettings(folder, backing=Backing(url)), hears=False)
    app.state.school.close()
    app.state.school = made
    yield furnish(app, studio(made, "mara"))
    made.close()


def studio(school: School, login: str) -> Studio:
    found = school.by_login(login)
    assert found is not None
    return school.studio(found.id)


def client_of(house: House, login: str) -> TestClient:
    """Give a teacher's browser."""
    house.app.state.limiter = Limiter()
    secret, session = studio(house.app.state.school, login).access.begin("teacher", lasts=HOUR)
    headers = {"origin": HOST, "accept": "text/html", "x-evenhand-csrf": session.csrf}
    return TestClient(house.app, headers=headers, cookies={COOKIE: secret}, follow_redirects=False)


def test_a_wrong_password_shows_the_same_whether_there_is_such_a_teacher(school: House) -> None:
    """Before, the page was headed by the studio of the teacher whose name was tried."""
    client = TestClient(school.app, headers={"origin": HOST})
    school.app.state.limiter = Limiter()
    pages = {
        login: client.post("/login", data={"login": login, "password": "not that one"})
        for login in ("mara", "nobody")
    }
    assert {page.status_code for page in pages.values()} == {403}
    assert pages["mara"].text.replace("mara", "nobody") == pages["nobody"].text
    assert "Mara" not in pages["mara"].text
    assert studio(school.app.state.school, "mara").log.newest()[0].what == "login refused"


def test_a_teacher_changes_and_sees_nothing_of_another_s(school: House) -> None:
    """Every address that names something, with what is Mara's in it, asked for by Iven."""
    iven, mara = client_of(school, "iven"), studio(school.app.state.school, "mara")
    before = everything(mara)
    for route in [each for each in BRACED if each.who == "teacher"]:
        answer = iven.request(route.method, school.address(route), data=form_of(route))
        assert answer.status_code in {404, 422}, (name_of(route), answer.status_code)
        assert "Ida" not in answer.text
    assert everything(mara) == before


def test_the_office_comes_to_nothing_but_its_own(school: House) -> None:
    """It hears no recording and reads no word; what it may, it may in its own studio, which is empty."""
    office = client_of(school, "office")

    def is_open(route: StudioRoute) -> bool:
        answer = office.request(route.method, school.address(route), data=form_of(route))
        leads_away = answer.headers.get("location") in {"/school", "/login"}
        return not (answer.status_code in {401, 403} or (answer.status_code == 303 and leads_away))

    theirs = [
        route for route in GUARDED if route.view not in ADMINISTRATORS_TOO and route.who != "administrator"
    ]
    assert [name_of(route) for route in theirs if is_open(route)] == []


def test_a_link_and_a_session_of_one_studio_open_no_other(school: House) -> None:
    iven = studio(school.app.state.school, "iven")
    assert iven.access.student_of_link(school.names["secret"]) is None
    assert iven.takes.find(school.names["take_id"]) is None
