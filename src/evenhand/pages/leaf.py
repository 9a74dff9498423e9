"""A page of one picture and its words, and the same picture alone in a file."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from evenhand.pages.face import FAMILY, face_rules
from evenhand.pages.markup import el, esc, prose
from evenhand.pages.style import LIGHT, STYLE

LEAST_PX = 560  # below that the picture's letters are too small
_ALONE = f"""
svg{{{LIGHT}background:#fbf8f1;font-family:{FAMILY};font-variant-numeric:lining-nums tabular-nums}}
text{{font-size:11px;fill:var(--quiet)}}
.n{{text-anchor:end}}.n.m,.f{{text-anchor:middle}}.f{{fill:var(--ink);font-size:11.5px}}.f.s{{text-anchor:start}}
path{{fill:none;stroke-linecap:round;stroke-linejoin:round}}
path.band{{fill:var(--band)}}
.r{{stroke:var(--right)}}.l{{stroke:var(--left)}}.both{{stroke:var(--ink)}}
.grid{{stroke:var(--rule);stroke-width:.8;stroke-linecap:butt}}
.gap{{stroke:var(--zero);stroke-width:1;stroke-dasharray:3 4}}
.line{{stroke-width:1.1;opacity:.6}}.at{{stroke-width:1.8}}.whisker{{stroke-width:1.4;opacity:.75}}
.cross{{stroke:var(--ink);stroke-width:1.1}}
"""


def leaf(*, name: str, title: str, facts: Sequence[str], body: Iterable[str]) -> str:
    """Return one self-contained HTML page: the sentence on top, facts, and what follows."""
    head = el(
        "header",
        el("p", esc(name), class_="name"),
        el("h1", prose(title)),
        el("p", " · ".join(prose(fact) for fact in facts), class_="facts"),
    )
    return "<!doctype html>\n" + el(
        "html",
        el(
            "head",
            el("meta", charset="utf-8"),
            el("meta", name="viewport", content="width=device-width, initial-scale=1"),
            el("title", esc(f"{name}: {title}")),
            el("style", face_rules() + STYLE),
        ),
        "\n",
        el("body", el("main", head, *(part + "\n" for part in body if part))),
        lang="en",
    )


def alone(picture: str) -> str:
    """Return a picture as an SVG file of its own, with its colours."""
    end = picture.index(">") + 1
    return f"{picture[:end]}{el('style', _ALONE)}{picture[end:]}\n"


def figure_with(picture: str, caption: str) -> str:
    """Return a picture with the words under it; a phone moves it sideways rather than make it too small."""
    inside = el("div", picture, style=f"min-width:{LEAST_PX}px")
    moved = el("div", inside, class_="scroll", tabindex=0, role="region", aria_label="Picture")
    return el("figure", moved, el("figcaption", el("p", prose(caption))))


def section(title: str, inside: str) -> str:
    """Return a part of the page under its heading."""
    return el("section", el("h2", esc(title)), inside) if inside else ""


def table(heads: Sequence[str], rows: Iterable[Sequence[str]], caption: str) -> str:
    """Return a table: the first cell of each row heads it."""
    head = el("tr", *(el("th", prose(cell), scope="col") for cell in heads))
    body = [
        el("tr", el("th", prose(first), scope="row"), *(el("td", prose(cell)) for cell in rest))
        for first, *rest in rows
    ]
    inside = el("table", el("caption", prose(caption)), el("thead", head), el("tbody", *body), class_="notes")
    return el("div", inside, class_="scroll", tabindex=0, role="region", aria_label=caption)
