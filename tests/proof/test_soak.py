"""The soak can fail: the judge finds what is planted; and a small soak, which finds nothing."""

from __future__ import annotations

import hashlib
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest

from evenhand.studio.store.studio import DATABASE
from proof.folder import FolderPlace
from proof.judge import Found, Row, judged
from proof.ledger import Entry, Ledger, read
from proof.parts import COMPILER, Part
from proof.soak import Settings, Soak, scheduled
from proof.sounds import is_of, recording

TAKES = 4


def a_ledger() -> list[Entry]:
    """Give what devices saw of takes that all went well."""
    sounds = [recording(number).sha256 for number in range(TAKES)]
    sent = [Entry("sent", number, f"key-{number}", "ada", sound) for number, sound in enumerate(sounds)]
    return [*sent, *(replace(each, what="acknowledged", take_id=f"take-{each.number}") for each in sent)]


def all_well() -> Found:
    """Give what is there of them, each kept as it was sent."""
    contents = {f"ab/{recording(n).sha256}.flac": recording(n).content for n in range(TAKES)}
    rows = [Row(f"take-{n}", "ada", f"key-{n}", "heard", key) for n, key in enumerate(contents)]
    names = frozenset(row.id for row in rows)
    return Found(rows, dict.fromkeys(names, 1), contents, names)


def wrong(entries: list[Entry], found: Found) -> list[str]:
    return [line.what for line in judged(entries, found) if not line.holds]


def test_where_all_is_well_the_judge_finds_nothing() -> None:
    assert wrong(a_ledger(), all_well()) == []


def a_take_is_forgotten(found: Found) -> Found:
    return replace(found, rows=found.rows[1:], written={n: 1 for n in found.written if n != "take-0"})


def a_take_is_not_heard(found: Found) -> Found:
    rows = [replace(found.rows[0], status="waiting"), *found.rows[1:]]
    return replace(found, rows=rows, written={**found.written, "take-0": 0})


def a_take_is_heard_twice(found: Found) -> Found:
    return replace(found, written={**found.written, "take-0": 2})


def a_take_is_there_twice(found: Found) -> Found:
    return replace(found, rows=[*found.rows, replace(found.rows[0], id="twin")])


def a_row_comes_from_nowhere(found: Found) -> Found:
    row = replace(found.rows[0], id="stray", upload_key="key-of-nobody")
    return replace(found, rows=[*found.rows, row])


def a_recording_is_gone(found: Found) -> Found:
    return replace(found, contents=dict(list(found.contents.items())[1:]))


def a_bit_is_wrong(found: Found) -> Found:
    key, content = next(iter(found.contents.items()))
    return replace(found, contents={**found.contents, key: content[:-1] + bytes([content[-1] ^ 1])})


def a_take_has_another_s_recording(found: Found) -> Found:
    rows = [replace(found.rows[0], recording=found.rows[2].recording), *found.rows[1:]]
    return replace(found, rows=rows)


def a_recording_belongs_to_nobody(found: Found) -> Found:
    content = b"of nobody"
    return replace(
        found, contents={**found.contents, f"ab/{hashlib.sha256(content).hexdigest()}.flac": content}
    )


PLANTED: dict[Callable[[Found], Found], str] = {
    a_take_is_forgotten: "acknowledged, and no row (lost)",
    a_take_is_not_heard: "heard",
    a_take_is_heard_twice: "heard more than once (doubled)",
    a_take_is_there_twice: "rows with one key twice (doubled)",
    a_row_comes_from_nowhere: "rows that no device sent (orphans)",
    a_recording_is_gone: "recordings gone (lost)",
    a_bit_is_wrong: "recordings whose bytes are not their key's",
    a_take_has_another_s_recording: "recordings with another sound than was sent",
    a_recording_belongs_to_nobody: "recordings that no row names (orphans)",
}


@pytest.mark.parametrize("plant", PLANTED, ids=lambda plant: plant.__name__)
def test_the_judge_finds_what_is_planted(plant: Callable[[Found], Found]) -> None:
    assert PLANTED[plant] in wrong(a_ledger(), plant(all_well()))


def test_the_judge_finds_what_the_devices_saw_go_wrong() -> None:
    told = a_ledger()
    assert wrong(told[:-1], all_well())[:1] == ["acknowledged"]
    refused = replace(told[0], what="refused", words="422")
    assert wrong([*told, refused], all_well()) == ["refused"]
    otherwise = replace(told[0], what="again", take_id="another")
    assert wrong([*told, otherwise], all_well()) == ["answered otherwise when sent again"]


def test_what_became_of_a_wav_is_known_by_its_samples() -> None:
    """A FLAC of the same samples is the take's; one with a single sample 3 steps off is not."""
    assert is_of(2, recording(2).content)
    assert not is_of(1, recording(2).content)
    assert not is_of(2, b"no FLAC")
    assert recording(7) == recording(5) != recording(3)


def test_all_kinds_of_trouble_come_in_an_order_of_the_seed() -> None:
    settings = Settings(takes=2000, kills=20, seed=3)
    due = scheduled(["worker", "web"], ["network", "disk", "clock"], settings)
    assert [
        sum(what == each for _, what in due) for each in ("worker", "web", "network", "disk", "clock")
    ] == [
        *(10, 10),
        *(4, 3, 3),
    ]
    assert [at for at, _ in due] == sorted(at for at, _ in due)
    assert due == scheduled(["worker", "web"], ["network", "disk", "clock"], settings)
    assert due != scheduled(["worker", "web"], ["network", "disk", "clock"], replace(settings, seed=4))


def test_a_ledger_is_read_back(tmp_path: Path) -> None:
    ledger = Ledger(tmp_path / "ledger")
    for entry in a_ledger():
        ledger.note(entry)
    ledger.close()
    assert (list(read(tmp_path / "ledger")), ledger.acknowledged) == (a_ledger(), TAKES)


@pytest.mark.deep
def test_a_small_soak_finds_nothing_and_then_what_is_planted(tmp_path: Path) -> None:
    """What is planted: a take that is forgotten, a hearing that is written once more, a recording deleted."""
    soak = Soak(Settings(takes=24, kills=4, seed=2, on="folder"), tmp_path)
    try:
        assert [line for line in soak.run() if not line.holds] == []
        place = soak.place
        assert isinstance(place, FolderPlace)
        with closing(sqlite3.connect(place.data / DATABASE)) as database:
            database.execute("DELETE FROM takes WHERE id = (SELECT min(id) FROM takes)")
            database.execute("UPDATE takes SET heard = heard WHERE id = (SELECT max(id) FROM takes)")
            database.commit()
        min((place.data / "recordings").glob("??/*")).unlink()
        found = wrong(list(read(tmp_path / "ledger.jsonl")), place.found())
    finally:
        soak.place.close()
    assert {"recordings gone (lost)", "heard more than once (doubled)"} <= set(found)


@pytest.mark.skipif(COMPILER is None, reason="there is no C compiler")
def test_a_part_s_clock_jumps_while_it_runs_and_its_waits_stay_as_long(tmp_path: Path) -> None:
    """The time of day goes an hour ahead; the monotonic clock, and a wait of a semaphore, do not."""
    said = """
import multiprocessing, sys, time
for _ in sys.stdin:
    began = time.monotonic()
    multiprocessing.Semaphore(0).acquire(timeout=0.05)
    print(round(time.time()), round(time.monotonic() - began), flush=True)
"""
    part = Part("the clock", [sys.executable, "-c", said], tmp_path).with_own_clock()
    with subprocess.Popen(part.command, env=part.env, text=True, stdin=-1, stdout=-1) as running:
        assert running.stdin is not None
        assert running.stdout is not None
        for by_s in (0, 3600, -86_400, 0):
            part.move_clock(by_s)
            print("now", file=running.stdin, flush=True)
            at_s, waited_s = map(int, running.stdout.readline().split())
            assert abs(at_s - time.time() - by_s) < 30
            assert waited_s <= 20
        running.stdin.close()
