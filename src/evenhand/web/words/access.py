"""Words of the page that shows who is in and what was done."""

from __future__ import annotations

WORDS: dict[str, str | tuple[str, str]] = {
    "access.title": "Who is logged in",
    "access.settings_words": "Every browser that is logged in, and a log of what was done.",
    "access.settings_button": "Who is logged in",
    "access.in": "Logged in now",
    "access.in_words": (
        "If you do not know one of these, log it out. If it is a teacher's, change your password too."
    ),
    "access.who": "Who",
    "access.browser": "Browser",
    "access.began": "Since",
    "access.seen": "Last seen",
    "access.end": "Log out",
    "access.end_one": "Log out: {who}, since {began}",
    "access.mine": "this browser",
    "access.teacher": "Teacher",
    "access.browser_unknown": "not known",
    "access.unknown": "not known",
    "access.ended": "That browser is logged out.",
    "access.log": "What was done",
    "access.log_words": ("The newest 200 entries of 5,000 at most. Nothing of a recording is in this log."),
    "access.log_empty": "Nothing yet.",
    "access.when": "When",
    "access.what": "What",
    "access.whom": "Student",
    "access.address": "From",
    "act.login": "The teacher logged in",
    "act.login_refused": "A wrong password",
    "act.logout": "The teacher logged out",
    "act.password_changed": "The password was changed",
    "act.session_ended": "A browser was logged out",
    "act.link_made": "A private link was made",
    "act.link_opened": "A private link was opened",
    "act.link_revoked": "A private link was withdrawn",
    "act.student_exported": "A student's data were downloaded",
    "act.studio_exported": "The whole studio was downloaded",
    "act.student_erased": "A student was erased",
}
