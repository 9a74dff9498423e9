"""``evenhand serve``: the studio in the browser; how it is reached, and what is said of it."""

from __future__ import annotations

import ipaddress
import os
import socket
import sys
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager, nullcontext
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

import typer

from evenhand.cli.options import DataOption
from evenhand.cli.studio.demo import DEMO_PASSWORD, being_filled, open_demo
from evenhand.cli.studio.settings import (
    AddressOption,
    CertificateOption,
    DatabaseOption,
    DemoOption,
    HostOption,
    JsonLogsOption,
    KeyOption,
    MetricsOption,
    ObjectsOption,
    PortOption,
    ProcessesOption,
    ProxiesOption,
    ProxyOption,
    SelfMadeOption,
    StudentRoomOption,
    StudioRoomOption,
    TracesOption,
    WorkersOption,
    checked_objects,
    postgres_address,
)
from evenhand.errors import WrongOptions

if TYPE_CHECKING:
    from evenhand.studio.store.data import Quota
    from evenhand.studio.store.layout import Backing
    from evenhand.studio.store.studio import Studio
    from evenhand.web.serving import Secured, Served, WebSettings


DEFAULT_PORT, DEFAULT_HOST = 8420, "127.0.0.1"
LEAST_TOKEN = 20
PASSWORD_VARIABLE, NAME = "EVENHAND_PASSWORD", "Studio"


def serve(
    data: DataOption = None,
    database: DatabaseOption = None,
    objects: ObjectsOption = None,
    port: PortOption = DEFAULT_PORT,
    host: HostOption = DEFAULT_HOST,
    demo: DemoOption = False,  # noqa: FBT002 - a switch
    certificate: CertificateOption = None,
    key: KeyOption = None,
    self_made_certificate: SelfMadeOption = False,  # noqa: FBT002 - a switch
    behind_proxy: ProxyOption = False,  # noqa: FBT002 - a switch
    proxy: ProxiesOption = None,
    address: AddressOption = None,
    processes: ProcessesOption = 1,
    workers: WorkersOption = 1,
    student_gb: StudentRoomOption = 10.0,
    studio_gb: StudioRoomOption = 100.0,
    json_logs: JsonLogsOption = False,  # noqa: FBT002 - a switch
    traces: TracesOption = False,  # noqa: FBT002 - a switch
    metrics_token: MetricsOption = "",
) -> None:
    """Open the studio in the browser.

    The teacher's desk and the students' stand, on this computer or for phones in its network. Makes a new,
    empty studio where there is none, and asks for its password. Ctrl-C ends it.
    """
    from evenhand.studio.store.data import GB, Quota
    from evenhand.studio.store.layout import Backing
    from evenhand.studio.traces import switch_on
    from evenhand.studio.work.children import held
    from evenhand.web.serving import Served, addresses, bind

    if 0 < len(metrics_token) < LEAST_TOKEN:
        got = f"a --metrics-token of {len(metrics_token)} characters"
        raise WrongOptions(got=got, must_be=f"{LEAST_TOKEN} or more, drawn by chance")
    if traces:
        switch_on()
    backing = Backing(postgres_address(database, demo=demo), objects=checked_objects(objects, demo=demo))
    _check_processes(processes, backing)
    _check(certificate, key, self_made=self_made_certificate, behind_proxy=behind_proxy)
    named, proxies = named_addresses(address), named_proxies(proxy, behind_proxy=behind_proxy, named=address)
    with _folder(data, demo=demo) as folder:
        bound = bind(host, port)
        try:
            studio, links = open_demo(folder) if demo else (_open(folder, backing), ())
            secured = _secured(folder, certificate, key, host, self_made=self_made_certificate)
            at = bound.getsockname()[1]
            reached = (*named, *addresses(host, at, secure=secured is not None))
            served = Served(host, at, reached, secured, proxies)
            with held():
                _say(studio, folder, served)
                _say_links(links, served)
                studio.close()
                quota = Quota(int(student_gb * GB), int(studio_gb * GB))
                settings = _settings(folder, served, workers, quota)
                settings = replace(
                    settings, backing=backing, json_logs=json_logs, metrics_token=metrics_token
                )
                with being_filled(folder) if demo else nullcontext():
                    _run(served, bound, settings, processes)
        finally:
            bound.close()


def _check_processes(processes: int, backing: Backing) -> None:
    """Refuse several processes where they would share no counts: each would let as many guesses through."""
    if processes > 1 and backing.url is None:
        got = f"--processes {processes} with a studio whose database is in its folder"
        raise WrongOptions(got=got, must_be="--database postgresql://..., too, or one process")


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


def _open(folder: Path, backing: Backing) -> Studio:
    """Open the studio, of a school its front; or make a new one."""
    from evenhand.errors import StudioMissing
    from evenhand.studio.school import School
    from evenhand.studio.store.studio import Studio

    try:
        with closing(School.open(folder, backing)) as school:
            studio = Studio.open(folder, backing=replace(backing, studio_id=school.front.id))
    except StudioMissing:
        where = "this database" if backing.url else str(folder)
        typer.echo(f"There is no studio in {where} yet: a new one is made.")
        studio = Studio.create(folder, name=NAME, password=new_password(), backing=backing)
    with studio.closed_by_an_error():
        studio.data.recordings.files.check()
    return studio


def new_password() -> str:
    """Ask for a new studio's password, twice; scripts give it by a variable."""
    from evenhand.studio.typed import LEAST_LETTERS

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
    from evenhand.studio.typed import MOST_LETTERS, wrong_with

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


def _settings(folder: Path, served: Served, workers: int, quota: Quota) -> WebSettings:
    from evenhand.web.serving import WebSettings

    return WebSettings(
        data=folder,
        origins=served.addresses,
        hosts=hosts_of(served),
        secure=served.secured is not None or bool(served.proxies),
        workers=workers,
        quota=quota,
    )


def _run(served: Served, bound: socket.socket, settings: WebSettings, processes: int) -> None:
    """Serve until Ctrl-C, which is how it is meant to end."""
    from contextlib import suppress

    sys.stdout.flush()
    with suppress(KeyboardInterrupt), _ended_in_order():
        if processes == 1:
            from evenhand.web.serving import serve as serve_studio

            serve_studio(settings, served, bound)
        else:
            from evenhand.web.processes import serve_together

            serve_together(settings, served, bound, processes)
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


FOR_PHONES = (
    "  For phones, too: evenhand serve --host 0.0.0.0 --self-made-certificate\n"
    "  That shows an address and a code for the phone's camera."
)
NO_MICROPHONE = (
    "  Careful: without HTTPS a browser gives no microphone to a page from another computer, and\n"
    "  whoever is on this network can read along. Students can still send recordings as files.\n"
    "  Better: end this, and begin again with --self-made-certificate added."
)
TRUST = (
    "  The certificate is made here, so a browser warns once on each device. Go on only if it shows\n"
    "  this SHA-256 fingerprint:\n  {first}\n  {second}"
)


def warning(served: Served) -> str:
    """Say what a phone needs, or what to beware of."""
    if served.proxies:
        return "  Behind a proxy: hand out its address, which must be HTTPS."
    if served.is_local and served.secured is None:
        return FOR_PHONES
    if served.secured is None:
        return NO_MICROPHONE
    from evenhand.web.serving import fingerprint

    said = fingerprint(served.secured.certificate)
    return TRUST.format(first=said[: len(said) // 2], second=said[len(said) // 2 + 1 :])


def code(address: str) -> str:
    """Draw an address as a QR code for the terminal, two rows to a line."""
    import io

    import segno

    out = io.StringIO()
    segno.make_qr(address, error="m").terminal(out, border=2, compact=True)
    return out.getvalue()


THIS_COMPUTER = ("127.0.0.1", "::1")


def named_addresses(given: Sequence[str] | None) -> tuple[str, ...]:
    """Read the addresses that were named, as a browser's ``Origin`` writes them.

    Raises
    ------
    WrongOptions
        One is no address.
    """
    return tuple(_origin(each) for each in given or ())


def _origin(given: str) -> str:
    must_be = "scheme and host, such as https://drums.example"
    try:
        parts = urlsplit(given.strip().rstrip("/"))
        port = parts.port
    except ValueError:
        raise WrongOptions(got=f"--address {given!r}", must_be=must_be) from None
    if parts.scheme not in {"http", "https"} or not parts.hostname or parts.path or parts.username:
        raise WrongOptions(got=f"--address {given!r}", must_be=must_be)
    usual = {"http": 80, "https": 443}[parts.scheme]
    host = f"[{parts.hostname}]" if ":" in parts.hostname else parts.hostname
    return f"{parts.scheme}://{host}" + ("" if port in {None, usual} else f":{port}")


def named_proxies(
    given: Sequence[str] | None, *, behind_proxy: bool, named: Sequence[str] | None
) -> tuple[str, ...]:
    """Return the proxies that are believed about who asks: this computer, unless another is named.

    Raises
    ------
    WrongOptions
        One is no address, or the studio's own address is not named.
    """
    if not behind_proxy:
        if given:
            raise WrongOptions(got="--proxy without --behind-proxy", must_be="both, or neither")
        return ()
    if not named:
        raise WrongOptions(
            got="--behind-proxy without --address",
            must_be="the address that people type, too: --address https://drums.example",
        )
    for each in given or ():
        try:
            ipaddress.ip_address(each)
        except ValueError:
            must_be = "the proxy's own IP address, such as 192.168.1.2"
            raise WrongOptions(got=f"--proxy {each!r}", must_be=must_be) from None
    return tuple(given or THIS_COMPUTER)


def hosts_of(served: Served) -> tuple[str, ...]:
    """List the names by which this studio may be called; whoever calls it otherwise is refused."""
    named = [urlsplit(address).hostname or "" for address in served.addresses]
    own = socket.gethostname().lower()
    mine = ["localhost", *THIS_COMPUTER, *([] if served.is_local else [own, f"{own}.local"])]
    return tuple(dict.fromkeys(name for name in (*named, *mine) if name))
