"""Cut the page's text face out of the setter's own: the studio's files, and the small ones inside a report.

    python -m pip install fonttools brotli    # into an environment of its own beside Evenhand's packages
    python scripts/cut_faces.py

The sheet is set in Libertinus Serif, which lies whole inside the pinned typst. The pages take the same
outlines from there, so paper and page cannot part. Kept are the letters of Latin alphabets, figures that
all have one width, kerning and ligatures; the licence (``OFL.txt``) lies beside each set of files.
"""

from __future__ import annotations

import io
import re
import struct
from collections.abc import Iterator
from pathlib import Path

from fontTools import subset
from fontTools.ttLib import TTFont

PACKAGE = Path(__file__).parents[1] / "src" / "evenhand"
FAMILY = "Libertinus Serif"
STYLES = {"Regular": "regular", "Bold": "bold", "Italic": "italic"}
FEATURES = ("calt", "ccmp", "kern", "liga", "lnum", "locl", "mark", "mkmk", "tnum")
NAMES = (0, 1, 2, 3, 4, 5, 6, 13, 14)  # whose it is, what it is called, and under which licence

PLAIN = "20-7E,A0,B1,B7,D7,2013-2014,2018-2019,201C-201D,2026,2032-2033,2190-2193,2212,2264-2265"
WESTERN = f"{PLAIN},A0-FF,2010-2015,201A,201E,2022,2248"
LATIN = (
    f"{WESTERN},100-17F,218-21B,2BB-2BC,2C6-2C7,2D8-2DD,2020-2021,202F,2030,2039-203A,2044,20AC,2122,"
    "2215,223C,2260,266D-266F,25A0,25CF"
)
# where to, which letters of each style
CUTS = {
    PACKAGE / "web" / "static" / "faces": {"regular": LATIN, "bold": LATIN, "italic": LATIN},
    PACKAGE / "report" / "faces": {"regular": WESTERN, "bold": PLAIN, "italic": PLAIN},
}
TABLE_BYTES, HEAD_BYTES = 16, 12  # of an OpenType file's directory


def main() -> None:
    """Write every cut, and say how large each is."""
    whole = {STYLES[style]: data for style, data in faces() if style in STYLES}
    for folder, cuts in CUTS.items():
        for style, letters in cuts.items():
            path = folder / f"libertinus-serif-{style}.woff2"
            cut(whole[style], letters, path)
            print(f"{path.relative_to(PACKAGE)}  {path.stat().st_size:,} bytes")


def faces() -> Iterator[tuple[str, bytes]]:
    """Give each style of the family inside the setter's library, and its file."""
    import typst

    library = next(Path(typst.__file__).parent.glob("_typst*")).read_bytes()
    for found in re.finditer(b"OTTO", library):
        data = _file_at(library, found.start())
        if data is not None:
            names = TTFont(io.BytesIO(data))["name"]
            if names.getDebugName(1) == FAMILY or names.getDebugName(16) == FAMILY:
                yield names.getDebugName(17) or names.getDebugName(2), data


def _file_at(library: bytes, begin: int) -> bytes | None:
    """Return the OpenType file that begins there, if one does."""
    tables = int.from_bytes(library[begin + 4 : begin + 6], "big")
    end = begin + HEAD_BYTES + TABLE_BYTES * tables
    directory = [*struct.iter_unpack(">4s4xII", library[begin + HEAD_BYTES : end])]
    if not tables or not all(re.fullmatch(rb"[A-Za-z0-9/ ]{4}", tag) for tag, _, _ in directory):
        return None
    return library[begin : begin + max(offset + length for _, offset, length in directory)]


def cut(data: bytes, letters: str, path: Path) -> None:
    """Write a font's file with these letters only."""
    options = subset.Options(
        flavor="woff2", layout_features=list(FEATURES), name_IDs=list(NAMES), hinting=False
    )
    font = TTFont(io.BytesIO(data), recalcTimestamp=False)
    cutter = subset.Subsetter(options)
    cutter.populate(unicodes=subset.parse_unicodes(letters))
    cutter.subset(font)
    subset.save_font(font, str(path), options)


if __name__ == "__main__":
    main()
