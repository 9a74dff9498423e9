"""``evenhand exercises``: the book, the rudiments, generating and choosing."""

from __future__ import annotations

import typer

from evenhand.cli.book import book
from evenhand.cli.choose import choose
from evenhand.cli.cover import cover
from evenhand.cli.generate import generate
from evenhand.cli.group_help import group_help
from evenhand.cli.import_score import import_score
from evenhand.cli.print_book import print_book
from evenhand.cli.rudiments import rudiments

exercises = typer.Typer(
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)
exercises.callback(invoke_without_command=True)(group_help("Write, generate, choose and keep exercises."))
exercises.command("rudiments")(rudiments)
exercises.command("generate")(generate)
exercises.command("cover")(cover)
exercises.command("choose")(choose)
exercises.command("book")(book)
exercises.command("import")(import_score)
exercises.command("print")(print_book)
