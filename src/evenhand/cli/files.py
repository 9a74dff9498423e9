"""Put results where they were asked for: whole or not at all."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable
from pathlib import Path

from evenhand.errors import CannotWrite, WrongOptions

STDOUT = Path("-")


def check_places(*places: Path | None, reads: Iterable[Path | None] = ()) -> None:
    """Refuse places that cannot be written, one place for two results, and a place that is being read."""
    read = {path.resolve() for path in reads if path is not None}
    taken: set[Path] = set()
    for place in places:
        if place is None:
            continue
        check_place(place)
        real = place if place == STDOUT else place.resolve()
        if real in taken:
            raise WrongOptions(got=f"{place} as the place of two results", must_be="a place for each")
        if real in read:
            must_be = "another place: what is read is not written over"
            raise WrongOptions(got=f"{place} to write to, which is read", must_be=must_be)
        taken.add(real)


def check_place(path: Path | None) -> None:
    """Refuse a place that cannot be written before the work is done, not after."""
    if path is None or path == STDOUT:
        return
    if path.is_dir():
        raise CannotWrite(name=str(path), got="it is a folder")
    if not path.parent.is_dir():
        raise CannotWrite(name=str(path), got="there is no such folder")
    if not os.access(path.parent, os.W_OK):
        raise CannotWrite(name=str(path), got="the folder may not be written to")


def write_text(path: Path, text: str) -> None:
    """Write text to a file in one step, or to stdout for ``-``.

    A file's name may hold bytes that are not text; what is written is UTF-8 all the same.
    """
    text = text.encode("utf-8", "surrogateescape").decode("utf-8", "replace")
    if path == STDOUT:
        sys.stdout.write(text)
        sys.stdout.flush()
        return
    write_bytes(path, text.encode("utf-8"))


def write_bytes(path: Path, data: bytes) -> None:
    """Write bytes to a file in one step, or to stdout for ``-``."""
    if path == STDOUT:
        sys.stdout.buffer.write(data)
        sys.stdout.buffer.flush()
        return
    unfinished = path.with_name(f".{path.name}.{os.getpid()}")
    try:
        if path.exists() and not path.is_file():  # /dev/null, a pipe: nothing may take its place
            path.write_bytes(data)
            return
        unfinished.write_bytes(data)
        unfinished.replace(path)
    except OSError as error:
        unfinished.unlink(missing_ok=True)
        raise CannotWrite(name=str(path), got=error.strerror or str(error)) from error


def make_folder(path: Path) -> None:
    """Make a folder for results, with those above it."""
    try:
        path.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise CannotWrite(name=str(path), got=error.strerror or str(error)) from error
