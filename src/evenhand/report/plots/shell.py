"""The shell of every page and picture: style sheets, the text face, sections, figures and tables.

A report is one file that may go anywhere: it holds its style and a cut of the text face, some 70 kB as text.
A picture as a file holds its style and only names the face; one that a page shows as an image holds both.
The studio serves the same style sheets (``style/``) as files. No page leans on the face: with another one
the lines are longer, and nothing is cut off. ``scripts/cut_faces.py`` makes the cuts; their licence lies
beside them.
"""

from __future__ import annotations

import re
from base64 import b64encode
from collections.abc import Iterable, Sequence
from functools import cache
from importlib.resources import files
from typing import Final

from evenhand.report.plots.markup import el, esc, picture, prose

SIZE_ADJUST: Final = "110%"  # its small letters are low: so they are as high as those of the faces after it
LEAST_PX = 560  # below that a picture's letters are too small
_FACES: Final = (("regular", "400", "normal"), ("bold", "700", "normal"), ("italic", "400", "italic"))
_COMMENT, _SPACE = re.compile(r"/\*.*?\*/", re.DOTALL), re.compile(r"\s*([{};,])\s*|(?<=:)\s+")


@cache
def face_rules(*names: str) -> str:
    """Return the style rules that bring the face with a page that is one file; of these styles, or of all."""
    return "".join(_face_rule(*face) for face in _FACES if not names or face[0] in names)


def _face_rule(name: str, weight: str, style: str) -> str:
    data = (files("evenhand.report") / "faces" / f"libertinus-serif-{name}.woff2").read_bytes()
    source = f"url(data:font/woff2;base64,{b64encode(data).decode()})format('woff2')"
    return (
        f'@font-face{{font-family:"Libertinus Serif";font-weight:{weight};font-style:{style};'
        f"size-adjust:{SIZE_ADJUST};src:{source}}}\n"
    )


@cache
def style_sheet(*names: str) -> str:
    """Return these style sheets of ``style/`` one after another, without comments and needless space."""
    return "".join(
        _SPACE.sub(r"\1", _COMMENT.sub("", (files("evenhand.report") / "style" / f"{name}.css").read_text()))
        for name in names
    )


@cache
def inks() -> dict[str, str]:
    """Return the light palette's colours by name, for what takes no style sheet."""
    named = re.findall(r"--(\w+):(#[0-9a-f]{6})", style_sheet("palette"))
    return dict(reversed(named))  # the light ones stand first


def page(title: str, *parts: str) -> str:
    """Return one self-contained HTML page; parts that are empty are left out."""
    style = face_rules() + style_sheet("palette", "marks", "heard", "page")
    return "<!doctype html>\n" + el(
        "html",
        el(
            "head",
            el("meta", charset="utf-8"),
            el("meta", name="viewport", content="width=device-width, initial-scale=1"),
            el("title", esc(title)),
            el("style", style),
        ),
        "\n",
        el("body", el("main", *(f"{part}\n" for part in parts if part), class_="heard")),
        lang="en",
    )


def page_head(name: str, sentence: str, *lines: str) -> str:
    """Return a page's head: whose it is, the sentence on top, and lines of markup below."""
    return el("header", el("p", esc(name), class_="name"), el("h1", prose(sentence)), *lines)


def facts_line(facts: Iterable[str]) -> str:
    """Return short facts on one line."""
    return el("p", " · ".join(prose(fact) for fact in facts), class_="facts")


def as_file(drawn: str) -> str:
    """Return a picture as an SVG file of its own, with its paper and inks."""
    end = drawn.index(">") + 1
    style = el("style", style_sheet("palette", "marks", "picture"))
    paper = el("rect", width="100%", height="100%", class_="paper")
    return f"{drawn[:end]}{style}{paper}{drawn[end:]}\n"


def picture_file(
    name: str, inside: Iterable[str], width: float, height: float, *, title: str, words: str
) -> str:
    """Return what is drawn as an SVG file of its own; ``name`` is its class in the style sheet."""
    drawn = picture(
        inside, width=width, height=height, key=name, title=title, words=words, class_=f"chart {name}"
    )
    return as_file(drawn)


def with_face(drawn: str) -> str:
    """Return a picture that brings its face, for a page that shows it as an image: there it is on its own."""
    return drawn.replace("<style>", f"<style>{face_rules('regular', 'bold')}", 1)


def scrolled(inside: str, label: str) -> str:
    """Return what may be wider than the page, in a box that moves sideways."""
    return el("div", inside, class_="scroll", tabindex=0, role="region", aria_label=label)


def wide_figure(drawn: str, caption: str) -> str:
    """Return a picture with the words under it; a phone moves it sideways rather than make it too small."""
    inside = el("div", drawn, style=f"min-width:{LEAST_PX}px")
    return el("figure", scrolled(inside, "Picture"), el("figcaption", el("p", prose(caption))))


def prose_lines(lines: Iterable[str], class_: str | None = None) -> str:
    """Return lines of prose as paragraphs."""
    return "".join(el("p", prose(line), class_=class_) for line in lines)


def section(title: str, inside: str, key: str) -> str:
    """Return a part of the page under its heading; "" where nothing is in it."""
    if not inside:
        return ""
    head = el("h2", esc(title), id=f"h-{key}")
    return el("section", head, inside, class_=f"of-{key}", aria_labelledby=f"h-{key}")


def fold(title: str, *inside: str, class_: str) -> str:
    """Return what is shown once its title is opened."""
    return el("details", el("summary", esc(title)), *inside, class_=class_)


def table(heads: Sequence[str], rows: Iterable[Sequence[str]], caption: str, *, label: str = "") -> str:
    """Return a table in a box that moves sideways: the first cell of each row heads it."""
    head = el("tr", *(el("th", prose(cell), scope="col") for cell in heads))
    body = [
        el("tr", el("th", prose(first), scope="row"), *(el("td", prose(cell)) for cell in rest))
        for first, *rest in rows
    ]
    inside = el("table", el("caption", prose(caption)), el("thead", head), el("tbody", *body), class_="notes")
    return scrolled(inside, label or caption)
