"""Write one exercise for other programs and for print: SVG, MusicXML, Standard MIDI File, MEI."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, get_args

from evenhand.craft.text import parse_exercise
from evenhand.domain.exercise import Exercise
from evenhand.domain.tempo import Tempo
from evenhand.errors import WrongOptions

if TYPE_CHECKING:
    from evenhand.engraving.short_rolls import Rolls

Form = Literal["svg", "musicxml", "midi", "mei"]
FORMS: tuple[Form, ...] = get_args(Form)
MOST_REPETITIONS = 9999
NARROWEST_PX, WIDEST_PX = 160, 20_000


@dataclass(frozen=True, slots=True)
class ExportWishes:
    """How it is to be written. ``repeat`` is how often it is played; None leaves that open.

    ``stroke_letters`` and ``rolls`` change what is drawn, never what is played; ``midi_note`` is the drum's.
    """

    tempo: Tempo | None = None
    repeat: int | None = None
    title: str = ""
    stroke_letters: bool = False
    rolls: Rolls = "written"
    width_px: float = 760
    midi_note: int = 38


def read_wanted(exercise: str | None, tempo: str | None) -> tuple[Exercise, Tempo | None]:
    """Read what was typed.

    Raises
    ------
    EvenhandError
        Where there is no exercise, or one of the two cannot be read.
    """
    if not (exercise or "").strip():
        raise WrongOptions(got="no exercise", must_be="one, such as --exercise '1/8: RLRR LRLL'")
    beats = Tempo.parse(tempo) if tempo and tempo.strip() else None
    return parse_exercise(exercise or ""), beats


def export_exercise(exercise: Exercise, form: Form, wishes: ExportWishes) -> bytes:
    """Return an exercise in one form; text is UTF-8. The same exercise and wishes give the same bytes.

    Raises
    ------
    WrongOptions
        Where a wish cannot be met.
    """
    check_wishes(wishes)
    if form == "midi":
        return _midi(exercise, wishes)
    texts = {"svg": _svg, "musicxml": _musicxml, "mei": _mei}
    return texts[form](exercise, wishes).encode("utf-8")


def check_wishes(wishes: ExportWishes) -> None:
    """Refuse what cannot be written before anything is."""
    if wishes.repeat is not None and not 1 <= wishes.repeat <= MOST_REPETITIONS:
        raise WrongOptions(got=f"{wishes.repeat} times", must_be=f"1 to {MOST_REPETITIONS}")
    if not NARROWEST_PX <= wishes.width_px <= WIDEST_PX:
        got = f"a width of {wishes.width_px:g} px"
        raise WrongOptions(got=got, must_be=f"{NARROWEST_PX} to {WIDEST_PX} px")


def _letters(exercise: Exercise, wishes: ExportWishes) -> dict[int, str] | None:
    """Plan the strokes' letters where they are wished for."""
    if not wishes.stroke_letters:
        return None
    from evenhand.craft.stroke_plan import plan_strokes

    return plan_strokes(exercise).letters()


def _svg(exercise: Exercise, wishes: ExportWishes) -> str:
    from evenhand.engraving.engrave import engrave
    from evenhand.engraving.whole_svg import whole_svg

    engraved = engrave(
        exercise,
        width=wishes.width_px,
        tempo=wishes.tempo,
        spacing="note",
        repeat=wishes.repeat,
        stroke_letters=_letters(exercise, wishes),
        rolls=wishes.rolls,
    )
    return whole_svg(engraved, title=wishes.title)


def _musicxml(exercise: Exercise, wishes: ExportWishes) -> str:
    from evenhand.engraving.musicxml import to_musicxml

    return to_musicxml(
        exercise,
        tempo=wishes.tempo,
        title=wishes.title,
        repeat=wishes.repeat,
        strokes=_letters(exercise, wishes),
    )


def _midi(exercise: Exercise, wishes: ExportWishes) -> bytes:
    from evenhand.engraving.midi_write import to_midi

    return to_midi(
        exercise,
        tempo=wishes.tempo,
        repetitions=wishes.repeat or 1,
        note=wishes.midi_note,
        title=wishes.title,
    )


def _mei(exercise: Exercise, wishes: ExportWishes) -> str:
    from evenhand.engraving.mei import to_mei
    from evenhand.engraving.short_rolls import score_of

    score = score_of(exercise, wishes.rolls)
    slashes = {at: roll.slashes for at, roll in score.rolls.items()}
    return to_mei(score.exercise, repeat=wishes.repeat, tempo=wishes.tempo, slashes=slashes)
