"""Words of the path and the settings, in ``views/settings.py``."""

from __future__ import annotations

WORDS: dict[str, str | tuple[str, str]] = {
    "settings.title": "Settings",
    "settings.studio": "The studio",
    "settings.name": "The studio's name",
    "settings.unit": "Heights in",
    "settings.unit_in": "inches",
    "settings.unit_cm": "centimetres",
    "settings.originals": "Keep the files that students send, beside the recording that is made of them",
    "settings.originals_words": "They take about ten times the space, and the hearing is no better.",
    "settings.save": "Save",
    "settings.saved": "Saved.",
    "settings.wrong_name": "The studio's name must be 1 to 80 characters.",
    "settings.wrong_unit": "Heights are in inches or centimetres.",
    "settings.password": "Password",
    "settings.password_old": "The current password",
    "settings.password_new": "The new one, 12 characters or more",
    "settings.password_again": "The new one again",
    "settings.password_change": "Change the password",
    "settings.password_words": "All browsers where you are logged in are logged out, this one too.",
    "settings.password_wrong": "That is not the current password. Nothing was changed.",
    "settings.password_short": "The new password must have 12 characters or more. Nothing was changed.",
    "settings.password_long": "The new password must have 200 characters at most. Nothing was changed.",
    "settings.password_common": (
        "That is one of the passwords that are tried first. Take some words of your own. Nothing was changed."
    ),
    "settings.password_busy": "Too many passwords are being checked. Try again in a minute.",
    "settings.password_differs": "The two new passwords differ. Nothing was changed.",
    "settings.export": "The whole studio",
    "settings.export_words": "One archive with every recording, what was heard, all students "
    "and weeks; evenhand import-studio makes a studio of it again. It holds everything of "
    "everybody: keep it where only you can read it.",
    "settings.export_button": "Download the studio",
    "settings.about": "About",
    "settings.about_words": "Evenhand {version}. Recordings stay on this computer; the pages "
    "load nothing from anywhere else.",
    "settings.openapi": "Description of the JSON (OpenAPI)",
    "path.title": "The path",
    "path.words": "The stages in their order, as they are commonly taught, and what must be "
    "heard to go on. It proposes; you decide.",
    "path.no_stroke": "the stick is only dropped",
    "path.tempo": "{beat} = {low:g} to {high:g}",
    "path.minutes": "{low:g} to {high:g} min a day",
    "path.minutes_one": "{low:g} min a day",
    "path.weeks": "usually {weeks}",
    "path.repetitions": "{low} to {high} repetitions in one go",
    "path.repetitions_one": "{low} repetitions in one go",
    "path.beside": "also {beside}",
    "path.beside_one": "{stroke} strokes {minutes:g} min",
    "path.conditions": "To go on:",
    "path.here": ("One student: {names}", "{n} students: {names}"),
    "path.own": "A path of your own can be used on the command line (evenhand path --path "
    "FILE); the studio goes by this one.",
}
