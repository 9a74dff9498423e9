"""A page of one picture and its words, and the same picture alone in a file.

The report's style sheet: paper and two inks, from a phone to a desk, in print and in the dark.

The text face of every page: the one that the sheet is set in, so that paper and screen belong together.

Conventions: the studio serves the face as files (``web/static/faces``); a report is one file that may go
anywhere, so it holds a smaller cut (``pages/faces``), some 70 kB as text. A picture as a file names the face
and holds none; one that a page shows as an image holds it. No page leans on it: with another face the lines
are longer, and nothing is cut off. ``scripts/cut_faces.py`` makes both; the licence lies beside them.
"""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Iterable, Sequence
from functools import cache
from importlib.resources import files
from typing import Final

from evenhand.report.plots.markup import el, esc, prose

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
    data = (files("evenhand.report") / "faces" / f"libertinus-serif-{name}.woff2").read_bytes()
    source = f"url(data:font/woff2;base64,{b64encode(data).decode()})format('woff2')"
    return (
        f'@font-face{{font-family:"Libertinus Serif";font-weight:{weight};font-style:{style};'
        f"size-adjust:{SIZE_ADJUST};src:{source}}}\n"
    )


LIGHT = """
--paper:#fbf8f1;--ink:#26241f;--quiet:#6d6655;--rule:#ddd5c3;--band:#efe9da;--zero:#d9d0bb;
--right:#1f2b4d;--left:#b0492a;
"""
DARK = """
--paper:#1a1917;--ink:#e9e4d8;--quiet:#a69f8e;--rule:#3b3832;--band:#2a2824;--zero:#45413a;
--right:#a9c1f0;--left:#e58f66;
"""

STYLE = f"""
:root{{color-scheme:light dark;{LIGHT}}}
@media screen and (prefers-color-scheme:dark){{:root{{{DARK}}}}}
*{{box-sizing:border-box}}
html{{-webkit-text-size-adjust:100%;text-size-adjust:100%}}
body{{margin:0;background:var(--paper);color:var(--ink);
font:17px/1.55 {FAMILY};
font-variant-numeric:lining-nums tabular-nums}}
main{{max-width:1088px;margin:0 auto;padding:56px 24px 72px}}
h1,h2,h3{{font-weight:400;line-height:1.25;margin:0;text-wrap:balance}}
h1{{font-size:2.1rem;max-width:30em}}
h2{{font-size:1.25rem;margin:3.2rem 0 1rem}}
h3{{font-size:1rem;color:var(--quiet)}}
p{{margin:.5rem 0;max-width:44em}}
.name,.facts{{color:var(--quiet);margin:.4rem 0;overflow-wrap:anywhere}}
.name{{font-size:.9rem}}
.sticking{{letter-spacing:.06em;white-space:pre-wrap;overflow-wrap:anywhere}}
.notice{{border-left:3px solid var(--ink);padding-left:1rem}}
figure{{margin:2.4rem 0 0}}
figcaption{{color:var(--quiet);font-size:.88rem;margin-top:.6rem}}
svg{{display:block;width:100%;height:auto}}
svg svg{{display:inline}}
.layout svg.block{{margin:0 0 1.2rem}}
.layout svg.block:nth-last-child(2){{margin-bottom:.2rem}}
.phone{{display:none}}
g,text{{font-family:inherit}}
text{{font-size:11px;fill:var(--quiet)}}
.n{{text-anchor:end}}.n.m,.stop.m,.f{{text-anchor:middle}}
.f{{fill:var(--ink);font-size:11.5px}}
.phone .f{{font-size:10px}}.phone text.n{{font-size:10px}}.f.s{{text-anchor:start}}text.b{{font-weight:700}}
.stop{{font-style:italic;paint-order:stroke;stroke:var(--paper);stroke-width:5px;stroke-linejoin:round}}
.music{{color:var(--ink);fill:var(--ink)}}
.music svg[color]{{color:var(--ink)}}
.music text{{fill:var(--ink);font-size:inherit}}
path{{fill:none;stroke-linecap:round;stroke-linejoin:round}}
.music path{{fill:inherit;stroke-linecap:butt;stroke-linejoin:miter}}
path.band{{fill:var(--band)}}
.zero{{stroke:var(--zero);stroke-width:.8}}
.r{{stroke:var(--right)}}.l{{stroke:var(--left)}}.both{{stroke:var(--ink)}}
.g{{stroke-width:1}}
.tick{{stroke-width:.9}}
.ring{{stroke:var(--ink);stroke-width:1;stroke-dasharray:1.6 1.7;stroke-linecap:butt}}
.cross{{stroke:var(--ink);stroke-width:1.1}}
.rest{{stroke:var(--quiet);stroke-width:2.2;opacity:.6}}
.gap{{stroke:var(--zero);stroke-width:1;stroke-dasharray:3 4}}
.whisker{{stroke-width:1.4;opacity:.75}}
.dot{{stroke-width:4.6}}
.bar{{stroke-width:6;stroke-linecap:butt;opacity:.28}}
.cap{{stroke-width:1.8;stroke-linecap:butt}}
.point{{stroke-width:1.7;opacity:.55}}
.hump.r{{fill:var(--right);stroke:none;fill-opacity:.22}}.hump.l{{fill:var(--left);stroke:none;fill-opacity:.26}}
.scale{{stroke:var(--ink);stroke-width:1;stroke-linecap:butt}}
.grid{{stroke:var(--rule);stroke-width:.8;stroke-linecap:butt}}
.asked{{stroke:var(--quiet);stroke-width:.9;stroke-dasharray:2 3}}
.line{{stroke-width:1.1;opacity:.6}}.line.l{{stroke-dasharray:4 2.5}}
.at{{stroke-width:1.8}}.at.both{{stroke-width:3.6}}
.hand{{font-size:11px;stroke:none}}.hand.r{{fill:var(--right)}}.hand.l{{fill:var(--left)}}
.chart .n{{font-size:10.5px}}
.charts{{display:grid;grid-template-columns:repeat(auto-fit,minmax(min(100%,290px),1fr));gap:1.6rem 2rem}}
.charts figure{{margin:0}}
.charts figcaption{{font-size:.85rem}}
.key{{display:flex;flex-wrap:wrap;gap:.2rem 1.4rem;list-style:none;padding:0;margin:.2rem 0 .8rem;
color:var(--quiet);font-size:.88rem}}
.key li{{display:flex;align-items:center;gap:.45rem}}
.key svg{{width:18px;height:18px;flex:none}}
.findings{{list-style:none;padding:0;margin:0}}
.findings li{{padding:1.1rem 0;border-top:1px solid var(--rule)}}
.findings li:first-child{{border-top:0;padding-top:0}}
.findings p{{margin:.15rem 0}}
.said{{font-size:1.12rem}}
.evidence{{color:var(--quiet);font-size:.9rem}}
.where .sticking{{letter-spacing:.16em;margin-right:.6em}}
.where u{{text-decoration-thickness:2px;text-underline-offset:4px;color:var(--ink);font-weight:700}}
.cautions{{padding-left:1.1rem;max-width:46em}}
table{{border-collapse:collapse;width:100%;font-size:.92rem}}
caption{{text-align:left;color:var(--quiet);font-size:.88rem;padding-bottom:.5rem}}
th,td{{text-align:left;font-weight:400;padding:.28rem .8rem .28rem 0;vertical-align:baseline}}
thead th{{color:var(--quiet);font-size:.85rem;border-bottom:1px solid var(--rule)}}
.figures tbody tr:first-child th{{padding-top:1.1rem;color:var(--quiet);font-style:italic}}
.figures td{{white-space:nowrap}}
.lead{{display:none}}
.u,.i,.c{{color:var(--quiet)}}
td.b{{font-weight:700}}
.scroll{{overflow-x:auto}}
.notes td,.notes th{{white-space:nowrap}}
details{{margin:1rem 0}}
summary{{cursor:pointer;color:var(--quiet);width:fit-content}}
summary:focus-visible,.scroll:focus-visible{{outline:2px solid var(--ink);outline-offset:3px}}
.method{{display:grid;grid-template-columns:9em 1fr;gap:.35rem 1.2rem;font-size:.92rem;margin:0}}
.method dt{{color:var(--quiet)}}.method dd{{margin:0;max-width:44em;overflow-wrap:anywhere}}
@media screen and (max-width:899px){{
.desk{{display:none}}.phone{{display:block;max-width:520px}}
}}
@media screen and (max-width:640px){{
body{{font-size:16px}}main{{padding:28px 16px 48px}}h1{{font-size:1.5rem}}h2{{margin-top:2.4rem}}
.method{{grid-template-columns:1fr;gap:0}}.method dd{{margin-bottom:.6rem}}
.figures thead{{position:absolute;clip-path:inset(50%);height:1px;overflow:hidden}}
.figures,.figures tbody,.figures caption{{display:block}}
.figures tr{{display:grid;grid-template-columns:6.6em 1fr auto;gap:0 .7rem;padding:.3rem 0}}
.figures th,.figures td{{padding:0}}
.figures th{{grid-column:1/3}}.figures th[colspan]{{grid-column:1/-1}}
.figures td.s{{grid-column:3;grid-row:1;text-align:right;color:var(--quiet)}}
.figures td.s.b{{color:var(--ink)}}
.figures td.c{{text-align:right}}
.lead{{display:inline}}
}}
@page{{margin:14mm}}
@media print{{
:root{{color-scheme:light;--paper:#fff;--band:#f0ebdf}}
body{{font-size:10pt;line-height:1.42;print-color-adjust:exact;-webkit-print-color-adjust:exact}}
main{{padding:0;max-width:none}}
h1{{font-size:17pt}}h2{{margin:1.1rem 0 .5rem;font-size:12.5pt;break-after:avoid}}
p,.cautions,.method dd{{max-width:none}}
text,.f,.chart .n{{font-size:13px}}
figure{{margin-top:1.2rem}}
.layout svg,.chart,.findings li,tr,dt,dd{{break-inside:avoid}}
dt{{break-after:avoid}}
.findings li{{padding:.6rem 0}}
.charts{{grid-template-columns:repeat(3,1fr);gap:.8rem;break-inside:avoid}}
.figures{{font-size:8.8pt}}.figures th,.figures td{{padding:.08rem .8rem .08rem 0}}
.figures tbody tr:first-child th{{padding-top:.45rem;break-after:avoid}}
.method{{font-size:8.8pt;gap:.15rem 1.2rem}}
.words,.tables{{display:none}}
.of-figures{{break-before:page}}
}}
"""


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
