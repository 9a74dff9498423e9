"""Kinds of columns that read the same from SQLite and from Postgres.

Conventions: moments are aware and in UTC; a moment without a zone is refused, since nobody
could say when it was.
"""

from __future__ import annotations

import zlib
from datetime import UTC, datetime

from sqlalchemy import DateTime, Dialect, LargeBinary, String
from sqlalchemy.types import TypeDecorator


class UtcDateTime(TypeDecorator[datetime]):
    """A moment in UTC; SQLite keeps no zone, so it is put back on the way out."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Turn a moment to UTC on its way in."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError(f"moment {value.isoformat()}: got no zone; must be aware, such as in UTC")
        moment = value.astimezone(UTC)
        return moment.replace(tzinfo=None) if dialect.name == "sqlite" else moment

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:  # noqa: ARG002 - the library's signature
        """Give a moment in UTC on its way out."""
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


class Text(TypeDecorator[str]):
    """Text. What no database holds is turned to the sign for it, so that looking for it finds nothing.

    To write such text is refused before it comes here (``tables.check_text``).
    """

    impl = String
    cache_ok = True

    def process_bind_param(self, value: str | None, dialect: Dialect) -> str | None:  # noqa: ARG002 - the library's signature
        """Leave out NUL and halves of characters on the way in."""
        if value is None or (value.isprintable() and value.isascii()):
            return value
        return value.encode("utf-8", "replace").decode("utf-8").replace("\0", "\ufffd")


class PackedText(TypeDecorator[str]):
    """Long text, packed: what was heard of a take is some 30 kB of JSON, and a tenth of it packed."""

    impl = LargeBinary
    cache_ok = True

    def process_bind_param(self, value: str | None, dialect: Dialect) -> bytes | None:  # noqa: ARG002 - the library's signature
        """Pack on the way in."""
        return None if value is None else zlib.compress(value.encode("utf-8"))

    def process_result_value(self, value: bytes | None, dialect: Dialect) -> str | None:  # noqa: ARG002 - the library's signature
        """Unpack on the way out."""
        return None if value is None else zlib.decompress(value).decode("utf-8")
