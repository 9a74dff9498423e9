"""Fit the lift scale to one player from two films, and keep it as a JSON file.

One film of strokes that were left free on request, one of strokes that were lifted; both are watched as any
take is. What is kept are figures.
"""

from __future__ import annotations

from pathlib import Path

from evenhand.acts.documents import Json, json_of, loaded, plain, read_text_file, value_of
from evenhand.errors import BadDocument, WrongOptions
from evenhand.measuring.seen import SeenTake
from evenhand.watching.own_rises import FEWEST_OF_A_KIND, NotFitted, fit_lift_scale
from evenhand.watching.values import LiftParts, LiftScale

LIFTING_SCHEMA_ID = "urn:evenhand:lifting-1"
LARGEST_BYTES = 100_000
_MUST_BE = "a JSON file written by evenhand lifting"


def fit_lifting(free: SeenTake, lifted: SeenTake) -> LiftScale:
    """Fit the scale to what was seen in two films.

    Raises
    ------
    WrongOptions
        Too few rises could be judged, or the two kinds cannot be told apart on this player.
    """
    fitted = fit_lift_scale(_parts(free), _parts(lifted))
    if isinstance(fitted, LiftScale):
        return fitted
    raise WrongOptions(
        got=_why_not(fitted), must_be=f"{FEWEST_OF_A_KIND} or more of each that differ clearly"
    )


def _why_not(got: NotFitted) -> str:
    """Say why nothing was fitted."""
    if got.told_apart is None:
        return f"{got.n_free} free and {got.n_lifted} lifted strokes whose rise could be seen"
    return f"free and lifted strokes of which {100 * got.told_apart:.0f} % can be told apart"


def _parts(take: SeenTake) -> list[LiftParts]:
    return [stroke.parts for stroke in take.watched.strokes]


def lifting_text(scale: LiftScale) -> str:
    """Write a player's scale as JSON text."""
    return json_of(plain({"schema": LIFTING_SCHEMA_ID, "scale": scale}))


def read_lifting(path: Path) -> LiftScale:
    """Read a player's scale back.

    Raises
    ------
    BadDocument
        Where the file is none.
    """
    text = read_text_file(path, error=BadDocument, largest_bytes=LARGEST_BYTES, must_be=_MUST_BE)
    try:
        found: Json = loaded(text)
        if found["schema"] == LIFTING_SCHEMA_ID:
            return value_of(found["scale"], LiftScale)
    except (ValueError, KeyError, TypeError):
        pass
    raise BadDocument(where=str(path), got="another file", must_be=_MUST_BE)
