"""Pages set as PDF: a template, and its data as JSON; nothing that a person typed is ever markup.

Conventions: templates are files beside this one, text of the setter's own language. The
same template and data give the same bytes. The fonts are those inside the setter's own
package, all embedded; only where a letter is in none of them are this machine's fonts
looked through, and the bytes then depend on the machine. Each page is tagged for screen
readers (PDF/UA-1).
"""

from __future__ import annotations

import json
import threading
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Final

from evenhand.errors import CannotPrint, UnprintableText

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

    said = json.dumps(data, ensure_ascii=False)
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
    return (files("evenhand.pages") / name).read_bytes()


def _refusal(message: str) -> CannotPrint | UnprintableText:
    """Say what the setter said; of a letter without a font, which one."""
    if _NO_GLYPH not in message:
        return CannotPrint(got=message.splitlines()[0])
    letter = message.partition('`"')[2].partition('"`')[0]
    got = f"no font here holds {letter!r}; install one that does, or write it in other letters"
    return UnprintableText(got=got)
