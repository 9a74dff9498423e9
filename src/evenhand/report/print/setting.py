"""Pages set as PDF: a template, and its data as JSON.

Nothing that a person typed is ever markup.

Conventions: templates are files beside this one, text of the setter's own language. The same template and
data give the same bytes. The fonts are those inside the setter's own package, all embedded; only where a
letter is in none of them are this machine's fonts looked through, and the bytes then depend on the machine.
Each page is tagged for screen readers (PDF/UA-1).

What people typed is made fit for print: no control letters, no word wider than the page; nothing is cut off
but where a place is said to be short. A word without end may be broken at marks that nobody sees (U+200B).
Engraved music gets its inks, its letters' font and its size: px become pt by ``pt_per_px``; the right hand's
letters are dark blue, the left hand's rust.
"""

from __future__ import annotations

import json
import re
import threading
import unicodedata
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Final, Literal

from evenhand.errors import CannotPrint, UnprintableText
from evenhand.music.engraving.engraved import EngravedExercise, EngravedLine
from evenhand.music.exercise import Exercise
from evenhand.report.plots.shell import inks
from evenhand.report.words.practice import music_words

if TYPE_CHECKING:
    import typst


STANDARD: Final = "ua-1"
_NO_GLYPH = "could not be displayed"
_here = threading.local()


def set_pages(template: str, data: Mapping[str, object]) -> bytes:
    """Return a PDF.

    Parameters
    ----------
    template : str
        A template's file name beside this module; ``paper.typ`` stands before it.
    data : mapping
        What JSON is made of; the template reads it as ``d``.

    Raises
    ------
    UnprintableText
        Where a letter is in no font that is there.
    CannotPrint
        Where the setter fails.
    """
    import typst

    said = json.dumps({**data, "inks": inks()}, ensure_ascii=False)
    try:
        try:
            return _compiled(template, said, system_fonts=False)
        except typst.TypstError as error:
            if _NO_GLYPH not in str(error):
                raise
            return _compiled(template, said, system_fonts=True)
    except typst.TypstError as error:
        raise _refusal(str(error)) from error


def _compiled(template: str, data: str, *, system_fonts: bool) -> bytes:
    out = _compiler(system_fonts=system_fonts).compile(
        input=_source("paper.typ") + _source(template),
        format="pdf",
        pdf_standards=[STANDARD],
        sys_inputs={"data": data},
    )
    if not isinstance(out, bytes):
        raise CannotPrint(got="the setter gave no pages")
    return out


def _compiler(*, system_fonts: bool) -> typst.Compiler:
    """Return this thread's setter: its second page takes a tenth of the first one's time."""
    compilers: dict[bool, typst.Compiler] | None = getattr(_here, "compilers", None)
    if compilers is None:
        compilers = _here.compilers = {}
    if system_fonts not in compilers:
        import typst

        compilers[system_fonts] = typst.Compiler(ignore_system_fonts=not system_fonts)
    return compilers[system_fonts]


@cache
def _source(name: str) -> bytes:
    return (files("evenhand.report") / name).read_bytes()


def _refusal(message: str) -> CannotPrint | UnprintableText:
    """Say what the setter said; of a letter without a font, which one."""
    if _NO_GLYPH not in message:
        return CannotPrint(got=message.splitlines()[0])
    letter = message.partition('`"')[2].partition('"`')[0]
    got = f"no font here holds {letter!r}; install one that does, or write it in other letters"
    return UnprintableText(got=got)


LONGEST_WORD = 32
_PART = 16
_MAY_BREAK = "\u200b"
_ADDRESS = re.compile(r"https?://[^\s<>\"]+", re.IGNORECASE)


def one_line(text: str) -> str:
    r"""Return the text on one line.

    >>> one_line(" Mira\t Anselm\n")
    'Mira Anselm'
    """
    return " ".join(_word(word) for word in _printable(text).split())


def paragraphs(text: str) -> list[str]:
    """Return the lines that say something."""
    return [line for line in map(one_line, text.splitlines()) if line]


def is_address(text: str) -> bool:
    """Tell whether a text is an address of the web.

    >>> is_address("https://studio.example/mira"), is_address("javascript:alert(1)")
    (True, False)
    """
    return bool(_ADDRESS.fullmatch(text)) and _printable(text) == text


def _printable(text: str) -> str:
    """Take out control letters and halves of letters; all kinds of space become plain ones."""
    kinds = ((letter, unicodedata.category(letter)) for letter in text)
    return "".join(
        " " if letter.isspace() else letter
        for letter, kind in kinds
        if letter.isspace() or kind not in {"Cc", "Cs"}
    )


def _word(word: str) -> str:
    if len(word) <= LONGEST_WORD:
        return word
    return _MAY_BREAK.join(word[at : at + _PART] for at in range(0, len(word), _PART))


Paper = Literal["a4", "letter"]

WIDTHS_PT: dict[Paper, float] = {"a4": 595.28, "letter": 612.0}  # ISO 216; ANSI Y14.1
SETTER_PAPERS: dict[Paper, str] = {"a4": "a4", "letter": "us-letter"}


def printed_lines(
    exercise: Exercise, engraved: EngravedExercise, pt_per_px: float, *, repeat: int | None = None
) -> list[dict[str, object]]:
    """Return each line's picture, its width in pt and its words."""
    end = "Repeated." if repeat is None else "" if repeat == 1 else f"{repeat} repetitions."
    of = len(engraved.lines)
    return [
        {
            "svg": inked(line.svg),
            "width": round(line.width * pt_per_px, 3),
            "words": music_words(exercise, _positions(line), line=number, of=of, end=end),
        }
        for number, line in enumerate(engraved.lines, start=1)
    ]


def inked(svg: str) -> str:
    """Put the inks and the font into an engraved line."""
    ink, right, left = (inks()[name] for name in ("ink", "right", "left"))
    style = (
        f'<style>svg{{fill:{ink}}}text{{font-family:"Libertinus Serif"}}'
        f".right{{fill:{right}}}.left{{fill:{left}}}</style>"
    )
    head, closed, rest = svg.replace("currentColor", ink).partition(">")
    return head + closed + style + rest


def _positions(line: EngravedLine) -> tuple[int, ...]:
    return tuple(note.position for note in line.notes)
