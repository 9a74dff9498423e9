"""Every entry that takes bytes or text from outside, as a function of bytes; whatever it raises is a find.

An entry is made in a folder of its own, and gives the function and contents to begin from. ``guided`` ones
are read by parsers of ours, in Python, where it pays to watch which lines a content reaches; the others go
through libraries in C, a database or a whole application, and are drawn.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from evenhand.errors import CannotHear, EvenhandError, WrongUse
from evenhand.media.write import write_wav
from evenhand.music.exercise import Tempo
from evenhand.music.text import parse_exercise, print_exercise
from tests.media_files import a_midi, blows, end, note_on, stored_s16, tempo
from tests.media_files import a_wav as bytes_of_wav
from tests.score_files import a_container, a_score, attributes, notes, packed

Tries = Callable[[bytes], object]
Made = tuple[Tries, list[bytes]]

SOME = "4/4 1/16: >RLRR lRLRR 1/12: RLR 1/8: R~ - | 1/4: RLRL"
BOOK = "## Doubles\n1/8: RRLL # Doubles [use: tap]\n1/16: RLRR LRLL # Paradiddle [never: tap, slow doubles]\n"
STICKINGS = "RLRR LRLL\n(6) R L R R L L\nRLRL, RRLL ; a line\n"
TAKES = "file,exercise,tempo,click\na.wav,1/8: RLRR LRLL,1/8=70,auto\nb.wav,1/8: RL,90,none\n"


@dataclass(frozen=True, slots=True)
class Entry:
    """An entry: what comes in there, how it is made, and whether its lines are watched."""

    name: str
    makes: Callable[[Path], Made]
    guided: bool = False


def refuses(reads: Callable[[bytes], object], *refusals: type[Exception]) -> Tries:
    """Let an entry refuse in words, on one line, and by these errors only."""

    def tries(content: bytes) -> None:
        try:
            reads(content)
        except refusals as refusal:
            in_words(refusal)

    return tries


def in_words(refusal: Exception) -> None:
    """Hold a refusal to one line that says something."""
    assert str(refusal)
    assert "\n" not in str(refusal)


def text_of(content: bytes) -> str:
    """Take bytes as text, whatever they are; lone surrogates too, as a form can bring them."""
    return content.decode("utf-8", "surrogateescape")


def exercise_text(_: Path) -> Made:
    """Read an exercise, as it is typed on pages and in the terminal."""

    def reads(content: bytes) -> None:
        exercise = parse_exercise(text_of(content))
        printed = print_exercise(exercise)
        assert parse_exercise(printed) == exercise

    return refuses(reads, WrongUse), [
        SOME.encode(),
        b"1/8: RLRR LRLL",
        b"drop R free x4",
        b"(RLR LRL)3:2 {k}x",
    ]


def tempo_and_click(_: Path) -> Made:
    """Read a tempo, or which clicks sound."""
    from evenhand.music.click_pattern import ClickPattern

    def reads(content: bytes) -> None:
        kind, text = content[:1], text_of(content[1:])
        if kind == b"t":
            assert Tempo.parse(str(Tempo.parse(text))) == Tempo.parse(text)
        else:
            ClickPattern.parse(text)

    return refuses(reads, WrongUse), [
        b"t1/8=70",
        b"t90",
        b"cbar between=2, swing=2/3 silent=2:2",
        b"c3+3+2/8",
    ]


def book(_: Path) -> Made:
    """Read a book, or a list of stickings, as a file or typed."""
    from evenhand.music.book import parse_book, print_book
    from evenhand.music.formats.lists import read_list

    def reads(content: bytes) -> None:
        text = text_of(content)
        read_list(text, name="list", most=200)
        found = parse_book(text, most=200)
        assert parse_book(print_book(found)) == found

    return refuses(reads, WrongUse), [BOOK.encode(), STICKINGS.encode()]


def list_of_takes(folder: Path) -> Made:
    """Read a table of takes as CSV."""
    from evenhand.acts.takes.many import read_list

    return refuses(lambda content: read_list(text_of(content), name="list", folder=folder), WrongUse), [
        TAKES.encode(),
        TAKES.replace(",", ";").encode(),
    ]


def score(_: Path) -> Made:
    """Read a score of another program: MusicXML, packed or not, or MIDI."""
    from evenhand.acts.exercises.convert import ImportOptions
    from evenhand.music.formats.midi.write import to_midi
    from evenhand.music.formats.musicxml.write import to_musicxml
    from evenhand.studio.imported import understood

    some = parse_exercise(SOME)
    xml = to_musicxml(some, tempo=Tempo.parse("1/4=90"), repeat=4, title="A").encode()
    seeds = [
        xml,
        a_score(attributes() + notes("RLRRLRLL-RLR")),
        to_midi(some, tempo=Tempo.parse("1/4=90"), repetitions=2),
        packed({"META-INF/container.xml": a_container("a.xml"), "a.xml": xml}),
    ]
    return refuses(lambda content: understood(content, "a", ImportOptions(), most=200), EvenhandError), seeds


def heard_take(_: Path) -> Made:
    """Read a heard take's JSON, as an export or a file brings it."""
    from evenhand.acts.takes.document import heard_take_of, json_text
    from tests.builders import a_heard_take

    def reads(content: bytes) -> None:
        json_text(heard_take_of(content))

    return refuses(reads, WrongUse), [json_text(a_heard_take()).encode()]


def weeks_plan(_: Path) -> Made:
    """Read a week's plan as JSON."""
    from evenhand.acts.weeks.document import plan_from_json, plan_to_json
    from tests.web.stands import a_plan

    def reads(content: bytes) -> None:
        plan_to_json(plan_from_json(text_of(content), name="plan"))

    return refuses(reads, WrongUse), [plan_to_json(a_plan()).encode()]


def path_of_stages(_: Path) -> Made:
    """Read a path's stages as TOML."""
    from evenhand.acts.weeks.path import path_from_toml, path_to_toml
    from evenhand.progress.stages.usual import COMMON_PATH

    def reads(content: bytes) -> None:
        found = path_from_toml(text_of(content), name="path")
        assert path_from_toml(path_to_toml(found), name="path") == found

    whole = path_to_toml(COMMON_PATH)
    return refuses(reads, WrongUse), [whole.encode(), whole[: whole.index("[[stage]]", 20)].encode()]


def live_message(_: Path) -> Made:
    """Read a live take's first message, and make an ear of it."""
    from evenhand.studio.live.wire import live_ear

    def reads(content: bytes) -> None:
        live_ear(content)

    clicks = {"first_s": 0.5, "beat_s": 0.5, "count": 40, "counted": 4, "pattern": "bar"}
    seeds = [
        {
            "rate": 48_000,
            "exercise": "1/8: RLRR LRLL",
            "tempo": "1/4=110",
            "first_note_s": 0.5,
            "clicks": clicks,
        },
        {"rate": 44_100},
    ]
    return refuses(reads, WrongUse, ValueError), [json.dumps(each).encode() for each in seeds]


def a_recording(folder: Path) -> Tries:
    """Open a recording; what comes of it is what a take promises to be."""
    from evenhand.media.open_take import open_take
    from tests.properties.test_media_fuzz import check

    place = folder / "take"

    def tries(content: bytes) -> None:
        place.write_bytes(content)
        try:
            check(open_take(place))
        except CannotHear as refusal:
            in_words(refusal)

    return tries


def wav(folder: Path) -> Made:
    """Read a WAV file, by our own parser."""
    write_wav(folder / "a.wav", blows(8_000, 0.5), 8_000, sample="FLOAT")
    plain = stored_s16(blows(8_000, 0.5))
    seeds = [(folder / "a.wav").read_bytes(), bytes_of_wav(plain, rate_hz=8_000)]
    return a_recording(folder), [*seeds, bytes_of_wav(plain, rate_hz=8_000, channels=2, extensible=True)]


def midi_take(folder: Path) -> Made:
    """Read a played MIDI file."""
    track = tempo(0, 500_000) + b"".join([note_on(240)] * 8) + end()
    return a_recording(folder), [a_midi(track), a_midi(track, track, form=1, division=-(25 << 8) + 40)]


PARSED = (
    Entry("exercise text", exercise_text, guided=True),
    Entry("tempo and click", tempo_and_click, guided=True),
    Entry("book, list of stickings", book, guided=True),
    Entry("list of takes (CSV)", list_of_takes, guided=True),
    Entry("score (MusicXML, MIDI)", score, guided=True),
    Entry("heard take (JSON)", heard_take, guided=True),
    Entry("week's plan (JSON)", weeks_plan, guided=True),
    Entry("path (TOML)", path_of_stages, guided=True),
    Entry("live take's first message", live_message, guided=True),
    Entry("recording: WAV", wav, guided=True),
    Entry("recording: MIDI", midi_take, guided=True),
)
