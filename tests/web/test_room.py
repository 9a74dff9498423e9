"""A student's share of the disk, as the page meets it."""

from __future__ import annotations

from pathlib import Path

from evenhand.studio.store.data import Quota
from tests.web.stands import a_recording, a_stand


def test_a_recording_without_room_is_refused_for_good_and_in_words(tmp_path: Path) -> None:
    """413 and not 5xx: the page would send it again and again."""
    with a_stand(tmp_path) as stand:
        stand.studio.data.quota = Quota(student_bytes=10, studio_bytes=10)
        answer = stand.send(a_recording(1))
        assert answer.status_code == 413
        assert "Tell your teacher" in answer.json()["error"]
        assert stand.studio.takes.all(stand.student.id) == []
