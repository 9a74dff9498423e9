"""Draw forty exercises, plain and awkward, as the contact sheet docs/pictures/gallery.svg.

    python scripts/draw_gallery.py

Twelve of the hard exercises of tests/gallery/hard.txt are drawn as docs/pictures/hard-notation.png.

Conventions: px. Each exercise has a cell of its own width (a phone's, a desk's), its
name and its text above it; cells are stacked in columns: two for a page's width, one for a phone's.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from io import BytesIO
from pathlib import Path

import typst
from PIL import Image

from evenhand.music.book import parse_book
from evenhand.music.engraving.columns import Spacing
from evenhand.music.engraving.engrave import engrave
from evenhand.music.engraving.engraved import EngravedExercise
from evenhand.music.engraving.rolls import Rolls
from evenhand.music.engraving.stems import escaped, number
from evenhand.music.exercise import Tempo
from evenhand.music.text import parse_exercise, print_exercise
from evenhand.report.plots.shell import inks

HOME = Path(__file__).parents[1]
PICTURE = HOME / "docs" / "pictures" / "gallery.svg"
HARD_PICTURE = PICTURE.with_name("hard-notation.png")
HARD_COLORS, HARD_PPI = 8, 135
PAPER, INK, QUIET = (inks()[name] for name in ("paper", "ink", "quiet"))
CELL_PX, GUTTER_PX, NAME_PX, GAP_PX = 700.0, 40.0, 26.0, 22.0
PHONE_PX, PHONE_COLUMN = 336.0, 2


@dataclass(frozen=True)
class Cell:
    """One exercise of the sheet and how it is asked for."""

    name: str
    text: str
    tempo: str = ""
    repeat: int | None = None
    strokes: str = ""
    rolls: Rolls = "written"
    width: float = CELL_PX
    spacing: Spacing = "time"
    plain: dict[str, bool] = field(default_factory=dict)

    def engraved(self) -> EngravedExercise:
        """Engrave it."""
        return engrave(
            parse_exercise(self.text),
            width=self.width,
            tempo=Tempo.parse(self.tempo) if self.tempo else None,
            repeat=self.repeat,
            stroke_letters=self.strokes.replace(".", " ").split() if self.strokes else None,
            rolls=self.rolls,
            spacing=self.spacing,
            show_sticking=self.plain.get("show_sticking", True),
        )


CELLS = (
    Cell("one note", "1/4: R"),
    Cell("lefts only", "1/8: LLLL LLLL", "1/4=80", 4),
    Cell("single strokes, eighths", "4/4 1/8: RLRL RLRL", "1/4=100", 8, "F F F F F F F F"),
    Cell(
        "paradiddle with its strokes",
        "4/4 1/16: >RLRR >LRLL >RLRR >LRLL",
        "1/4=90",
        8,
        "D U T T D U T T D U T T D U T T",
    ),
    Cell(
        "paradiddle, phone",
        "4/4 1/16: >RLRR >LRLL >RLRR >LRLL",
        "1/4=90",
        8,
        "D U T T D U T T D U T T D U T T",
        width=PHONE_PX,
    ),
    Cell("flam on every sixteenth", "4/4 1/16: lR rL lR rL lR rL lR rL lR rL lR rL lR rL lR rL", "1/4=60", 4),
    Cell(
        "flam on every sixteenth, phone",
        "4/4 1/16: lR rL lR rL lR rL lR rL lR rL lR rL lR rL lR rL",
        width=PHONE_PX,
    ),
    Cell("flams with accents", "4/4 1/8: >lR L >rL R >lR L R L", "1/4=72", 2, "D T D T D T T U"),
    Cell("drags in triplets", "4/4 1/12: llR LR rrL RL llR LR rrL RL", "1/4=66", 8, spacing="note"),
    Cell(
        "drag and flam at a line's start",
        "2/4 1/16: llR LRL rL RLR | lR LRL rrL RLR",
        "1/4=60",
        width=PHONE_PX,
    ),
    Cell("three graces", "3/4 1/4: lrlR rlrL >lrlR", repeat=2),
    Cell("triplets", "4/4 1/12: >RLR >LRL >RLR >LRL", "1/4=88", 16),
    Cell("triplet with a rest first", "4/4 1/12: -RL R-L RL- RLR"),
    Cell("quarter triplets", "4/4 1/6: RLR LRL", "1/2=60", 1),
    Cell("sextuplets", "4/4 1/24: RLRLRL >RLRLRL RLRLRL RRLLRR"),
    Cell("sextuplets, phone", "4/4 1/24: RLRLRL >RLRLRL RLRLRL RRLLRR", width=PHONE_PX),
    Cell("quintuplets", "2/4 1/20: >RLRLR >LRLRL", "1/4=50", 4),
    Cell("septuplets and quintuplets", "2/4 1/28: RLRLRLR 1/20: LRLRL"),
    Cell("mixed values", "4/4 1/4: >R 1/8: LR 1/16: LRLR 1/8: L 1/16: RR", spacing="note"),
    Cell("dotted values", "4/4 3/16: R 1/16: L 3/8: R 1/8: L 1/4: R", "3/8=40", spacing="note"),
    Cell("dotted, the other way", "2/4 1/16: R 3/16: L 1/16: R 3/16: L", repeat=4),
    Cell("syncopes", "4/4 1/8: R 1/4: L 1/8: R 1/16: R 1/8: L 1/16: R L R 1/8: L"),
    Cell("rests at the start", "4/4 1/8: --R LRRL L", "1/4=76", 8),
    Cell("rests everywhere", "4/4 1/4: - 1/8: R- -L 1/16: -R-L", "1/4=76"),
    Cell("thirty-seconds", "2/4 1/32: RLRL RRLL RLRR LRLL"),
    Cell(
        "thirty-seconds and eighths",
        "4/4 1/8: R 1/32: LRLR 1/8: L 1/32: RLRL 1/4: R 1/8: >L R",
        spacing="note",
    ),
    Cell("sixty-fourths", "1/4 1/64: RLRL RLRL RLRL RLRL"),
    Cell(
        "five-stroke rolls, written", "2/4 1/32: RRLL 1/8: >R 1/32: LLRR 1/8: >L", "1/4=60", 8, spacing="note"
    ),
    Cell("five-stroke rolls, short", "2/4 1/32: RRLL 1/8: >R 1/32: LLRR 1/8: >L", "1/4=60", 8, "", "short"),
    Cell(
        "seven and nine strokes, short",
        "4/4 1/32: RRLL RR 1/16: >L 1/32: RRLL RRLL 1/4: >R 1/8: LR"
        " | 1/24: RRLLRR 1/4: >L 1/48: RRLLRR 1/8: >L 1/4: R",
        rolls="short",
    ),
    Cell(
        "roll across a line, short, phone",
        "4/4 1/8: RLRL RL 1/32: RRLL RRLL | 1/4: >R - R L",
        rolls="short",
        width=PHONE_PX,
    ),
    Cell("buzz rolls", "4/4 1/4: R~ L~ 1/8: R~ L~ R~ L | 1/1: R~", "1/4=96"),
    Cell("2/4 in bars", "2/4 1/8: RLRR | LRLL | RRLL | 1/4: R -", repeat=3),
    Cell("3/4", "3/4 1/8: RLRLRL | 1/4: >R 1/8: LR LR"),
    Cell("5/4", "5/4 1/8: >RLR >LR LRLRL"),
    Cell("6/8", "6/8 1/8: >RLR >LRL | 1/16: RLRLRL 1/8: RLL", "3/8=60", 8),
    Cell("7/8", "7/8 1/8: >RL >RL >RLR | 1/16: RLRL RLRL 1/8: RLL"),
    Cell("12/8", "12/8 1/8: >RLR >LRL >RLR >LRL", "3/8=80", 4),
    Cell("a swung bar in 12/8", "12/8 1/4: R 1/8: L 1/4: R 1/8: L 1/8: RLR >llRLL", spacing="note"),
    Cell("sixty-four sixteenths", "4/4 1/16: " + "RLRR LRLL RRLR LLRL " * 4, "1/4=80", 4),
)


@dataclass(frozen=True)
class Placed:
    """A cell's drawing and where it stands."""

    cell: Cell
    engraved: EngravedExercise
    x: float
    y: float


def height_of(engraved: EngravedExercise) -> float:
    """Return a drawing's height with its name above it."""
    return NAME_PX + sum(line.height + 4 for line in engraved.lines) + GAP_PX


def laid_out(cells: Sequence[Cell] = CELLS) -> tuple[list[Placed], float]:
    """Stack the cells in their columns; return them and the height."""
    feet = [GUTTER_PX, GUTTER_PX, GUTTER_PX]
    placed: list[Placed] = []
    for cell in cells:
        engraved = cell.engraved()
        column = PHONE_COLUMN if cell.width < CELL_PX else feet.index(min(feet[:PHONE_COLUMN]))
        placed.append(Placed(cell, engraved, GUTTER_PX + column * (CELL_PX + GUTTER_PX), feet[column]))
        feet[column] += height_of(engraved)
    return placed, max(feet)


def drawn(placed: Placed) -> str:
    """Write one cell."""
    name, text = escaped(placed.cell.name), escaped(placed.cell.text)
    fitting = int((placed.cell.width - 6.2 * len(placed.cell.name) - 16) / 6.1)
    if len(placed.cell.text) > fitting:
        text = escaped(placed.cell.text[: fitting - 4]) + " ..."
    head = (
        f'<text x="0" y="12" fill="{QUIET}" font-family="sans-serif" font-size="11">{name}'
        f'<tspan dx="10" font-family="monospace" font-size="10">{text}</tspan></text>'
    )
    music, y = [], NAME_PX
    for line in placed.engraved.lines:
        inside = line.svg[line.svg.index(">") + 1 : line.svg.rindex("</svg>")]
        music.append(f'<g transform="translate(0 {number(y)})">{inside}</g>')
        y += line.height + 4
    return f'<g transform="translate({number(placed.x)} {number(placed.y)})">{head}{"".join(music)}</g>'


HARDEST = (
    "A study of many signs",
    "Flam drags",
    "Longer ratamacues",
    "Seven sixteenths",
    "Ghosts between accents",
    "From the softest to the loudest",
    "Seven in two orders",
    "Eleven and thirteen",
    "Rolls in triplets",
    "Three endings",
    "Feet tied and dotted",
    "Counted rests",
)


def hardest() -> list[Cell]:
    """Return twelve of the hard exercises, as on a printed page."""
    book = parse_book((HOME / "tests" / "gallery" / "hard.txt").read_text("utf-8"))
    texts = {entry.title: print_exercise(entry.exercise) for entry in book.entries}
    return [Cell(name, texts[name], rolls="typed", spacing="note") for name in HARDEST]


def main() -> None:
    """Write both sheets."""
    placed, height = laid_out()
    PICTURE.write_text(sheet(placed, 2 * CELL_PX + PHONE_PX + 4 * GUTTER_PX, height), "utf-8")
    print(f"{PICTURE.name}: {len(placed)} exercises, {PICTURE.stat().st_size // 1000} kB")
    placed, height = laid_out(hardest())
    draw_pixels(sheet(placed, 2 * CELL_PX + 3 * GUTTER_PX, height))
    print(f"{HARD_PICTURE.name}: {len(placed)} exercises, {HARD_PICTURE.stat().st_size // 1000} kB")


def draw_pixels(svg: str) -> None:
    """Write a sheet as a picture of few colours; letters are of the setter's own serif."""
    page = '#set page(width: auto, height: auto, margin: 0pt)\n#image(bytes(sys.inputs.svg), format: "svg")'
    drawn_page = typst.compile(
        page.encode(), format="png", ppi=HARD_PPI, sys_inputs={"svg": svg}, ignore_system_fonts=True
    )
    with Image.open(BytesIO(drawn_page)) as image:
        image.convert("RGB").quantize(HARD_COLORS).save(HARD_PICTURE, optimize=True)


def sheet(placed: list[Placed], width: float, height: float) -> str:
    """Write the cells as one SVG document."""
    box = f"0 0 {number(width)} {number(height)}"
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{box}" role="img" fill="{INK}">',
        f"<title>{len(placed)} engraved exercises</title>",
        f'<rect width="100%" height="100%" fill="{PAPER}"/>',
        *map(drawn, placed),
        "</svg>\n",
    ]
    return "\n".join(parts)


if __name__ == "__main__":
    main()
