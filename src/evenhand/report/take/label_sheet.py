"""A sheet to label strokes by eye: frames around each, what may be said of it, and a button that saves it.

The page is one file. Nothing leaves the machine: labels are saved as a file by the browser. It shows nothing
of what was seen by Evenhand.
"""

from __future__ import annotations

import json
from base64 import b64encode
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from evenhand.music.exercise import HAND_NAMES, Hand
from evenhand.report.plots.markup import el, esc
from evenhand.report.plots.shell import page, page_head, prose_lines

LABELS_ID = "urn:evenhand:labels-1"
RISES = ("free", "lifted", "unsure")
CLASSES = ("tap", "half", "full")
HOW = """\
Free: the stick leaves the pad fast by itself, and slows down as it rises. Lifted: it leaves slowly or \
rests, and the hand takes it up. Unsure is an answer, too; leave out what you cannot see.
Label without having looked at what Evenhand said of this video, and do not ask the player. \
It is best if a second teacher labels the same sheet alone.
Give players a code, no name. These pictures show a person: keep this file as you keep the video. \
The file that you save holds no picture.""".splitlines()
STYLE = (
    ".frames{display:flex;flex-wrap:wrap;gap:2px}.frames img{height:7em}"
    "fieldset{border:0;padding:0;margin:.3em 1.5em .3em 0;display:inline-block}"
    "label{margin-right:.9em}li.stroke{margin:1.2em 0}"
)
SCRIPT = """
const given=JSON.parse(document.getElementById('given').textContent);
const form=document.getElementById('labels');
const said=(name)=>{const at=form.elements[name];return at&&at.value?at.value:null;};
let changed=false;
const tell=()=>{const n=given.strokes.filter((s,i)=>said('rise'+i)).length;
document.getElementById('count').textContent=n+' of '+given.strokes.length+' strokes labelled';};
form.addEventListener('change',()=>{changed=true;tell();});
form.addEventListener('submit',(event)=>{event.preventDefault();
const strokes=given.strokes.map((s,i)=>({...s,rise:said('rise'+i),stroke:said('class'+i)}));
const whole={schema:given.schema,film:given.film,player:said('player')||'',by:said('by')||'',strokes};
const link=document.createElement('a');
link.href=URL.createObjectURL(new Blob([JSON.stringify(whole,null,1)+'\\n'],{type:'application/json'}));
link.download=given.film.replace(/\\.[^.]*$/,'')+'-labels.json';
link.click();changed=false;});
window.addEventListener('beforeunload',(event)=>{if(changed)event.preventDefault();});
tell();
"""


@dataclass(frozen=True, slots=True)
class SheetStroke:
    """One stroke to be labelled: when, whose, and frames around it as JPEG, in order of time."""

    time_s: float
    hand: Hand
    frames: tuple[bytes, ...]


def label_sheet_text(name: str, strokes: Sequence[SheetStroke], tapes: Mapping[Hand, str]) -> str:
    """Return the sheet of one film as a self-contained HTML page; ``tapes`` are the hands' colours."""
    given = {"schema": LABELS_ID, "film": name}
    rows = [{"time_s": round(stroke.time_s, 4), "hand": stroke.hand} for stroke in strokes]
    data = json.dumps({**given, "strokes": rows}).replace("<", "\\u003c")
    form = el(
        "form",
        el("p", _field("Player (a code)", "player"), _field("Labelled by (a code)", "by")),
        el("ol", *(_stroke(i, stroke, tapes[stroke.hand]) for i, stroke in enumerate(strokes))),
        el("p", el("span", "", id="count"), " ", el("button", "Save labels", type="submit")),
        id="labels",
    )
    return page(
        f"Labels: {name}",
        el("style", STYLE),
        page_head(name, "How does each stick rise?", prose_lines(HOW)),
        form,
        el("script", data, id="given", type="application/json"),
        el("script", SCRIPT),
    )


def _field(words: str, name: str) -> str:
    return el("label", f"{esc(words)} ", el("input", name=name, required="required", autocomplete="off"))


def _stroke(number: int, stroke: SheetStroke, tape: str) -> str:
    """Lay out one stroke: its frames, and what may be said of it."""
    frames = [
        el("img", src=f"data:image/jpeg;base64,{b64encode(each).decode()}", alt=f"frame {i}")
        for i, each in enumerate(stroke.frames, start=1)
    ]
    return el(
        "li",
        el("p", esc(f"{HAND_NAMES[stroke.hand]} hand, {tape} tape, at {stroke.time_s:.2f} s")),
        el("div", *frames, class_="frames"),
        _choice("Rise", f"rise{number}", RISES),
        _choice("Stroke", f"class{number}", CLASSES),
        class_="stroke",
    )


def _choice(legend: str, name: str, words: Sequence[str]) -> str:
    inside = [el("label", el("input", type="radio", name=name, value=word), f" {word}") for word in words]
    return el("fieldset", el("legend", legend), *inside)
