"""Put results where they were asked for: whole or not at all."""

from __future__ import annotations

import os
import sys
from pathlib import Path

from evenhand.errors import CannotWrite

STDOUT = Path("-")


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
    """Write text to a file in one step, or to stdout for ``-``."""
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
