"""Words of the entrance, of errors, and of what every page has."""

from __future__ import annotations

from evenhand.report.words.figures import PAIN, TEACHER_CAUTION

WORDS: dict[str, str | tuple[str, str]] = {
    "site.skip": "To the content",
    "site.today": "Today",
    "site.students": "Students",
    "site.book": "Book",
    "site.path": "Path",
    "site.settings": "Settings",
    "site.logout": "Log out",
    "site.demo": "Invented people and figures: a demonstration.",
    "site.filling_begins": "This demonstration is being filled: the students begin to play.",
    "site.filling": "This demonstration is being filled: {done} of {of} takes are played and heard. "
    "More comes within a minute.",
    "site.private": "Recordings stay on this computer.",
    "site.caution": f"{PAIN} Tell your teacher, too. Loud sound harms hearing: keep the click low.",
    "site.caution_teacher": TEACHER_CAUTION,
    "doors.title": "Log in",
    "doors.password": "Password",
    "doors.enter": "Log in",
    "doors.wrong": "That is not the password. Try again.",
    "doors.often": "Too many tries in a short time. Wait a few minutes, then try again.",
    "doors.busy": "Too many passwords are being checked at this moment. Try again in a minute.",
    "doors.gone": "This link is not valid any more",
    "doors.gone_words": "It has expired or was withdrawn. Ask your teacher for a new one.",
    "error.title": "That did not work",
    "error.back": "Back",
    "doors.disk_full": (
        "The studio's disk is full, so nothing new can be kept. What was there before is safe. "
        "A recording stays on the device that made it, and is sent when there is room."
    ),
    "doors.read_only": (
        "The studio's folder cannot be written to, so nothing new can be kept. "
        "What was there before is safe. "
        "A recording stays on the device that made it, and is sent when it can be kept."
    ),
    "doors.damaged": (
        "The studio's database is damaged. The recordings are files of their own and untouched. "
        "Close the studio; evenhand check says what to do."
    ),
}
