"""``evenhand serve``: the studio in the browser."""

from __future__ import annotations

import os
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, nullcontext
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from evenhand.cli.serve_demo import DEMO_PASSWORD, being_filled, open_demo
from evenhand.cli.serve_options import (
    AddressOption,
    CertificateOption,
    DataOption,
    DemoOption,
    HostOption,
    KeyOption,
    PortOption,
    ProxiesOption,
    ProxyOption,
    SelfMadeOption,
    StudentRoomOption,
    StudioRoomOption,
    WorkersOption,
)
from evenhand.errors import WrongOptions

if TYPE_CHECKING:  # these bring the database, which the help need not wait for
    from socket import socket

    from evenhand.storage.quota import Quota
    from evenhand.storage.studio import Studio
    from evenhand.web.serving import Secured, Served

DEFAULT_PORT, DEFAULT_HOST = 8420, "127.0.0.1"
PASSWORD_VARIABLE, NAME = "EVENHAND_PASSWORD", "Studio"


def serve(
    data: DataOption = None,
    port: PortOption = DEFAULT_PORT,
    host: HostOption = DEFAULT_HOST,
    demo: DemoOption = False,  # noqa: FBT002 - a switch
    certificate: CertificateOption = None,
    key: KeyOption = None,
    self_made_certificate: SelfMadeOption = False,  # noqa: FBT002 - a switch
    behind_proxy: ProxyOption = False,  # noqa: FBT002 - a switch
    proxy: ProxiesOption = None,
    address: AddressOption = None,
    workers: WorkersOption = 1,
    student_gb: StudentRoomOption = 10.0,
    studio_gb: StudioRoomOption = 100.0,
) -> None:
    """Open the studio in the browser.

    The teacher's desk and the students' stand, on this computer or for phones in its network. Makes a new,
    empty studio where there is none, and asks for its password. Ctrl-C ends it.
    """
    from evenhand.cli.serve_reached import named_addresses, named_proxies
    from evenhand.storage.quota import GB, Quota
    from evenhand.web.serving import Served, addresses, bind
    from evenhand.work.interrupts import held

    _check(certificate, key, self_made=self_made_certificate, behind_proxy=behind_proxy)
    named, proxies = named_addresses(address), named_proxies(proxy, behind_proxy=behind_proxy, named=address)
    with _folder(data, demo=demo) as folder:
        bound = bind(host, port)
        try:
            studio, links = open_demo(folder) if demo else (_open(folder), ())
            secured = _secured(folder, certificate, key, host, self_made=self_made_certificate)
            at = bound.getsockname()[1]
            reached = (*named, *addresses(host, at, secure=secured is not None))
            served = Served(host, at, reached, secured, proxies)
            with held():
                _say(studio, folder, served)
                _say_links(links, served)
                studio.close()
                quota = Quota(int(student_gb * GB), int(studio_gb * GB))
                with being_filled(folder) if demo else nullcontext():
                    _run(folder, served, bound, workers, quota)
        finally:
            bound.close()


def data_folder() -> Path:
    """Return where a user's studio lies if no folder is named, as the platform has it."""
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Application Support" / "Evenhand"
    given = os.environ.get("XDG_DATA_HOME", "")
    return (Path(given) if Path(given).is_absolute() else Path.home() / ".local" / "share") / "evenhand"


def _check(certificate: Path | None, key: Path | None, *, self_made: bool, behind_proxy: bool) -> None:
    """Refuse what does not go together."""
    if (certificate is None) != (key is None):
        got = "--certificate without --key" if key is None else "--key without --certificate"
        raise WrongOptions(got=got, must_be="both, or neither")
    asked = [certificate is not None, self_made, behind_proxy]
    if sum(asked) > 1:
        got = "more than one of --certificate, --self-made-certificate and --behind-proxy"
        raise WrongOptions(got=got, must_be="one of them at most")


@contextmanager
def _folder(data: Path | None, *, demo: bool) -> Iterator[Path]:
    """Give the studio's folder; a demonstration without one gets a folder that goes again."""
    if data is not None:
        yield data
    elif not demo:
        yield data_folder()
    else:
        with tempfile.TemporaryDirectory(prefix="evenhand-demo-", ignore_cleanup_errors=True) as folder:
            yield Path(folder) / "studio"


def _open(folder: Path) -> Studio:
    """Open the studio, or make a new one."""
    from evenhand.errors import StudioMissing
    from evenhand.storage.studio import Studio

    try:
        studio = Studio.open(folder)
    except StudioMissing:
        typer.echo(f"There is no studio in {folder} yet: a new one is made.")
        studio = Studio.create(folder, name=NAME, password=new_password())
    return studio


def new_password() -> str:
    """Ask for a new studio's password, twice; scripts give it by a variable."""
    from evenhand.application.password_rules import LEAST_LETTERS

    given = os.environ.get(PASSWORD_VARIABLE)
    if given is not None:
        wrong = _password_wrong(given)
        if wrong:
            must_be = f"{LEAST_LETTERS} characters or more, and none that is tried first"
            raise WrongOptions(got=f"{PASSWORD_VARIABLE} with {wrong}", must_be=must_be)
        return given
    if not sys.stdin.isatty():
        must_be = f"a terminal to ask for it, or the variable {PASSWORD_VARIABLE}"
        raise WrongOptions(got="no password for the new studio", must_be=must_be)
    while True:
        typed: str = typer.prompt(
            "A password for you, the teacher", hide_input=True, confirmation_prompt=True
        )
        wrong = _password_wrong(typed)
        if not wrong:
            return typed
        typer.echo(f"That has {wrong}; it must be {LEAST_LETTERS} characters or more, best some words.")


def _password_wrong(typed: str) -> str:
    """Say what a password has that it must not."""
    from evenhand.application.password_rules import MOST_LETTERS, wrong_with

    words = {
        "short": f"{len(typed)} characters",
        "long": f"more than {MOST_LETTERS} characters",
        "common": "what is tried first",
    }
    return words.get(wrong_with(typed), "")


def _secured(
    folder: Path, certificate: Path | None, key: Path | None, host: str, *, self_made: bool
) -> Secured | None:
    from evenhand.web.serving import Secured, check_certificate
    from evenhand.web.serving import self_made as made_here

    if certificate is not None and key is not None:
        return check_certificate(Secured(certificate, key))
    return made_here(folder, host) if self_made else None


def _say(studio: Studio, folder: Path, served: Served) -> None:
    """Say where the studio is, and what a phone needs."""
    from evenhand.cli.serve_words import code, warning

    facts = studio.facts
    typer.echo(f"\n{facts.name}{' (a demonstration: everybody in it is invented)' if facts.demo else ''}")
    for number, address in enumerate(served.addresses):
        typer.echo(f"  {'open' if number == 0 else 'or  '}  {address}")
    if facts.demo:
        typer.echo(f"  the teacher's password: {DEMO_PASSWORD}")
    typer.echo(f"  kept in {folder}")
    typer.echo(warning(served))
    if not served.is_local:
        typer.echo(code(served.addresses[0]))
    typer.echo("Ctrl-C ends it.\n")


def _say_links(links: tuple[tuple[str, str], ...], served: Served) -> None:
    """Say each invented student's private link."""
    if links:
        typer.echo("The students' links, for trying their side:")
    for name, secret in links:
        typer.echo(f"  {name:22} {served.addresses[0]}/s/{secret}")
    if links:
        typer.echo("")


def _run(folder: Path, served: Served, bound: socket, workers: int, quota: Quota) -> None:
    """Serve until Ctrl-C, which is how it is meant to end."""
    from contextlib import suppress

    from evenhand.cli.serve_reached import hosts_of
    from evenhand.web.serving import serve as serve_studio
    from evenhand.web.settings import WebSettings

    settings = WebSettings(
        data=folder,
        origins=served.addresses,
        hosts=hosts_of(served),
        secure=served.secured is not None or bool(served.proxies),
        workers=workers,
        quota=quota,
    )
    sys.stdout.flush()
    with suppress(KeyboardInterrupt), _ended_in_order():
        serve_studio(settings, served, bound)
    typer.echo("The studio is closed.")


@contextmanager
def _ended_in_order() -> Iterator[None]:
    """Let a termination signal end the studio as Ctrl-C does: all that is open is closed first."""
    import signal

    def end(_number: int, _frame: object) -> None:
        raise KeyboardInterrupt

    before = signal.signal(signal.SIGTERM, end)
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, before)
