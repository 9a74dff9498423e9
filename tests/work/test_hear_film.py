"""A video that comes in is heard and watched; what is kept is its sound and what was seen, not the video."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from evenhand.acts.takes.document import heard_take_of
from evenhand.acts.takes.seen import seen_take_of
from evenhand.measuring.seen import SeenTake
from evenhand.media.write import write_wav
from evenhand.report.words.remarks import doubts_of
from evenhand.studio.store.studio import Studio
from evenhand.studio.students import history_of
from evenhand.studio.takes.corrected import Correction, correct_take
from evenhand.studio.values import StudioTake
from evenhand.studio.work.pool import hear_waiting_once
from tests.films import HITS_S, a_film, sound_of, still, two_sticks
from tests.studios import a_new_take

SINGLES: dict[str, Any] = {"exercise": "1/8: RL", "tempo": "1/8=240"}
FACTS = {"tape": "R=blue,L=green", "pad_cm": "30"}


@pytest.fixture(scope="module")
def film(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return a_film(tmp_path_factory.mktemp("films") / "film.mp4")


def came(studio: Studio, film: Path, **more: Any) -> StudioTake:
    ida = studio.students.add("Ida Quill")
    new = a_new_take(ida.id, **{**SINGLES, "facts": FACTS, **more})
    return studio.takes.receive(new, film, original_name="tuesday.mp4")[0]


def found(studio: Studio, take: StudioTake) -> StudioTake:
    assert hear_waiting_once(studio) == 1
    return studio.takes.get(take.id)


def seen_of(take: StudioTake) -> SeenTake:
    assert take.heard is not None
    seen = seen_take_of(take.heard)
    assert seen is not None
    return seen


def kinds_kept(studio: Studio) -> list[str]:
    return sorted(Path(key).suffix for key in studio.data.recordings.kept_keys())


def test_it_is_heard_and_watched_and_only_its_sound_is_kept(studio: Studio, film: Path) -> None:
    take = found(studio, came(studio, film))
    assert (take.status, take.original, take.reason) == ("heard", None, None)
    assert kinds_kept(studio) == [".flac"]
    seen = seen_of(take)
    assert [stroke.hand for stroke in seen.watched.strokes] == ["R", "L"] * 6
    assert seen.hands["R"].height_mean_cm.value == pytest.approx(22.2, abs=1.2)
    assert seen.watched.sticks["L"].times_s.size > 200
    assert seen.heard == heard_take_of(take.heard or "")
    assert seen.heard.name == "tuesday.mp4"


def test_a_studio_that_keeps_videos_keeps_it_beside_its_sound(studio: Studio, film: Path) -> None:
    studio.change_facts(keep_videos=True)
    take = found(studio, came(studio, film))
    assert kinds_kept(studio) == [".flac", ".mp4"]
    assert (take.original or "").endswith(".mp4")
    assert studio.data.recordings.path(take.original or "").read_bytes() == film.read_bytes()
    studio.students.erase(take.student_id)
    assert kinds_kept(studio) == []


def test_files_that_are_kept_are_no_videos_unless_that_is_said(studio: Studio, film: Path) -> None:
    studio.change_facts(keep_originals=True)
    assert found(studio, came(studio, film)).original is None
    assert kinds_kept(studio) == [".flac"]


def test_what_was_seen_is_among_what_the_path_can_ask(studio: Studio, film: Path) -> None:
    take = found(studio, came(studio, film, stroke="half"))
    student = studio.students.get(take.student_id)
    (past,) = history_of([take], student, take.recorded_at).takes
    assert past.measures["seen.R.in_class_percent"].value == 100.0
    assert past.measures["seen.height_percent"].value == pytest.approx(0.0, abs=5.0)


def test_a_film_that_was_taken_beside_its_sound_is_laid_to_it(studio: Studio, tmp_path: Path) -> None:
    """The film begins 1.5 s after the recording: more than is looked for, were it not said."""
    ida = studio.students.add("Ida Quill")
    silent = a_film(tmp_path / "film.mp4", lambda time_s: two_sticks(time_s + 1.5), seconds=2.5, hits_s=())
    facts = {**FACTS, "film_starts_s": "1.5"}
    whole = sound_of(HITS_S, 4.0)
    write_wav(tmp_path / "take.wav", whole, 48_000)
    new = a_new_take(ida.id, **{**SINGLES, "facts": facts})
    take = found(studio, studio.takes.receive(new, tmp_path / "take.wav", film=silent)[0])
    assert (kinds_kept(studio), take.original) == ([".flac"], None)
    seen = seen_of(take)
    assert seen.watched.shift_ms == pytest.approx(0.0, abs=10.0)
    late = [stroke.hand for stroke in seen.watched.strokes if stroke.time_s > 1.8]
    assert late == [hand for hand, time_s in zip("RL" * 6, HITS_S, strict=True) if time_s > 1.8]


def test_heard_again_as_another_exercise_it_keeps_what_was_seen(studio: Studio, film: Path) -> None:
    take = found(studio, came(studio, film))
    studio.queue.hear_again(take.id, exercise="1/8: RRLL", tempo="1/8=240", click="auto")
    again = seen_of(found(studio, take))
    assert [stroke.hand for stroke in again.watched.strokes] == ["R", "L"] * 6
    assert [of.hit.hand for of in again.asked] == ["R", "R", "L", "L"] * 3
    assert "other_sticking" in {finding.kind for finding in again.heard.findings}


def test_a_hit_that_is_put_right_takes_its_stroke_along(studio: Studio, film: Path) -> None:
    take = found(studio, came(studio, film))
    first = heard_take_of(take.heard or "").heard.hits[-1]
    text = correct_take(take.heard or "", [Correction(first.time_s, "no hit")])
    seen = seen_take_of(text)
    assert seen is not None
    assert len(seen.watched.strokes) == len(HITS_S) - 1
    assert seen.hands["L"].height_mean_cm.n == 5


def test_without_tape_it_is_heard_and_says_why_it_was_not_watched(studio: Studio, tmp_path: Path) -> None:
    plain = a_film(tmp_path / "film.mp4", lambda _time_s: still(), fps=30.0)
    take = found(studio, came(studio, plain))
    assert take.status == "heard"
    assert kinds_kept(studio) == [".flac"]
    assert seen_take_of(take.heard or "") is None
    said = " ".join(doubts_of(heard_take_of(take.heard or "")))
    assert "its pictures were not watched: tuesday.mp4: no blue and no green tape moves in it" in said


def test_slow_motion_is_refused_since_its_sound_is_stretched(studio: Studio, tmp_path: Path) -> None:
    slow = a_film(tmp_path / "film.mp4", fps=30.0, tags={"com.android.capture.fps": "240"})
    take = found(studio, came(studio, slow))
    assert take.status == "failed"
    assert (take.reason or "").startswith("tuesday.mp4: slow motion")


def test_without_an_exercise_and_a_tape_it_is_heard_blind(studio: Studio, film: Path) -> None:
    take = found(studio, came(studio, film, exercise="", tempo="", facts={}))
    assert take.status == "heard"
    said = " ".join(doubts_of(heard_take_of(take.heard or "")))
    assert "must be the hands' colours, such as R=blue,L=green" in said
