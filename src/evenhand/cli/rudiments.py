"""``evenhand exercises rudiments``: the forty standard rudiments, and families of common practice."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from evenhand.cli.files import STDOUT, check_places, write_text
from evenhand.errors import WrongOptions

if TYPE_CHECKING:
    from collections.abc import Sequence

    from evenhand.application.list_rudiments import Families, Listed

FamilyOption = Annotated[
    Literal["roll", "diddle", "flam", "drag"] | None,
    typer.Option("--family", help="Only this family of the forty."),
]
WithFamiliesOption = Annotated[
    bool, typer.Option("--with-families", help="Families of common practice after the forty.")
]
FamiliesOption = Annotated[
    bool, typer.Option("--families", help="Families of common practice in place of the forty.")
]
JsonOption = Annotated[
    Path | None,
    typer.Option("--json", metavar="FILE", allow_dash=True, help="Write them as JSON; - for stdout."),
]
OutOption = Annotated[
    Path | None,
    typer.Option("--out", metavar="BOOK.txt", allow_dash=True, help="Write them as a book; - for stdout."),
]


def rudiments(
    family: FamilyOption = None,
    with_families: WithFamiliesOption = False,  # noqa: FBT002 - a switch
    families: FamiliesOption = False,  # noqa: FBT002 - a switch
    json: JsonOption = None,
    out: OutOption = None,
) -> None:
    """List the forty standard rudiments, or other families.

    The families are common practice.
    """
    from evenhand.application.list_rudiments import list_rudiments

    beside = _families(with_families=with_families, alone=families)
    if family is not None and beside == "alone":
        raise WrongOptions(
            got="--family with --families", must_be="one of them: --family is one of the forty's"
        )
    _check_places(json, out)
    _give(list_rudiments(family=family, with_families=beside), json, out)


def _families(*, with_families: bool, alone: bool) -> Families:
    if with_families and alone:
        raise WrongOptions(got="--with-families and --families", must_be="one of them")
    if alone:
        return "alone"
    return "beside" if with_families else "none"


def _check_places(json: Path | None, out: Path | None) -> None:
    if json is not None and json == out:
        raise WrongOptions(got=f"--json and --out both as {out}", must_be="two places")
    check_places(json, out)


def _give(listed: Sequence[Listed], json: Path | None, out: Path | None) -> None:
    """Write what was asked for; with nothing asked for, show it."""
    if json is not None:
        from evenhand.application.list_rudiments import rudiments_json

        write_text(json, rudiments_json(listed))
    if out is not None:
        from evenhand.application.list_rudiments import as_book
        from evenhand.craft.book_text import print_book

        write_text(out, print_book(as_book(listed)))
    if json is None and out is None:
        _show(listed)
    elif STDOUT not in {json, out}:
        places = " and in ".join(str(place) for place in (out, json) if place is not None)
        typer.echo(f"{len(listed)} exercises are in {places}")


def _show(listed: Sequence[Listed]) -> None:
    from evenhand.cli.exercise_table import exercise_table, say_all

    numbers = [str(each.number or "") for each in listed]
    say_all([exercise_table([each.entry for each in listed], numbers)])
