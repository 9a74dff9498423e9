"""What joins neighbouring notes in MusicXML: beams and tuplets, sign by sign."""

from __future__ import annotations

from dataclasses import dataclass

from evenhand.domain.exercise import Exercise
from evenhand.engraving.notation import Group, Ratio, beams_of, groups_of, parted_of, shapes_of


@dataclass(frozen=True, slots=True)
class Sign:
    """The elements that one note takes for its beams and its tuplet."""

    beams: str = ""
    time_modification: str = ""
    tuplets: tuple[str, ...] = ()


def signs_of(written: Exercise) -> tuple[Sign, ...]:
    """Return the beams and tuplets of each note; each must be a single sign."""
    signs: list[Sign] = []
    for group in groups_of(written):
        beams = beams_of(written, group)
        states = _beam_states(written, beams)
        bracket = beams != ((group.start, group.stop - 1),)
        for at in range(group.start, group.stop):
            tuplets = _tuplets(group, at, bracket=bracket)
            signs.append(Sign(states.get(at, ""), _time_modification(group.ratio), tuplets))
    return tuple(signs)


def _time_modification(ratio: Ratio) -> str:
    if ratio.num == 1:
        return ""
    return (
        f"<time-modification><actual-notes>{ratio.num}</actual-notes>"
        f"<normal-notes>{ratio.base}</normal-notes></time-modification>"
    )


def _tuplets(group: Group, at: int, *, bracket: bool) -> tuple[str, ...]:
    """Write where a tuplet's number begins and ends; a lone note has none."""
    if group.ratio.num == 1 or group.stop - group.start == 1:
        return ()
    if at == group.start:
        shown = "yes" if bracket else "no"
        return (f'<tuplet type="start" number="1" bracket="{shown}" placement="above"/>',)
    return ('<tuplet type="stop" number="1"/>',) if at == group.stop - 1 else ()


def _beam_states(written: Exercise, beams: tuple[tuple[int, int], ...]) -> dict[int, str]:
    """Write the beams of the struck notes under each beam; a rest inside takes none."""
    parted = parted_of(written, beams)
    states: dict[int, str] = {}
    for first, last in beams:
        struck = [at for at in range(first, last + 1) if not written.notes[at].is_rest]
        flags = [_flags(written, at) for at in struck]
        for index, at in enumerate(struck):
            levels = range(1, flags[index] + 1)
            states[at] = "".join(
                f'<beam number="{level}">{_state(struck, flags, parted, index, level)}</beam>'
                for level in levels
            )
    return states


def _state(struck: list[int], flags: list[int], parted: frozenset[int], index: int, level: int) -> str:
    """Say how one beam of a note goes: on from the note before, on to the next, both, or a stub."""
    back = index > 0 and _joined(struck, flags, parted, index - 1, level)
    on = index < len(struck) - 1 and _joined(struck, flags, parted, index, level)
    if back and on:
        return "continue"
    if back or on:
        return "begin" if on else "end"
    closes = index == len(struck) - 1
    opens = index == 0 or _apart(struck, parted, index - 1)
    return "forward hook" if opens and not closes else "backward hook"


def _joined(struck: list[int], flags: list[int], parted: frozenset[int], index: int, level: int) -> bool:
    """Tell whether a beam goes from this note to the next; the first passes rests and partings."""
    if min(flags[index], flags[index + 1]) < level:
        return False
    return level == 1 or not _apart(struck, parted, index)


def _apart(struck: list[int], parted: frozenset[int], index: int) -> bool:
    """Tell whether inner beams break after this note: at a parting, or over a rest."""
    return struck[index] in parted or struck[index + 1] - struck[index] > 1


def _flags(written: Exercise, at: int) -> int:
    """Count a note's flags: 1 for an eighth, 2 for a sixteenth."""
    return shapes_of(written.notes[at].value)[0].base.bit_length() - 3
