"""What the teacher types into a week's form, kept before it is saved or sent."""

from __future__ import annotations

from sqlalchemy import Connection, insert, select, update
from sqlalchemy.exc import IntegrityError

from evenhand.domain.studio import WeekDraft
from evenhand.errors import NotFound
from evenhand.storage.kept import Kept
from evenhand.storage.rows import check_text, columns_of, value_of, values_of
from evenhand.storage.secrets_kept import new_id
from evenhand.storage.tables import drafts

LAST_STAMP = 2**31 - 1


class Typed(Kept):
    """The studio's forms that were typed into."""

    def drafts(self, student_id: str) -> list[WeekDraft]:
        """List what was typed for a student and not saved, newest first."""
        query = select(*columns_of(drafts, WeekDraft))
        query = query.where(drafts.c.student_id == student_id, drafts.c.form != "")
        with self._database.reading() as connection:
            rows = connection.execute(query.order_by(drafts.c.changed_at.desc(), drafts.c.id)).mappings()
            return [value_of(WeekDraft, row) for row in rows]

    def keep_draft(
        self, student_id: str, of_week: str, form: str, *, page: str = "", stamp: int = 0
    ) -> WeekDraft | None:
        """Keep what was typed, over what was typed before; None where the same page sent something later."""
        draft = WeekDraft(student_id, of_week, form, self._now(), page, min(stamp, LAST_STAMP))
        check_text(values_of(draft))
        with self._database.alone() as connection:
            return draft if _put(connection, draft) else None

    def drop_draft(self, student_id: str, of_week: str, *, page: str = "") -> None:
        """Forget what was typed; nothing that the same page sent before brings it back."""
        self.keep_draft(student_id, of_week, "", page=page, stamp=LAST_STAMP)


def _put(connection: Connection, draft: WeekDraft) -> bool:
    """Write a draft, unless a later one of the same page is there."""
    here = (drafts.c.student_id == draft.student_id) & (drafts.c.of_week == draft.of_week)
    there = connection.execute(select(drafts.c.page, drafts.c.stamp).where(here)).first()
    if there is None:
        try:
            connection.execute(insert(drafts).values(id=new_id(), **values_of(draft)))
        except IntegrityError:  # no such student
            raise NotFound(what="this student") from None
        return True
    if draft.page and there.page == draft.page and there.stamp > draft.stamp:
        return False
    connection.execute(update(drafts).where(here).values(**values_of(draft)))
    return True
