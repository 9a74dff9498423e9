"""Who may come in, and for how long."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest
from argon2 import PasswordHasher

from evenhand.errors import DiskFull, NotFound
from evenhand.studio.store.access import MOST_SESSIONS
from evenhand.studio.store.acts import GO_AT_ONCE, KEPT
from evenhand.studio.store.studio import Studio
from tests.places import Place
from tests.studios import PASSWORD

HOUR, FORTNIGHT = timedelta(hours=1), timedelta(days=14)


def test_the_teachers_password_and_no_other_opens(studio: Studio) -> None:
    assert studio.access.check_password(PASSWORD)
    assert not studio.access.check_password(PASSWORD + " ")
    assert not studio.access.check_password("")


def test_a_new_password_ends_the_teachers_sessions_and_no_students(studio: Studio) -> None:
    ida = studio.students.add("Ida Quill")
    teacher, _ = studio.access.begin("teacher", lasts=HOUR)
    student, _ = studio.access.begin("student", student_id=ida.id, lasts=HOUR)
    studio.access.change_password("another one")
    assert studio.access.check_password("another one")
    assert not studio.access.check_password(PASSWORD)
    assert studio.access.session(teacher) is None
    assert studio.access.session(student) is not None


def test_a_hash_of_older_strength_is_made_anew_when_the_password_is_given(place: Place) -> None:
    place.create().close()
    stronger = place.open(hasher=None)
    assert stronger.access.check_password(PASSWORD)
    assert not PasswordHasher().check_needs_rehash(kept_hash(stronger))


def kept_hash(studio: Studio) -> str:
    from sqlalchemy import text

    with studio.data.database.reading() as connection:
        return str(connection.scalar(text("SELECT password_hash FROM studio")))


def test_a_session_is_found_by_its_secret_until_it_expires(place: Place) -> None:
    studio = place.create()
    secret, session = studio.access.begin("teacher", lasts=HOUR)
    place.clock.move(minutes=59)
    assert studio.access.session(secret) == session
    place.clock.move(minutes=1)
    assert studio.access.session(secret) is None


def test_a_session_that_was_ended_is_unknown(studio: Studio) -> None:
    secret, _ = studio.access.begin("teacher", lasts=HOUR)
    studio.access.end(secret)
    assert studio.access.session(secret) is None
    studio.access.end(secret)  # twice does no harm


def test_what_is_no_secret_opens_nothing(studio: Studio) -> None:
    for secret in ("", "x", "a" * 43, "\udc80", "'; DROP TABLE sessions; --", "é\u0000"):
        assert studio.access.session(secret) is None
        assert studio.access.student_of_link(secret) is None


def test_two_sessions_share_neither_secret_nor_token(studio: Studio) -> None:
    (one, first), (two, second) = (studio.access.begin("teacher", lasts=HOUR) for _ in range(2))
    assert len({one, two, first.id, second.id, first.csrf, second.csrf}) == 6
    assert len(one) >= 43  # 32 bytes in base 64


def test_a_session_is_of_a_teacher_or_of_one_student(studio: Studio) -> None:
    with pytest.raises(TypeError, match="only a student's has one"):
        studio.access.begin("student", lasts=HOUR)
    with pytest.raises(NotFound, match="this student"):
        studio.access.begin("student", student_id="nobody", lasts=HOUR)


def test_a_link_leads_to_its_student_and_says_when_it_was_used(place: Place) -> None:
    studio = place.create()
    ida, tomas = studio.students.add("Ida Quill"), studio.students.add("Tomas Reed")
    secret, link = studio.access.make_link(ida.id, lasts=timedelta(days=90))
    studio.access.make_link(tomas.id, lasts=timedelta(days=90))
    assert studio.access.links(ida.id) == [link]
    place.clock.move(days=2)
    assert studio.access.student_of_link(secret) == ida
    assert [each.last_used_at for each in studio.access.links(ida.id)] == [place.clock()]


def test_a_link_expires(place: Place) -> None:
    studio = place.create()
    secret, _ = studio.access.make_link(studio.students.add("Ida Quill").id, lasts=timedelta(days=90))
    place.clock.move(days=90)
    assert studio.access.student_of_link(secret) is None


def test_a_revoked_link_leads_nowhere_and_ends_the_students_sessions(place: Place) -> None:
    studio = place.create()
    ida, tomas = studio.students.add("Ida Quill"), studio.students.add("Tomas Reed")
    secret, link = studio.access.make_link(ida.id, lasts=timedelta(days=90))
    hers, _ = studio.access.begin("student", student_id=ida.id, lasts=HOUR)
    his, _ = studio.access.begin("student", student_id=tomas.id, lasts=HOUR)
    studio.access.revoke_link(link.id)
    first = place.clock()
    place.clock.move(hours=0.5)
    studio.access.revoke_link(link.id)  # again changes nothing
    assert studio.access.student_of_link(secret) is None
    assert studio.access.session(hers) is None
    assert studio.access.session(his) is not None
    assert studio.access.links(ida.id)[0].revoked_at == first


def test_a_parents_link_opens_days_alone_and_ends_no_session(studio: Studio) -> None:
    ida = studio.students.add("Ida Quill")
    session, _ = studio.access.begin("student", student_id=ida.id, lasts=HOUR)
    parents, link = studio.access.make_link(ida.id, lasts=FORTNIGHT, opens="days")
    own, _ = studio.access.make_link(ida.id, lasts=FORTNIGHT)
    found = [
        studio.access.student_of_link(each, opens) for each in (parents, own) for opens in ("days", "stand")
    ]
    assert found == [ida, None, None, ida]
    with pytest.raises(NotFound, match="this link"):
        studio.access.begin("student", student_id=ida.id, lasts=HOUR, key=parents)
    studio.access.revoke_link(link.id)
    assert studio.access.student_of_link(parents, "days") is None
    assert studio.access.session(session) is not None


def test_there_is_no_link_for_nobody(studio: Studio) -> None:
    with pytest.raises(NotFound, match="this student"):
        studio.access.make_link("nobody", lasts=HOUR)
    with pytest.raises(NotFound, match="this link"):
        studio.access.revoke_link("none")


def test_whoever_leaves_is_out_at_once_and_the_links_end_for_good(studio: Studio) -> None:
    ida, una = studio.students.add("Ida Quill"), studio.students.add("Una Marsh")
    secrets = [studio.access.make_link(ida.id, lasts=FORTNIGHT, opens=each)[0] for each in ("stand", "days")]
    others, _ = studio.access.make_link(una.id, lasts=FORTNIGHT)
    inside, _ = studio.access.begin("student", student_id=ida.id, lasts=HOUR, key=secrets[0])
    for archived in (True, False):  # taken back, a student needs a new link
        studio.students.change(ida.id, archived=archived)
        assert studio.access.session(inside) is None
        assert studio.access.student_of_link(secrets[0]) is None
        assert studio.access.student_of_link(secrets[1], "days") is None
        with pytest.raises(NotFound):
            studio.access.begin("student", student_id=ida.id, lasts=HOUR, key=secrets[0])
    assert studio.access.student_of_link(others) == una
    again, _ = studio.access.make_link(ida.id, lasts=FORTNIGHT)
    assert studio.access.student_of_link(again) is not None


def test_everybody_is_put_out_at_once(studio: Studio) -> None:
    ida = studio.students.add("Ida Quill")
    teachers = [studio.access.begin("teacher", lasts=HOUR)[0] for _ in range(2)]
    student, _ = studio.access.begin("student", student_id=ida.id, lasts=HOUR)
    device = studio.access.know_device()
    assert studio.access.end_all("teacher") == 2
    assert [studio.access.session(each) for each in teachers] == [None, None]
    assert studio.access.known_device(device) is None
    assert studio.access.session(student) is not None
    assert studio.access.end_all() == 1
    assert studio.access.sessions() == []


def test_no_secret_and_no_password_is_in_the_files(tmp_path: Path) -> None:
    """Only hashes are kept: who steals the database can come in by nothing that is in it."""
    place = Place(tmp_path, None)
    studio = place.create()
    ida = studio.students.add("Ida Quill")
    cookie, session = studio.access.begin("student", student_id=ida.id, lasts=HOUR)
    secret, _ = studio.access.make_link(ida.id, lasts=HOUR)
    studio.close()
    kept = b"".join(file.read_bytes() for file in place.data.rglob("*") if file.is_file())
    assert ida.id.encode() in kept
    for hidden in (cookie, secret, session.csrf, PASSWORD):
        assert hidden.encode() not in kept


def test_one_login_with_the_clock_far_ahead_ends_nobodys_session(place: Place) -> None:
    """Before, whatever had run out by that clock was deleted, and nobody was in when it was right again."""
    studio = place.create()
    ida = studio.students.add("Ida Quill")
    teacher, _ = studio.access.begin("teacher", lasts=FORTNIGHT)
    student, _ = studio.access.begin("student", student_id=ida.id, lasts=FORTNIGHT)
    place.clock.move(days=200)
    ahead, _ = studio.access.begin("teacher", lasts=FORTNIGHT)
    assert studio.access.session(teacher) is None
    place.clock.move(days=-200)
    assert studio.access.session(teacher) is not None
    assert studio.access.session(student) is not None
    assert studio.access.session(ahead) is None  # else it would hold for 214 days


def test_a_session_is_seen_hourly_and_ended_by_itself(place: Place) -> None:
    studio = place.create()
    secret, session = studio.access.begin("teacher", lasts=FORTNIGHT, browser="Firefox, Linux")
    other, _ = studio.access.begin("teacher", lasts=FORTNIGHT)
    place.clock.move(minutes=90)
    assert studio.access.session(secret) is not None
    first, second = studio.access.sessions()
    assert (first.id, first.browser, first.seen_at) == (session.id, "Firefox, Linux", place.clock())
    assert second.seen_at == second.began_at == place.clock() - timedelta(minutes=90)
    studio.access.end_by_id(session.id)
    assert studio.access.session(secret) is None
    assert studio.access.session(other) is not None
    with pytest.raises(NotFound, match="this session"):
        studio.access.end_by_id(session.id)


def test_sessions_of_one_person_are_bounded_and_keep_nobody_else_out(studio: Studio) -> None:
    ida = studio.students.add("Ida Quill")
    teacher, _ = studio.access.begin("teacher", lasts=timedelta(hours=1))
    for _ in range(MOST_SESSIONS + 7):
        studio.access.begin("student", student_id=ida.id, lasts=FORTNIGHT)
    assert len(studio.access.sessions(ida.id)) == MOST_SESSIONS
    assert studio.access.session(teacher) is not None


def test_a_device_that_came_in_before_is_known_until_the_password_changes(studio: Studio) -> None:
    secret = studio.access.know_device()
    assert studio.access.known_device(secret) is not None
    assert studio.access.known_device("x" * 43) is None
    studio.access.change_password("another password")
    assert studio.access.known_device(secret) is None


def test_the_log_is_bounded_and_forgets_who_is_erased(place: Place, monkeypatch: pytest.MonkeyPatch) -> None:
    studio = place.create()
    monkeypatch.setattr("evenhand.studio.store.acts.MOST_ACTS", 10)
    ida = studio.students.add("Ida Quill")
    for _ in range(30):
        studio.log.note("login refused", "nobody", address="192.0.2.1" * 100)
        place.clock.move(seconds=1)
    studio.log.note("take words", "teacher", about=ida.id, thing="take 3f0c", address="192.0.2.7")
    assert len(studio.log.newest()) == 10
    assert len(studio.log.newest()[-1].address) <= 100
    assert [act.thing for act in studio.log.of_student(ida.id)] == ["take 3f0c"]
    studio.students.erase(ida.id)
    left = repr(studio.log.newest())
    assert "take words" in left  # that it was done, and when, stays
    for gone in (ida.id, "3f0c", "192.0.2.7"):
        assert gone not in left
    studio.log.note("student erased", "teacher", about=ida.id)
    assert studio.log.newest(1)[0].about == ""


def test_the_log_lets_go_of_what_is_a_year_old_but_not_at_once(place: Place) -> None:
    """A clock that is ahead for one act costs a few rows, not the log."""
    studio = place.create()
    for _ in range(2 * GO_AT_ONCE):
        studio.log.note("logout", "teacher")
    place.clock.move(days=KEPT.days - 1)
    studio.log.note("logout", "teacher")
    assert len(studio.log.newest()) == 2 * GO_AT_ONCE + 1
    place.clock.move(days=1)
    studio.log.note("logout", "teacher")
    assert len(studio.log.newest()) == GO_AT_ONCE + 2
    studio.log.note("logout", "teacher")
    assert len(studio.log.newest()) == 3
    assert studio.log.newest(2, skip=1) == studio.log.newest(3)[1:]


def test_no_session_begins_by_a_link_that_is_taken_back_meanwhile(studio: Studio) -> None:
    """Before, one that was looked up just before it was taken back still let somebody in, for 180 days."""
    ida = studio.students.add("Ida Quill")
    secret, link = studio.access.make_link(ida.id, lasts=FORTNIGHT)
    assert studio.access.student_of_link(secret) == ida
    studio.access.revoke_link(link.id)
    with pytest.raises(NotFound, match="this link"):
        studio.access.begin("student", student_id=ida.id, lasts=FORTNIGHT, key=secret)
    assert studio.access.sessions(ida.id) == []


def test_no_session_begins_by_a_password_that_is_changed_meanwhile(studio: Studio) -> None:
    key = studio.access.key_of_password(PASSWORD)
    assert key is not None
    studio.access.change_password("another password")
    with pytest.raises(NotFound, match="this password"):
        studio.access.begin("teacher", lasts=FORTNIGHT, key=key)
    assert studio.access.sessions() == []
    again = studio.access.key_of_password("another password")
    studio.access.begin("teacher", lasts=FORTNIGHT, key=again)
    assert len(studio.access.sessions()) == 1


def test_a_hash_made_anew_does_not_bring_back_a_password_that_was_changed_meanwhile(place: Place) -> None:
    """Before, whoever logged in by the old password at that moment put it back."""
    place.create()
    stronger = PasswordHasher(time_cost=2, memory_cost=8, parallelism=1)
    studio, other = place.open(hasher=stronger), place.open()
    real = stronger.hash

    class Slow(PasswordHasher):
        def hash(self, password: str | bytes, *, salt: bytes | None = None) -> str:
            other.access.change_password("another password")
            return real(password, salt=salt)

    studio.access._hasher = Slow(time_cost=2, memory_cost=8, parallelism=1)  # noqa: SLF001 - it comes in between
    assert studio.access.key_of_password(PASSWORD) is not None
    assert other.access.check_password("another password")
    assert not other.access.check_password(PASSWORD)


def test_a_session_that_cannot_be_written_holds_where_one_process_serves_and_nowhere_else(
    place: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of several processes on a Postgres one alone would know it: there none begins."""
    studio = place.create()

    def full(*_about: object) -> None:
        raise DiskFull(where="here")

    monkeypatch.setattr(studio.access, "_keep_session", full)
    if place.is_sqlite:
        secret, _ = studio.access.begin("teacher", lasts=HOUR)
        assert studio.access.session(secret) is not None
        return
    with pytest.raises(DiskFull):
        studio.access.begin("teacher", lasts=HOUR)
    assert studio.access.sessions() == []
