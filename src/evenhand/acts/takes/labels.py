"""Sheets on which people label strokes by eye, and what came of them beside what was seen.

A sheet shows frames around each stroke and nothing of what was seen, so that a label is the labeller's own.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from functools import reduce
from pathlib import Path

from evenhand.acts.documents import Json, loaded, read_text_file, value_of
from evenhand.acts.takes.document import SEEN_ID
from evenhand.acts.takes.strip import frames_around, shift_s, whole_box
from evenhand.errors import BadDocument, WrongOptions
from evenhand.film import Cut, Picture, ShowsFilms
from evenhand.measuring.labelled import Agreement, LabelledStroke, agreement_of
from evenhand.measuring.seen import SeenTake
from evenhand.media.film.writing import jpeg_of
from evenhand.report.take.label_sheet import LABELS_ID, SheetStroke, label_sheet_text
from evenhand.watching.values import SeenStroke

MOST_STROKES, FRAMES, FRAME_PX = 120, 16, 160
LARGEST_BYTES = 20_000_000
MUST_BE = "a file saved from a label sheet, or what evenhand watch --json wrote"


def sheet_of(path: Path, take: SeenTake, *, shows: ShowsFilms) -> str:
    """Return a sheet to label a film's strokes on, as one HTML page: the first 120 whose stick was seen.

    Raises
    ------
    WrongOptions
        No stick was seen at any stroke.
    UnreadableRecording
        The pictures cannot be decoded.
    """
    rows = _rows(take)[:MOST_STROKES]
    if not rows:
        raise WrongOptions(got=f"{path.name}, in which no stick was seen", must_be="a film with both")
    wanted = sorted({round(time_s, 6) for _, times_s in rows for time_s in times_s})
    pictures: list[Picture] = []
    cut = Cut(tuple(wanted), FRAME_PX, whole_box(take))
    shows.show(path, cut, lambda _time_s, picture: pictures.append(picture))
    stills = {time_s: jpeg_of(picture) for time_s, picture in zip(wanted, pictures, strict=False)}
    shown = [_shown(stroke, times_s, stills) for stroke, times_s in rows]
    return label_sheet_text(take.heard.name, shown, take.watched.tapes)


def _rows(take: SeenTake) -> list[tuple[SeenStroke, list[float]]]:
    """Return the strokes whose stick was seen, with the frames' own times around each."""
    out = []
    for stroke in take.watched.strokes:
        stick = None if stroke.hand is None else take.watched.sticks.get(stroke.hand)
        if stick is not None and stick.tip_px is not None:
            frames = frames_around(stroke, stick, FRAMES)
            out.append((stroke, (stick.times_s[frames] - shift_s(take)).tolist()))
    return out


def _shown(stroke: SeenStroke, times_s: Sequence[float], stills: Mapping[float, bytes]) -> SheetStroke:
    frames = [stills[round(time_s, 6)] for time_s in times_s if round(time_s, 6) in stills]
    return SheetStroke(stroke.time_s, stroke.hand or "R", tuple(frames))


def compare_labels(paths: Iterable[Path]) -> Agreement:
    """Hold labels against what was seen in the films of the same names.

    Raises
    ------
    BadDocument
        A file is neither.
    WrongOptions
        There are no labels, or nothing was seen of a film that was labelled.
    """
    documents = [_document(path) for path in paths]
    watched = [found for found in documents if found["schema"] == SEEN_ID]
    seen = {found["name"]: found["seen"] for found in watched}
    if len(seen) < len(watched):
        raise WrongOptions(got="two films of one name", must_be="films of different names")
    labels = [found for found in documents if found["schema"] == LABELS_ID]
    lacking = sorted({found["film"] for found in labels} - seen.keys())
    if not labels or lacking:
        got = f"labels of {lacking[0]} alone" if lacking else "no labels"
        raise WrongOptions(got=got, must_be="labels, and what evenhand watch --json wrote of each film")
    each = [agreement_of(found["player"], found["strokes"], seen[found["film"]]) for found in labels]
    return reduce(Agreement.joined, each)


def _document(path: Path) -> Json:
    """Read labels with their strokes as values, or what was seen."""
    text = read_text_file(path, error=BadDocument, largest_bytes=LARGEST_BYTES, must_be=MUST_BE)
    try:
        found: Json = loaded(text)
        if found["schema"] == LABELS_ID:
            strokes = [value_of(each, LabelledStroke) for each in found["strokes"]]
            return {**found, "player": str(found["player"]), "film": str(found["film"]), "strokes": strokes}
        if found["schema"] == SEEN_ID:
            return {**found, "name": str(found["name"]), "seen": _seen(found)}
    except (ValueError, KeyError, TypeError):
        pass
    raise BadDocument(where=str(path), got="another file", must_be=MUST_BE)


def _seen(document: Json) -> list[LabelledStroke]:
    keys = ("time_s", "hand", "rise")
    rows = [{**{key: row[key] for key in keys}, "stroke": row["class"]} for row in document["strokes"]]
    return [value_of(row, LabelledStroke) for row in rows]
