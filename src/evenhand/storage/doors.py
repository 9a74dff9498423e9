"""Who may come in: the teacher's password, sessions, students' links.

Conventions: a secret is given once, by what makes it; afterwards only its hash is here. What has
expired, was revoked or was never there looks the same from outside: None.
"""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from sqlalchemy import Select, Table, delete, insert, select, update

from evenhand.domain.studio import Role, Session, Student, StudentLink
from evenhand.errors import NotFound
from evenhand.storage.kept import Kept
from evenhand.storage.rows import columns_of, value_of, values_of
from evenhand.storage.secrets_kept import csrf_of, new_id, new_secret, password_fits, same, sha256_of
from evenhand.storage.tables import links, sessions, students, studio


class Doors(Kept):
    """The studio's doors."""

    def check_password(self, password: str) -> bool:
        """Tell whether this is the teacher's password; a hash of older strength is made anew."""
        with self._database.reading() as connection:
            kept = str(connection.execute(select(studio.c.password_hash)).scalar_one())
        if not password_fits(self._hasher, kept, password):
            return False
        if self._hasher.check_needs_rehash(kept):
            self._keep_password(password)
        return True

    def change_password(self, password: str) -> None:
        """Change the teacher's password; whoever came in by the old one is out."""
        self._keep_password(password)
        with self._database.writing() as connection:
            connection.execute(delete(sessions).where(sessions.c.role == "teacher"))

    def begin_session(
        self, role: Role, *, student_id: str | None = None, lasts: timedelta
    ) -> tuple[str, Session]:
        """Let somebody in: the secret for the cookie, and the session."""
        if (role == "student") != (student_id is not None):
            raise TypeError(f"session of a {role}: got student {student_id!r}; only a student's has one")
        secret, now = new_secret(), self._now()
        session = Session(new_id(), role, student_id, csrf_of(secret), now + lasts)
        row = {name: value for name, value in values_of(session).items() if name in sessions.c}
        with self._database.writing() as connection:
            if student_id is not None:
                _check_student(connection.scalar(select(students.c.id).where(students.c.id == student_id)))
            connection.execute(delete(sessions).where(sessions.c.expires_at <= now))
            connection.execute(insert(sessions).values(**row, secret_sha256=sha256_of(secret)))
        return secret, session

    def session(self, secret: str) -> Session | None:
        """Find a session by the secret of its cookie."""
        hashed = sha256_of(secret)
        with self._database.reading() as connection:
            row = connection.execute(_by_secret(sessions, hashed)).mappings().first()
        if row is None or not same(row["secret_sha256"], hashed) or row["expires_at"] <= self._now():
            return None
        return Session(row["id"], row["role"], row["student_id"], csrf_of(secret), row["expires_at"])

    def end_session(self, secret: str) -> None:
        """Let somebody out."""
        with self._database.writing() as connection:
            connection.execute(delete(sessions).where(sessions.c.secret_sha256 == sha256_of(secret)))

    def make_link(self, student_id: str, *, lasts: timedelta) -> tuple[str, StudentLink]:
        """Make a private link: its secret, which nobody can read here again, and the link."""
        secret, now = new_secret(), self._now()
        link = StudentLink(new_id(), student_id, now, now + lasts)
        with self._database.writing() as connection:
            _check_student(connection.scalar(select(students.c.id).where(students.c.id == student_id)))
            connection.execute(insert(links).values(**values_of(link), secret_sha256=sha256_of(secret)))
        return secret, link

    def links(self, student_id: str) -> list[StudentLink]:
        """List a student's links, newest first, those that lead nowhere any more among them."""
        query = select(*columns_of(links, StudentLink)).where(links.c.student_id == student_id)
        with self._database.reading() as connection:
            rows = connection.execute(query.order_by(links.c.created_at.desc(), links.c.id)).mappings()
            return [value_of(StudentLink, row) for row in rows]

    def revoke_link(self, link_id: str) -> None:
        """Make a link lead nowhere, and end its student's sessions."""
        with self._database.writing() as connection:
            student_id = connection.scalar(select(links.c.student_id).where(links.c.id == link_id))
            if student_id is None:
                raise NotFound(what="this link")
            open_still = (links.c.id == link_id) & links.c.revoked_at.is_(None)
            connection.execute(update(links).where(open_still).values(revoked_at=self._now()))
            connection.execute(delete(sessions).where(sessions.c.student_id == student_id))

    def student_of_link(self, secret: str) -> Student | None:
        """Find whose link this is, and note that it was used; an archived student's leads nowhere."""
        hashed, now = sha256_of(secret), self._now()
        with self._database.reading() as connection:
            link = connection.execute(_by_secret(links, hashed)).mappings().first()
            if link is None or not same(link["secret_sha256"], hashed):
                return None
            if link["revoked_at"] is not None or link["expires_at"] <= now:
                return None
            query = select(*columns_of(students, Student)).where(students.c.id == link["student_id"])
            student = connection.execute(query.where(~students.c.archived)).mappings().first()
        if student is None:
            return None
        with self._database.writing() as connection:
            connection.execute(update(links).where(links.c.id == link["id"]).values(last_used_at=now))
        return value_of(Student, student)

    def _keep_password(self, password: str) -> None:
        """Keep a password's hash, which takes a moment: it is made before the database is written."""
        hashed = self._hasher.hash(password)
        with self._database.writing() as connection:
            connection.execute(update(studio).values(password_hash=hashed))


def _by_secret(table: Table, hashed: str) -> Select[tuple[Any, ...]]:
    return select(table).where(table.c.secret_sha256 == hashed)


def _check_student(found: object) -> None:
    if found is None:
        raise NotFound(what="this student")
