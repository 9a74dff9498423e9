"""Read the small text files that people write: tables, calibrations."""

from __future__ import annotations

from pathlib import Path

from evenhand.errors import WrongOptions

LARGEST_BYTES = 2_000_000


def read_text(path: Path) -> str:
    """Read a file of text; refuse by name what is none."""
    try:
        with path.open("rb") as file:
            data = file.read(LARGEST_BYTES + 1)
        if len(data) > LARGEST_BYTES:
            got = f"{path.name} of over {LARGEST_BYTES:,} bytes"
            raise WrongOptions(got=got, must_be="a small text file")
        return data.decode("utf-8")
    except UnicodeDecodeError:
        raise WrongOptions(got=f"{path.name}, which is not text", must_be="a text file in UTF-8") from None
    except OSError as error:
        got = f"{path.name}, which cannot be read ({error.strerror or error})"
        raise WrongOptions(got=got, must_be="a text file that may be read") from None
