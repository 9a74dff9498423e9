"""Everything that is claimed is checked."""

from __future__ import annotations

import json
import re
import tomllib
from importlib.metadata import version
from pathlib import Path

import pytest

import evenhand
from evenhand import errors
from evenhand.acts.takes.document import as_json
from evenhand.cli.exercises.lists import exercises
from evenhand.cli.main import COMMANDS
from evenhand.errors import EvenhandError
from evenhand.media import refusals
from evenhand.synthesis.faults import FAULTS
from tests.architecture.house import DOCS, ROOT, named
from tests.builders import a_heard_take

PAGES = [*DOCS, ROOT / "README.md", ROOT / "CONTRIBUTING.md", ROOT / "CHANGELOG.md"]


def page(name: str) -> str:
    return (ROOT / name).read_text("utf-8")


def leaves(kind: type[EvenhandError] = EvenhandError) -> list[type[EvenhandError]]:
    below = kind.__subclasses__()
    return [leaf for each in below for leaf in leaves(each)] if below else [kind]


def test_every_error_has_its_section_and_its_place_in_the_tree() -> None:
    messages = page("docs/messages.md")
    for leaf in leaves():
        assert f"\n### {leaf.__name__}\n" in messages
        assert re.search(rf"── {leaf.__name__} ", errors.__doc__ or ""), leaf.__name__


def test_no_section_is_about_an_error_that_is_gone() -> None:
    sections = re.findall(r"^### (\w+)$", page("docs/messages.md"), re.MULTILINE)
    assert set(sections) == {leaf.__name__ for leaf in leaves()}


def test_every_refusal_of_a_recording_is_documented() -> None:
    text = page("docs/messages.md")
    assert [got for got, do in refusals._SAID.values() if f"| {got} | {do} |" not in text] == []  # noqa: SLF001 - the table itself


def test_the_newest_changes_are_of_this_version() -> None:
    newest = re.search(r"^## (\S+)", page("CHANGELOG.md"), re.MULTILINE)
    assert newest is not None
    assert newest[1] == evenhand.__version__ == version("evenhand")


def test_every_key_of_the_json_is_documented() -> None:
    written, text = as_json(a_heard_take()), page("docs/json.md")
    keys = {*written, *written["hits"][0], *written["input"], *written["hands"]["R"], *written["findings"][0]}
    assert [key for key in sorted(keys) if f"`{key}" not in text] == []


def test_every_command_is_in_the_readme() -> None:
    readme = page("README.md")
    names = [name for name in COMMANDS if name not in {"exercises", "heights"}]
    names += [f"exercises {command.name}" for command in exercises.registered_commands]
    assert [name for name in names if f"evenhand {name}" not in readme and f"make {name}" not in readme] == []


def test_every_fault_of_the_invented_player_is_documented() -> None:
    text = page("docs/simulated-player.md")
    for name, fault in FAULTS.items():
        assert f"| `{name}={fault.usual}` | {fault.meaning} | {fault.form} |" in text


def test_every_dependency_is_accounted_for() -> None:
    project = tomllib.loads(page("pyproject.toml"))["project"]
    extras = project["optional-dependencies"]
    wanted = [
        *project["dependencies"],
        *extras["test"],
        *extras["bench"],
        *extras["dev"],
        *extras["security"],
    ]
    names = {re.split(r"[\[<>=]", each)[0] for each in wanted} - {"evenhand"}
    text = page("docs/dependencies.md")
    assert [name for name in sorted(names) if name not in text] == []


def test_the_readme_shows_a_take_the_day_and_the_stand_near_its_top_small_in_bytes() -> None:
    top = page("README.md").partition("## Two commands")[0]
    shown = re.findall(r"!\[[^]]+\]\(([^)]+)\)", top)
    assert sorted(shown) == [f"docs/pictures/page-{name}.png" for name in ("day", "stand", "take")]
    assert [place for place in shown if (ROOT / place).stat().st_size >= 100_000] == []


@pytest.mark.parametrize("path", PAGES, ids=named)
def test_links_between_pages_lead_somewhere(path: Path) -> None:
    for target in re.findall(r"\]\(([^)#]+)[^)]*\)", path.read_text("utf-8")):
        assert "://" in target or (path.parent / target).exists(), target


def test_every_folder_that_the_guides_name_is_there() -> None:
    named_folders = set(
        re.findall(r"(?<![\w/.-])((?:src|tests|docs|benchmarks|scripts)/[\w/-]*)", page("CONTRIBUTING.md"))
    )
    assert {"tests/unit/", "tests/reference/"} <= named_folders
    assert (
        sorted(
            each for each in named_folders if not (ROOT / each).exists() and not list(ROOT.glob(f"{each}*"))
        )
        == []
    )


@pytest.mark.parametrize("path", PAGES, ids=named)
def test_the_json_in_the_pages_is_json(path: Path) -> None:
    for block in re.findall(r"```json\n(.*?)```", path.read_text("utf-8"), re.DOTALL):
        for line in block.strip().splitlines():
            json.loads(line)


def test_every_python_file_that_a_page_names_is_there() -> None:
    files = {
        path.name
        for folder in ("src", "tests", "scripts", "benchmarks", "proof")
        for path in (ROOT / folder).rglob("*.py")
    }
    said = {
        f"{named(path)}: {name}"
        for path in PAGES
        for name in re.findall(r"(?<![\w*])(\w+\.py)\b", path.read_text("utf-8"))
        if name not in files
    }
    assert said == set()
