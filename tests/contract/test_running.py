"""How a studio is run: settings, units and container files say what the code and the linters know."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
import typer
import yaml

from evenhand.cli.main import FROM_ENVIRONMENT, VARIABLES, command_line, run
from tests.architecture.house import ROOT, SOURCES

DEPLOY = ROOT / "deploy"
PREFIXES = {name: of["auto_envvar_prefix"] for name, of in FROM_ENVIRONMENT.items()}
COMMAND = "/usr/local/lib/evenhand/bin/evenhand"
BACKUP = "/usr/local/lib/evenhand/deploy/school-backup"


def variable_of(option: str, command: str = "serve") -> str:
    return f"{PREFIXES[command]}_{option.removeprefix('--').replace('-', '_').upper()}"


def options_of(name: str) -> Iterator[tuple[str, str]]:
    """Give each option of a command as the docs write it, and its row after that."""
    command = typer.main.get_command(command_line(name))
    for each in command.commands[name].params:  # type: ignore[attr-defined] # a group of commands
        option = each.opts[0]
        written = option if each.is_flag else f"{option} {each.metavar}"
        usual = (
            ""
            if each.is_flag or each.default is None
            else f"{each.default:g}"
            if isinstance(each.default, float)
            else str(each.default)
        )
        yield option, f"| `{written}` | `{variable_of(option, name)}` | {usual} | {each.help} |"


def test_the_docs_have_each_setting_and_no_other() -> None:
    """The options themselves are the table; the docs are held to it row by row."""
    text = (ROOT / "docs" / "running.md").read_text("utf-8")
    rows = [row for command in PREFIXES for _, row in options_of(command)]
    rows += [f"| `{name}` | {meaning} |" for name, meaning in VARIABLES.items()]
    assert len(rows) > 10
    assert [row for row in rows if row not in text] == []
    assert len(re.findall(r"^\| `(?:--|[A-Z])", text, re.MULTILINE)) == len(rows)


def test_no_variable_is_read_that_is_not_in_the_table() -> None:
    read = {name for path in SOURCES for name in re.findall(r"EVENHAND_[A-Z_]+\b", path.read_text("utf-8"))}
    known = {name for each in PREFIXES.values() for name in (each, f"{each}_")}
    assert read - VARIABLES.keys() - {"EVENHAND_SERVE_DATABASE"} <= known


def test_a_setting_of_the_environment_counts_as_its_option(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    monkeypatch.setenv(variable_of("--data"), str(tmp_path / "none"))
    monkeypatch.setenv(variable_of("--behind-proxy"), "1")
    assert run(["serve"]) == 2
    assert "--behind-proxy without --address" in capsys.readouterr().err
    monkeypatch.setenv(variable_of("--address"), "https://drums.example nonsense")
    assert run(["serve"]) == 2
    assert "--address 'nonsense'" in capsys.readouterr().err
    monkeypatch.setenv(variable_of("--workers"), "many")
    assert run(["serve"]) == 2
    assert "--workers" in capsys.readouterr().err
    assert not (tmp_path / "none").exists()


@pytest.mark.parametrize("path", sorted(DEPLOY.iterdir()), ids=lambda path: path.name)
def test_what_is_deployed_sets_only_what_there_is(path: Path) -> None:
    known = {
        *VARIABLES,
        *(variable_of(option, each) for each in PREFIXES for option, _ in options_of(each)),
    }
    assert set(re.findall(r"\b(?:EVENHAND|XDG)_[A-Z_]+\b", path.read_text("utf-8"))) - known == set()


def test_the_units_are_what_systemd_reads(tmp_path: Path) -> None:
    """By systemd's own ``systemd-analyze verify``; the command that the units start is stood in for."""
    if shutil.which("systemd-analyze") is None:
        pytest.skip("systemd-analyze is not installed")
    units = [path for path in DEPLOY.iterdir() if path.suffix in {".service", ".timer"}]
    assert len(units) >= 5
    for unit in units:
        (tmp_path / unit.name).write_text(
            unit.read_text("utf-8").replace(COMMAND, "/usr/bin/env").replace(BACKUP, "/usr/bin/env"), "utf-8"
        )
    checked = [str(tmp_path / unit.name) for unit in units]
    done = subprocess.run(
        ["systemd-analyze", "verify", *checked],  # noqa: S607 - whichever systemd is there
        capture_output=True,
        text=True,
        check=False,
    )
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")


def test_the_container_file_is_in_order() -> None:
    """By hadolint, with no rule left out."""
    hadolint = Path(sys.executable).with_name("hadolint")
    if not hadolint.exists():
        pytest.skip("hadolint is not installed")
    done = subprocess.run(
        [hadolint, "--no-color", DEPLOY / "Containerfile"], capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stdout) == (0, "")


def test_the_compose_file_holds_together() -> None:
    """The proxy that is believed is the proxy that is there; the recordings lie in a volume that is named."""
    compose = yaml.safe_load((DEPLOY / "compose.yaml").read_text("utf-8"))
    studio, proxy = (compose["services"][name] for name in ("studio", "proxy"))
    believed = studio["environment"][variable_of("--proxy")]
    assert believed == proxy["networks"]["inside"]["ipv4_address"]
    assert (DEPLOY / studio["build"]["context"]).resolve() == ROOT
    assert (ROOT / studio["build"]["dockerfile"]).is_file()
    volumes = [volume.partition(":")[0] for each in (studio, proxy) for volume in each["volumes"]]
    assert sorted(volumes) == sorted(compose["volumes"])
    assert "ports" not in studio  # only the proxy is reached from outside


def test_the_schools_compose_file_holds_together() -> None:
    """Workers and web processes reach the same database and store; only the proxy is reached from outside."""
    compose = yaml.safe_load((DEPLOY / "school.yaml").read_text("utf-8"))
    services = compose["services"]
    serve, work, proxy = (services[name] for name in ("serve", "work", "proxy"))
    for name in ("DATABASE", "OBJECTS"):
        assert serve["environment"][f"EVENHAND_SERVE_{name}"] == work["environment"][f"EVENHAND_WORK_{name}"]
    assert serve["environment"][variable_of("--proxy")] == proxy["networks"]["inside"]["ipv4_address"]
    assert [name for name, each in services.items() if "ports" in each] == ["proxy"]
    built = (ROOT / serve["build"]["dockerfile"]).read_text("utf-8")
    assert "ARG PINS=constraints.txt" in built
    assert (ROOT / serve["build"]["args"]["PINS"]).is_file()
    mounted = [volume.partition(":")[0] for each in services.values() for volume in each.get("volumes", ())]
    assert sorted(each for each in mounted if not each.startswith("./")) == sorted(compose["volumes"])
    assert all((DEPLOY / each).is_file() for each in mounted if each.startswith("./"))


def test_what_a_school_needs_is_pinned() -> None:
    pinned = (ROOT / "constraints-school.txt").read_text("utf-8")
    assert all(
        f"\n{name}==" in pinned for name in ("procrastinate", "psycopg", "botocore", "opentelemetry-sdk")
    )
