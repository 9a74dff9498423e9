"""Who may come in: the teacher's password and known devices, sessions, students' links.

Conventions: a secret is given once, by what makes it; afterwards only its hash is here. What has
expired, was revoked or was never there looks the same from outside: None.

A secret is 32 random bytes, so its plain SHA-256 cannot be guessed back and needs no salt; a password
is a person's choice, so it gets Argon2.
"""

from __future__ import annotations

import hashlib
import hmac
import secrets
import threading
from collections.abc import Callable
from contextlib import suppress
from datetime import datetime, timedelta
from typing import Any

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError
from sqlalchemy import ColumnElement, Connection, Select, Table, delete, insert, select, true, update
from sqlalchemy.exc import SQLAlchemyError

from evenhand.errors import CannotKeep, DiskFull, NotFound, ReadOnly
from evenhand.studio.store.data import StudioData
from evenhand.studio.store.second import Second, SecondUse
from evenhand.studio.store.tables import (
    known_devices,
    links,
    select_of,
    sessions,
    students,
    studio,
    value_by_id,
    values_of,
)
from evenhand.studio.values import LinkOpens, OpenSession, Role, Session, Student, StudentLink

SECRET_BYTES = 32


def new_id() -> str:
    """Make an id: random, never counted up."""
    return secrets.token_hex(8)


def new_secret() -> str:
    """Make a secret that fits an address or a cookie."""
    return secrets.token_urlsafe(SECRET_BYTES)


def sha256_of(secret: str) -> str:
    """Give what is kept of a secret."""
    return hashlib.sha256(secret.encode("utf-8", "surrogatepass")).hexdigest()


def same(left: str, right: str) -> bool:
    """Compare in constant time."""
    return hmac.compare_digest(left.encode("utf-8"), right.encode("utf-8"))


def csrf_of(secret: str) -> str:
    """Derive a session's token for forms: who has it cannot find the secret, and it is kept nowhere."""
    return hmac.new(secret.encode("utf-8"), b"evenhand form", hashlib.sha256).hexdigest()


def password_fits(hasher: PasswordHasher, kept: str, password: str) -> bool:
    """Tell whether a password is the one whose hash is kept."""
    try:
        return hasher.verify(kept, password)
    except (VerificationError, InvalidHashError):
        return False


MOST_KNOWN = 50
MOST_SESSIONS = 50  # of one person; those that end first go
SEEN_EVERY = timedelta(hours=1)
MOST_AHEAD = timedelta(days=1)  # how far in the future a session may have begun: clocks are set right


def keep_newest(
    connection: Connection,
    table: Table,
    order: ColumnElement[object],
    most: int,
    *which: ColumnElement[bool],
) -> None:
    """Delete all but so many rows, those that come last in an order kept."""
    kept = select(table.c.id).where(*which).order_by(order.desc(), table.c.id).limit(most)
    connection.execute(delete(table).where(*which, table.c.id.not_in(kept)))


MOST_UNKEPT = 200  # of all; the oldest go


class UnkeptSessions:
    """The sessions that began while nothing could be written, by their secret's hash.

    They hold in this process, until it ends or the disk can keep sessions again. A Postgres has none: of
    several processes one alone would know them.
    """

    def __init__(self) -> None:
        self._found: dict[str, tuple[Session, OpenSession]] = {}
        self._lock = threading.Lock()

    def put(self, hashed: str, session: Session, listed: OpenSession) -> None:
        """Keep a session."""
        with self._lock:
            while len(self._found) >= MOST_UNKEPT:
                del self._found[next(iter(self._found))]
            self._found[hashed] = session, listed

    def find(self, hashed: str) -> Session | None:
        """Find a session; whether it still holds is asked elsewhere."""
        found = self._found.get(hashed)
        return None if found is None else found[0]

    def listed(self) -> list[OpenSession]:
        """List who is in."""
        with self._lock:
            return [listed for _, listed in self._found.values()]

    def end_where(self, which: Callable[[str, Session], bool]) -> int:
        """End some sessions, chosen by hash and session; tell how many."""
        with self._lock:
            over = [hashed for hashed, (session, _) in self._found.items() if which(hashed, session)]
            for hashed in over:
                del self._found[hashed]
        return len(over)


class Access:
    """The teacher's password and known devices, sessions, students' links."""

    def __init__(self, data: StudioData, hasher: PasswordHasher) -> None:
        self._data, self._hasher = data, hasher
        self._unkept = UnkeptSessions()
        self.second = Second(data, hasher)

    def check_password(self, password: str) -> bool:
        """Tell whether this is the teacher's password."""
        return self.key_of_password(password) is not None

    def key_of_password(self, password: str) -> str | None:
        """Check the teacher's password, and give the hash that it fits; one of older strength is made anew.

        A session begins by this hash: were the password changed meanwhile, it begins no session.
        """
        kept = str(self._data.scalar(select(studio.c.password_hash)))
        if not password_fits(self._hasher, kept, password):
            return None
        if not self._hasher.check_needs_rehash(kept):
            return kept
        hashed = self._hasher.hash(password)
        with suppress(CannotKeep), self._data.database.writing() as connection:
            mine = studio.c.password_hash == kept  # else it was changed meanwhile
            if connection.execute(update(studio).where(mine).values(password_hash=hashed)).rowcount:
                return hashed
        return kept

    def key_of_login(self, password: str, code: str) -> tuple[str | None, SecondUse]:
        """Check the password and, where it is on, the second factor: the hash that opens, and what was used.

        With a second factor it takes as long whichever of the two is wrong.
        """
        key, kept = self.key_of_password(password), self.second.kept
        if not kept.sealed:
            return key, ""
        used = self.second.use(kept, password, code, counts=key is not None)
        return (key if used else None), used

    def change_password(self, password: str, *, old: str | None = None) -> None:
        """Change the teacher's password; whoever came in by the old one is out.

        The second factor stays by the old one, which must have been checked; without it, it is off.
        """
        hashed = self._hasher.hash(
            password
        )  # this takes a moment, so it comes before the database is written
        sealed = "" if old is None else self.second.sealed_anew(old, password)
        with self._data.database.writing() as connection:
            connection.execute(update(studio).values(password_hash=hashed, second_sealed=sealed))
        self.end_all("teacher")

    def end_all(self, role: Role | None = None) -> int:
        """Put everybody out, or all of a role, and forget the teacher's devices; tell how many."""
        whose = sessions.c.role == role if role else true()
        with self._data.database.writing() as connection:
            ended = connection.execute(delete(sessions).where(whose)).rowcount
            if role != "student":
                connection.execute(delete(known_devices))
        return ended + self._unkept.end_where(lambda _, session: role in {None, session.role})

    def begin(
        self,
        role: Role,
        *,
        student_id: str | None = None,
        lasts: timedelta,
        browser: str = "",
        key: str | None = None,
    ) -> tuple[str, Session]:
        """Let somebody in: the secret for the cookie, and the session.

        ``key`` is what opened: the hash that the password fits, or the link's secret. It is looked at once
        more as the session is written, so that none begins by what was changed or taken back meanwhile.

        What ran out is no session, but stays listed for as long as there is room: were it deleted by the
        clock, one login on a day when the clock is wrong would end all. What the disk cannot keep holds until
        the studio is closed.
        """
        if (role == "student") != (student_id is not None):
            raise TypeError(f"session of a {role}: got student {student_id!r}; only a student's has one")
        secret, now = new_secret(), self._data.now()
        session = Session(new_id(), role, student_id, csrf_of(secret), now + lasts)
        listed = OpenSession(session.id, role, student_id, session.expires_at, now, now, browser)
        try:
            self._keep_session(listed, sha256_of(secret), key)
        except (DiskFull, ReadOnly):
            if not self._data.database.is_sqlite:
                raise  # the other processes would not know it
            with self._data.database.reading() as connection:
                check_student(connection, student_id)
                _check_key(connection, role, key, now)
            self._unkept.put(sha256_of(secret), session, listed)
        return secret, session

    def is_unkept(self, hashed: str) -> bool:
        """Tell whether this is the hash of a session that the disk could not keep."""
        return self._unkept.find(hashed) is not None

    def _keep_session(self, listed: OpenSession, hashed: str, key: str | None) -> None:
        """Write a session down."""
        whose: ColumnElement[bool] = sessions.c.student_id.is_(None)
        if listed.student_id is not None:
            whose = sessions.c.student_id == listed.student_id
        with self._data.database.writing() as connection:
            check_student(connection, listed.student_id)
            _check_key(connection, listed.role, key, self._data.now())
            connection.execute(insert(sessions).values(**values_of(listed), secret_sha256=hashed))
            keep_newest(connection, sessions, sessions.c.expires_at, MOST_SESSIONS, whose)

    def session(self, secret: str) -> Session | None:
        """Find a session by the secret of its cookie, and note now and then that it was seen."""
        hashed, now = sha256_of(secret), self._data.now()
        with self._data.database.reading() as connection:
            row = connection.execute(_by_secret(sessions, hashed)).mappings().first()
        if row is None:
            return self._unkept_session(hashed, now)
        if not same(row["secret_sha256"], hashed) or row["expires_at"] <= now:
            return None
        if row["began_at"] is not None and row["began_at"] - now > MOST_AHEAD:
            return None  # it began by a clock that was ahead, and would last far longer than it should
        if row["seen_at"] is None or abs(now - row["seen_at"]) >= SEEN_EVERY:
            self._seen(row["id"], now)
        return Session(row["id"], row["role"], row["student_id"], csrf_of(secret), row["expires_at"])

    def _unkept_session(self, hashed: str, now: datetime) -> Session | None:
        """Find a session that the disk could not keep; a student's, while the student comes."""
        found = self._unkept.find(hashed)
        if found is None or found.expires_at <= now:
            return None
        if found.student_id is not None:
            comes = select(students.c.id).where(students.c.id == found.student_id, ~students.c.archived)
            if self._data.scalar(comes) is None:
                return None
        return found

    def _seen(self, session_id: str, now: datetime) -> None:
        """Note when a session was seen; where nothing can be written, it holds all the same."""
        with suppress(SQLAlchemyError, CannotKeep):
            self._data.execute(update(sessions).where(sessions.c.id == session_id).values(seen_at=now))

    def sessions(self, student_id: str | None = None) -> list[OpenSession]:
        """List who is in, of one student or of everybody, those seen last first."""
        query = select_of(OpenSession).where(sessions.c.expires_at > self._data.now())
        if student_id is not None:
            query = query.where(sessions.c.student_id == student_id)
        kept = self._data.values(OpenSession, query.order_by(sessions.c.seen_at.desc(), sessions.c.id))
        unkept = [each for each in self._unkept.listed() if student_id in {None, each.student_id}]
        return [*(each for each in unkept if each.expires_at > self._data.now()), *kept]

    def end(self, secret: str) -> None:
        """Let somebody out."""
        ended = sha256_of(secret)
        self._unkept.end_where(lambda hashed, _: hashed == ended)
        self._data.execute(delete(sessions).where(sessions.c.secret_sha256 == ended))

    def end_by_id(self, session_id: str) -> None:
        """Put somebody out."""
        if self._unkept.end_where(lambda _, session: session.id == session_id):
            return
        if self._data.execute(delete(sessions).where(sessions.c.id == session_id)) == 0:
            raise NotFound(what="this session")

    def make_link(
        self, student_id: str, *, lasts: timedelta, opens: LinkOpens = "stand"
    ) -> tuple[str, StudentLink]:
        """Make a private link: its secret, which nobody can read here again, and the link."""
        secret, now = new_secret(), self._data.now()
        link = StudentLink(new_id(), student_id, now, now + lasts, opens=opens)
        with self._data.database.writing() as connection:
            check_student(connection, student_id)
            connection.execute(insert(links).values(**values_of(link), secret_sha256=sha256_of(secret)))
        return secret, link

    def links(self, student_id: str) -> list[StudentLink]:
        """List a student's links, newest first, those that lead nowhere any more among them."""
        query = select_of(StudentLink).where(links.c.student_id == student_id)
        return self._data.values(StudentLink, query.order_by(links.c.created_at.desc(), links.c.id))

    def revoke_link(self, link_id: str) -> None:
        """Make a link lead nowhere, and end its student's sessions; a parent's begins none."""
        with self._data.database.writing() as connection:
            link = value_by_id(connection, StudentLink, link_id)
            if link is None:
                raise NotFound(what="this link")
            open_still = (links.c.id == link_id) & links.c.revoked_at.is_(None)
            connection.execute(update(links).where(open_still).values(revoked_at=self._data.now()))
            if link.opens == "stand":
                connection.execute(delete(sessions).where(sessions.c.student_id == link.student_id))
        if link.opens == "stand":
            self._unkept.end_where(lambda _, session: session.student_id == link.student_id)

    def student_of_link(self, secret: str, opens: LinkOpens = "stand") -> Student | None:
        """Find whose link this is, and note that it was used; an archived student's leads nowhere.

        A link opens one thing only: a parent's does not open the stand, nor the student's the parent's page.
        """
        hashed, now = sha256_of(secret), self._data.now()
        with self._data.database.reading() as connection:
            link = connection.execute(_by_secret(links, hashed)).mappings().first()
            if link is None or not same(link["secret_sha256"], hashed):
                return None
            if link["revoked_at"] is not None or link["expires_at"] <= now or link["opens"] != opens:
                return None
            student = value_by_id(connection, Student, link["student_id"])
        if student is None or student.archived:
            return None
        with suppress(CannotKeep):
            self._data.execute(update(links).where(links.c.id == link["id"]).values(last_used_at=now))
        return student

    def know_device(self) -> str:
        """Remember the device from which the teacher came in: the secret for its cookie."""
        secret = new_secret()
        row = {"id": new_id(), "secret_sha256": sha256_of(secret), "used_at": self._data.now()}
        with suppress(DiskFull, ReadOnly), self._data.database.writing() as connection:
            connection.execute(insert(known_devices).values(**row))
            keep_newest(connection, known_devices, known_devices.c.used_at, MOST_KNOWN)
        return secret

    def known_device(self, secret: str) -> str | None:
        """Find a device by its secret; None where none is known by it."""
        query = select(known_devices.c.id).where(known_devices.c.secret_sha256 == sha256_of(secret))
        found: str | None = self._data.scalar(query)
        return found


def _by_secret(table: Table, hashed: str) -> Select[tuple[Any, ...]]:
    return select(table).where(table.c.secret_sha256 == hashed)


def check_student(connection: Connection, student_id: str | None) -> None:
    """Refuse what is of a student who is not there; None is nobody's."""
    if student_id is None:
        return
    if connection.scalar(select(students.c.id).where(students.c.id == student_id)) is None:
        raise NotFound(what="this student")


def _check_key(connection: Connection, role: Role, key: str | None, now: datetime) -> None:
    """Refuse what does not open any more; whoever changes it meanwhile waits."""
    if key is None:
        return
    if role == "teacher":
        kept = connection.scalar(select(studio.c.password_hash).with_for_update())
        if kept != key:
            raise NotFound(what="this password")
        return
    link = connection.execute(_by_secret(links, sha256_of(key)).with_for_update()).mappings().first()
    if (
        link is None
        or link["revoked_at"] is not None
        or link["expires_at"] <= now
        or link["opens"] != "stand"
    ):
        raise NotFound(what="this link")
    theirs = select(students.c.archived).where(students.c.id == link["student_id"]).with_for_update()
    if connection.scalar(theirs) is not False:
        raise NotFound(what="this student")
