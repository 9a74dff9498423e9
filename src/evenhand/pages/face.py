"""The text face of every page: the one that the sheet is set in, so that paper and screen belong together.

Conventions: the studio serves the face as files (``web/static/faces``); a report is one file that may go
anywhere, so it holds a smaller cut (``pages/faces``), some 70 kB as text. A picture as a file names the face
and holds none; one that a page shows as an image holds it. No page leans on it: with another face the lines
are longer, and nothing is cut off. ``scripts/cut_faces.py`` makes both; the licence lies beside them.
"""

from __future__ import annotations

from base64 import b64encode
from functools import cache
from importlib.resources import files
from typing import Final

FAMILY: Final = (
    '"Libertinus Serif","Iowan Old Style","Palatino Linotype",Palatino,Charter,Georgia,"Noto Serif",serif'
)
SIZE_ADJUST: Final = "110%"  # its small letters are low: so they are as high as those of the faces after it
_STYLES: Final = (("regular", "400", "normal"), ("bold", "700", "normal"), ("italic", "400", "italic"))


@cache
def face_rules(*names: str) -> str:
    """Return the style rules that bring the face with a page that is one file; of these styles, or of all."""
    return "".join(_rule(*style) for style in _STYLES if not names or style[0] in names)


def with_face(picture: str) -> str:
    """Return a picture that brings its face, for a page that shows it as an image: there it is on its own."""
    return picture.replace("<style>", f"<style>{face_rules('regular', 'bold')}", 1)


def _rule(name: str, weight: str, style: str) -> str:
    data = (files("evenhand.pages") / "faces" / f"libertinus-serif-{name}.woff2").read_bytes()
    source = f"url(data:font/woff2;base64,{b64encode(data).decode()})format('woff2')"
    return (
        f'@font-face{{font-family:"Libertinus Serif";font-weight:{weight};font-style:{style};'
        f"size-adjust:{SIZE_ADJUST};src:{source}}}\n"
    )
