"""A scrub reads every recording, names what is missing or damaged, and goes on where it was broken off."""

from __future__ import annotations

from collections.abc import Sequence

import pytest

from evenhand.studio.safekeeping import scrub
from evenhand.studio.safekeeping.check import check_studio
from evenhand.studio.safekeeping.scrub import notes_of
from evenhand.studio.store.studio import Studio
from evenhand.studio.values import StudioTake
from tests.places import Place, everywhere, spoil
from tests.studios import a_new_take

WAV = b"RIFF\x00\x00\x00\x00WAVEfmt "


class Broken(BaseException):
    """Stands for the end of the process."""


def some_takes(studio: Studio, n: int = 9) -> list[StudioTake]:
    """Let takes come in; in the order of their keys."""
    ida = studio.students.add("Ida Quill")
    those = [studio.takes.receive(a_new_take(ida.id, f"k{k}"), WAV + bytes([k]))[0] for k in range(n)]
    return sorted(those, key=lambda take: take.recording or "")


@everywhere
def test_a_scrub_that_was_broken_off_goes_on_and_names_all(
    place: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One that was damaged was read before it broke off, a missing one comes after; one is mended."""
    studio = place.create()
    those = some_takes(studio)
    data, read = studio.data, list[str]()
    spoil(studio, those[0].recording, b"rot")
    spoil(studio, those[1].recording, b"rot")
    spoil(studio, those[8].recording)
    among = scrub._bad_among  # noqa: SLF001 - to see what is read, and to break it off

    def reads(_data: object, keys: Sequence[str]) -> dict[str, bool]:
        if len(read) >= 6:
            raise Broken
        read.extend(keys)
        return among(data, keys)

    monkeypatch.setattr(scrub, "EACH", 2)
    monkeypatch.setattr(scrub, "_bad_among", reads)
    with pytest.raises(Broken):
        check_studio(studio, notes=notes_of(data))
    assert notes_of(data).through == those[5].recording
    spoil(studio, those[1].recording, WAV + bytes([int(those[1].upload_key[1:])]))
    read.clear()
    done: list[float] = []
    found = check_studio(studio, done.append, notes_of(data)).unsound
    assert {(each.take.id, each.damaged) for each in found} == {(those[0].id, True), (those[8].id, False)}
    assert read == [*(take.recording for take in those[6:]), *(those[k].recording for k in (0, 1, 8))]
    assert done == [8 / 9, 1.0]
    assert notes_of(data).through == ""


def test_notes_that_are_old_or_broken_count_for_nothing(place: Place) -> None:
    studio = place.create()
    some_takes(studio, 2)
    notes = notes_of(studio.data)
    notes.through = "zz"
    scrub.keep_notes(studio.data, notes)
    assert notes_of(studio.data).through == "zz"
    place.clock.move(days=8)
    assert notes_of(studio.data).through == ""
    (written,) = studio.data.recordings.folder.glob(".scrub*")
    written.write_text("[1]", "utf-8")
    assert notes_of(studio.data).through == ""
    assert check_studio(studio, notes=notes_of(studio.data)).is_well
