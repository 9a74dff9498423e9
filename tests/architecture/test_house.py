"""The house stays as it is drawn: names, sizes, and sentences in their place."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

from tests.architecture.house import (
    HOUSE,
    House,
    length_of,
    lines_in,
    prefixes_shared,
    says_its_arrays,
    sentences_in,
)

FOLDERS = sorted({path.parent for path in HOUSE.modules.values()})
MOST_FILES = 20
FEWEST_LINES, MOST_LINES = 60, 400
# scripts/measure_house prints what there is; these only ever go down,
# but for the notes that a stage reads (stages/reading.py), the rudiments that a teacher signs off
# (studio/signed.py, web/views/rudiments.py), chapters in a track (media/chapters.py),
# and for watching films: the room, its decoding, its figures, words and pictures, and its scale for a player.
# Videos in the studio (acts/takes/seen.py reads them back, studio/work/films.py, a step of the database),
# and what a path may ask of them. How a pad looks from near, from above and cut off (watching/pad.py).
# Frames around a stroke and a film at half speed (acts/takes/strip.py, plots/strip.py, film/writing.py).
# Sheets to label strokes on (acts/takes/labels.py, take/label_sheet.py, measuring/labelled.py).
# Models and words both ways, a lesson together, drops on the stand, own weeks and a parent's view
# (web/views/between, web/views/own, studio/lesson.py); a whole studio's desk, a term's report, tables of
# all takes (studio/whole); the book as music, its search and imports; two-step login and the log of acts
# (store/acts.py); bundles and the installed page (web/assets.py); a server's figures and logs.
# All signs of the text (music/reading, engraving), scores and played MIDI of others (music/formats),
# the printed book (print/book_pages.py).
# Many: studios behind walls (store/school.py, studio/school.py), jobs on a Postgres (store/rows/jobs.py,
# work/loop.py), a store of objects (store/places), web processes (web/processes.py), versions and folders
# heard in batches (store/rows/versions.py, whole/again.py), the decoder's walls (media/confined.py).
MOST_LINES_IN_ALL, MOST_MODULES = 91_000, 512
HALF_OF_FUNCTIONS, MOST_FUNCTIONS = 6, 17  # lines, without documentation

SHARE_A_WORD = {
    "media": {"decoding"},  # decoding_child.py is run as a program of its own, beside what runs it
}
SHORT = {
    "evenhand.__main__": "python -m evenhand",
    "evenhand.studio.store.migrations.env": "Alembic asks for a file of this name",
    "evenhand.acts.exercises.print": "one act; it loads what sets pages, which no other act on books does",
    "evenhand.acts.takes.simulate": "one act; it loads the simulated player",
}
SHORT_ROOMS = ("evenhand.studio.store.migrations.versions.",)  # a step of the database is as long as it is
LONG: dict[str, str] = {}  # none
ROOMS_OF_SENTENCES = {"report", "web", "cli"}
# What holds sentences elsewhere, and why.
SENTENCES = {
    "evenhand.errors": "an error's sentence stands with the error",
    "evenhand.media.refusals": "the errors of recordings as a table: what was got, and what to do",
    "evenhand.media.midi": "what to do about a file that is refused",
    "evenhand.music.formats.midi.events": "the same",
    "evenhand.music.formats.musicxml.tree": "the same",
    "evenhand.acts.exercises.opened": "the same",
    "evenhand.acts.takes.tests": "what to do where nothing was heard",
    "evenhand.acts.takes.hear": "the same",
    "evenhand.acts.takes.watch": "the same",
    "evenhand.progress.stages.usual": "the common path's own text, which a teacher edits as TOML",
    "evenhand.studio.demo.people": "what a teacher would have typed of invented students",
    "evenhand.studio.safekeeping.backup": "the note that lies in the archive",
    "evenhand.studio.safekeeping.export": "the same",
    "evenhand.studio.safekeeping.check": "what a teacher reads of a student who was made for lost recordings",
    "evenhand.studio.store.queue": "why a take failed, as it is kept with the take",
}


@pytest.mark.parametrize("folder", FOLDERS, ids=lambda folder: folder.name)
def test_no_two_siblings_begin_with_the_same_word(folder: Path) -> None:
    """Two that share their first word are a folder that is not there yet, or one module in two."""
    assert prefixes_shared(folder).keys() - SHARE_A_WORD.get(folder.name, set()) == set()


@pytest.mark.parametrize("folder", FOLDERS, ids=lambda folder: folder.name)
def test_a_folder_is_seen_at_a_glance(folder: Path) -> None:
    assert len(list(folder.glob("*.py"))) <= MOST_FILES


def test_a_module_is_long_enough_to_be_one_and_short_enough_to_read() -> None:
    lengths = {name: lines_in(path) for name, path in HOUSE.modules.items() if path.stem != "__init__"}
    assert [name for name, lines in lengths.items() if lines > MOST_LINES and name not in LONG] == []
    short = [name for name, lines in lengths.items() if lines < FEWEST_LINES and name not in SHORT]
    assert [name for name in short if not name.startswith(SHORT_ROOMS)] == []


def test_a_folder_s_own_file_only_says_what_the_folder_is() -> None:
    inits = {name: tree for name, tree in HOUSE.trees.items() if HOUSE.modules[name].stem == "__init__"}
    assert [name for name, tree in inits.items() if len(tree.body) > 1 and name != "evenhand"] == []


def test_a_class_name_stands_once() -> None:
    assert HOUSE.class_names_twice() == {}


def test_sentences_stand_where_they_are_said() -> None:
    """A room that hears, measures or plans gives values; report/words says them."""
    found = {
        f"{module}:{line}: {said[:60]}"
        for module, tree in HOUSE.trees.items()
        if HOUSE.room(module) not in ROOMS_OF_SENTENCES and module not in SENTENCES
        for line, said in sentences_in(tree)
    }
    assert found == set()


def test_functions_stay_short() -> None:
    lengths = HOUSE.function_lengths()
    assert lengths[len(lengths) // 2] <= HALF_OF_FUNCTIONS
    assert lengths[len(lengths) * 9 // 10] <= MOST_FUNCTIONS


def test_the_house_does_not_grow_unseen() -> None:
    assert sum(lines_in(path) for path in HOUSE.modules.values()) <= MOST_LINES_IN_ALL
    assert len(HOUSE.modules) <= MOST_MODULES


def test_arrays_come_with_their_shapes() -> None:
    assert HOUSE.array_functions_undocumented() == []


def test_no_exception_is_made_for_what_is_gone_or_in_order() -> None:
    listed = {**SHORT, **LONG, **SENTENCES}
    assert listed.keys() - HOUSE.modules.keys() == set()
    assert [name for name in SHORT if lines_in(HOUSE.modules[name]) >= FEWEST_LINES] == []
    assert [name for name in LONG if lines_in(HOUSE.modules[name]) <= MOST_LINES] == []
    assert [name for name in SENTENCES if not sentences_in(HOUSE.trees[name])] == []


def test_what_breaks_a_rule_would_be_found(tmp_path: Path) -> None:
    package = tmp_path / "evenhand"
    package.mkdir()
    for name in ("plan_week.py", "plan_file.py"):
        (package / name).write_text("class Plan:\n    said = 'You played it well today.'\n", "utf-8")
    house = House(package)
    assert house.class_names_twice() == {"Plan": ["evenhand.plan_file", "evenhand.plan_week"]}
    assert prefixes_shared(package) == {"plan": ["plan_file", "plan_week"]}
    assert sentences_in(house.trees["evenhand.plan_file"]) == [(2, "You played it well today.")]
    raised = ast.parse("raise BadPlan('It must be a plan that was written.')\n'a plain string'")
    assert sentences_in(raised) == []
    documented = 'def f():\n    """Say it.\n\n    At length.\n    """\n    return 1\n'
    function = ast.parse(documented).body[0]
    assert isinstance(function, ast.FunctionDef)
    assert length_of(function) == 2
    assert says_its_arrays("Do.\n\nParameters\n----------\nx : shape (n,)", takes=True, gives=False)
    assert not says_its_arrays("Do.\n\nParameters\n----------\nx : shape (n,)", takes=True, gives=True)
