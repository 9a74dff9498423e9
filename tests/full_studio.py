"""A studio with something of everything in it, for what must keep or move it whole."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from sqlalchemy import select, update

from evenhand.studio.store.studio import Studio
from evenhand.studio.store.tables import metadata
from evenhand.studio.values import Device, Holiday, LessonChange, Said, Week
from tests.studios import NOON, a_new_take

WAV = b"RIFF\x00\x00\x00\x00WAVEfmt " + bytes(2000)
VOICE = b"RIFF\x00\x00\x00\x00WAVEfmt voice" + bytes(500)
FLAC = b"fLaC" + bytes(range(256)) * 8
LINK_LASTS = timedelta(days=90)


def fill(studio: Studio) -> str:
    """Put something of everything into a studio; give the secret of a link."""
    studio.change_facts(unit="cm", keep_originals=True, keep_videos=True, lesson_minutes=30)
    studio.lessons.make_feed()
    ida = studio.students.add("Ida Quill", minor=True, consent_by="R. Quill", consent_on=date(2026, 2, 1))
    una = studio.students.add('=Una, "the" Marsh\n♪', stage="full", archived=True, notes="木", lesson_day=0)
    secret, _ = studio.access.make_link(ida.id, lasts=LINK_LASTS)
    _, old = studio.access.make_link(una.id, lasts=LINK_LASTS)
    studio.access.revoke_link(old.id)
    studio.access.make_link(una.id, lasts=LINK_LASTS, opens="days")
    studio.access.begin("teacher", lasts=LINK_LASTS)
    studio.access.know_device()
    studio.log.note("login", "teacher", address="192.0.2.1")
    studio.log.note("take words", "teacher", about=ida.id, thing="take 3f0c", address="this network")
    second = {"second_sealed": "sealed", "second_used_step": 59_000_000, "second_recovery": "ab12 cd34"}
    studio.data.execute(update(metadata.tables["studio"]).values(**second))
    week = studio.weeks.save(Week("", ida.id, date(2026, 3, 2), "half", '{"days": 5}', "Slow is fine."))
    studio.weeks.send(week.id)
    studio.weeks.save(Week("", ida.id, date(2026, 3, 9), "half", "{}"))
    studio.made.keep(ida.id, "weeks", "of these", "what was made")
    studio.weeks.keep_draft(ida.id, "", '{"words": "Leise, bitte"}', page="a", stamp=3)
    studio.students.save_device(Device("", ida.id, "phone", 41.25, NOON))
    studio.lessons.change(LessonChange("", ida.id, date(2026, 3, 9), date(2026, 3, 11), "17:00", "a concert"))
    studio.lessons.change(LessonChange("", una.id, date(2026, 3, 9)))
    studio.lessons.add_holiday(Holiday("", date(2026, 4, 1), date(2026, 4, 12), name="Easter ♪"))
    studio.lessons.add_holiday(Holiday("", date(2026, 5, 1), date(2026, 5, 3), ida.id))
    studio.book.add("1/8: RLRR LRLL", "Eights", "Rebound")
    studio.book.add("1/16: RRLL")
    _some_takes(studio, ida.id, una.id)
    return secret


def _some_takes(studio: Studio, ida_id: str, una_id: str) -> None:
    """Let takes be in every state but in a worker's hands."""
    heard, _ = studio.takes.receive(
        a_new_take(ida_id, "a", name="slow", latency_ms=41.25, facts={"rate": "48000"}),
        WAV,
        original_name="Übung.wav",
    )
    studio.queue.took_heard(heard.id, '{"hits": [1.5, "♪"]}', 12.25, flac=FLAC)
    studio.takes.change(heard.id, corrected=True, model=True)
    studio.threads.say(Said("s1", ida_id, "teacher", NOON, heard.id, text="Let it bounce.", read_at=NOON))
    studio.threads.say(Said("s2", ida_id, "student", NOON, heard.id, unclear=True, seconds=2.5), VOICE)
    studio.takes.listened([heard.id])
    studio.hearings.ask([heard.id], 7)
    studio.queue.claim("worker")
    studio.queue.took_heard(heard.id, '{"hits": [1.25, "♪"]}', 12.25, worker="worker")
    studio.hearings.ask([heard.id], 8)
    failed, _ = studio.takes.receive(a_new_take(ida_id, "b", source="upload"), b"no sound")
    studio.queue.took_failed(failed.id, "nothing sounds")
    studio.takes.receive(a_new_take(una_id, "c", stroke="tap", click="none"), WAV)


def everything(studio: Studio) -> dict[str, list[dict[str, Any]]]:
    """List all rows of all tables as they stand in the database."""
    with studio.data.database.reading() as connection:
        return {
            table.name: [
                dict(row) for row in connection.execute(select(table).order_by(table.c.id)).mappings()
            ]
            for table in metadata.sorted_tables
        }


def recordings_of(studio: Studio) -> dict[str, bytes]:
    """List all recordings by their key."""
    kept = studio.data.recordings
    return {key: kept.path(key).read_bytes() for key in kept.kept_keys()}


STAYS_BEHIND = ("sessions", "known_devices", "made")


def without_sessions(rows: dict[str, list[dict[str, Any]]]) -> dict[str, list[dict[str, Any]]]:
    """Leave out what an export leaves out."""
    return {name: those for name, those in rows.items() if name not in STAYS_BEHIND}
