"""Bring a database to the newest form; Alembic is loaded only where there is something to do."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from sqlalchemy import Connection, inspect, text

from evenhand.errors import WrongOptions

if TYPE_CHECKING:
    from alembic.config import Config

NEWEST = "0003"
_STEPS = Path(__file__).with_name("migrations")


def revision_of(connection: Connection) -> str | None:
    """Tell which form a database has; None: none of ours."""
    if not inspect(connection).has_table("alembic_version"):
        return None
    found = connection.execute(text("SELECT version_num FROM alembic_version")).scalar()
    return None if found is None else str(found)


def upgrade(connection: Connection) -> None:
    """Take every step that is missing, inside the connection's transaction.

    Raises
    ------
    WrongOptions
        A newer Evenhand wrote this database.
    """
    found = revision_of(connection)
    if found == NEWEST:
        return
    if found is not None and found not in _known():
        raise WrongOptions(
            got=f"a studio of a newer Evenhand (form {found})",
            must_be=f"form {NEWEST} or older: update Evenhand",
        )
    from alembic import command

    command.upgrade(settings(connection), "head")


def downgrade(connection: Connection, to: str = "base") -> None:
    """Go back to an older form; ``base`` is none at all."""
    from alembic import command

    command.downgrade(settings(connection), to)


def settings(connection: Connection | None = None) -> Config:
    """Give Alembic's settings: where the steps are, and the connection."""
    from alembic.config import Config

    found = Config()
    found.set_main_option("script_location", str(_STEPS).replace("%", "%%"))
    found.attributes["connection"] = connection
    return found


def _known() -> set[str]:
    """List the forms that this version knows."""
    from alembic.script import ScriptDirectory

    return {step.revision for step in ScriptDirectory.from_config(settings()).walk_revisions()}
