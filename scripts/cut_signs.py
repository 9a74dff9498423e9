"""Cut the signs of music that Evenhand draws out of a whole font, as outlines with their boxes.

    python scripts/cut_signs.py

The font is Bravura (SIL Open Font License 1.1), as outlines in the pinned verovio, which the tests use; the
licence (``OFL.txt``) lies beside the file. Written is one sign a line: its code in the Standard Music Font
Layout, its box (left, bottom, width, height) and its outline, in font units with y upwards.
"""

from __future__ import annotations

import json
from importlib.resources import files
from pathlib import Path
from xml.etree import ElementTree as ET

SIGNS = Path(__file__).parents[1] / "src" / "evenhand" / "music" / "engraving" / "signs.json"
FONT = "Bravura"
CODES = (
    *(f"E08{digit}" for digit in range(10)),  # a meter's numbers
    *(f"E88{digit}" for digit in range(10)),  # a tuplet's
    *("E069", "E0A1", "E0A2", "E0A3", "E0A4"),  # the clef and the heads
    *("E240", "E242", "E244", "E246", "E248", "E4A0"),  # flags and the accent
    *(
        "E4AC",
        "E0A9",
        "E0B3",
        "E0F5",
        "E0F6",
    ),  # a strong accent, heads of a cross-stick and the rim, brackets
    *("E520", "E521", "E522"),  # p m f
    *("E220", "E221", "E222", "E223", "E224", "E22A"),  # slashes and the z of a buzz
    *("E4E2", "E4E3", "E4E4", "E4E5", "E4E6", "E4E7", "E4E8", "E4E9", "E4EA"),  # rests
    *("ECA0", "ECA2", "ECA3", "ECA5", "ECA7", "ECA9", "ECAB", "ECAD", "ECAF", "ECB7"),  # a tempo's note
)


def cut() -> dict[str, list[float | str]]:
    """Return each sign's box and outline by its code."""
    data = files("verovio") / "data"
    font = ET.fromstring((data / f"{FONT}.xml").read_bytes())  # noqa: S314 - the wheel's own
    boxes = {glyph.get("c"): glyph for glyph in font.iter("g")}
    found: dict[str, list[float | str]] = {}
    for code in CODES:
        sign = ET.fromstring((data / FONT / f"{code}.xml").read_bytes())  # noqa: S314 - the wheel's own
        box = (float(boxes[code].attrib[name]) for name in ("x", "y", "w", "h"))
        found[code] = [*box, next(sign.iter("path")).attrib["d"]]
    return found


def written(signs: dict[str, list[float | str]]) -> str:
    """Write them one a line."""
    lines = ",\n".join(f"{json.dumps(code)}: {json.dumps(sign)}" for code, sign in sorted(signs.items()))
    return f"{{\n{lines}\n}}\n"


if __name__ == "__main__":
    SIGNS.write_text(written(cut()))
    print(f"{SIGNS.name}: {len(CODES)} signs, {SIGNS.stat().st_size:,} bytes")
