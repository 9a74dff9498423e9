"""What ``evenhand serve`` and ``evenhand work`` can be told: each an option, and a variable.

A variable is ``EVENHAND_SERVE_`` or ``EVENHAND_WORK_`` and the option's name.
"""

from __future__ import annotations

from contextlib import closing
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from evenhand.errors import WrongOptions

if TYPE_CHECKING:
    from evenhand.studio.store.layout import Backing

DatabaseOption = Annotated[
    str | None,
    typer.Option(
        "--database", metavar="URL", help="A Postgres in place of the folder's own database: postgresql://..."
    ),
]
ObjectsOption = Annotated[
    str | None,
    typer.Option(
        "--objects",
        metavar="ADDRESS",
        help="Recordings in a store that speaks S3: s3://BUCKET/PREFIX?endpoint=https://...",
    ),
]
StudioOption = Annotated[
    str | None,
    typer.Option(
        "--studio", metavar="LOGIN", help="Which studio of a school's database: its teacher's login name."
    ),
]
PortOption = Annotated[
    int, typer.Option("--port", metavar="N", min=0, max=65535, help="The port; 0 for any that is free.")
]
HostOption = Annotated[
    str,
    typer.Option(
        "--host", metavar="H", help="127.0.0.1 for this computer alone, 0.0.0.0 for its network too."
    ),
]
DemoOption = Annotated[
    bool, typer.Option("--demo", help="A demonstration: invented people, six weeks of takes.")
]
CertificateOption = Annotated[
    Path | None,
    typer.Option(
        "--certificate",
        metavar="FILE",
        exists=True,
        dir_okay=False,
        help="HTTPS with this certificate (PEM).",
    ),
]
KeyOption = Annotated[
    Path | None,
    typer.Option("--key", metavar="FILE", exists=True, dir_okay=False, help="The certificate's key (PEM)."),
]
SelfMadeOption = Annotated[
    bool,
    typer.Option("--self-made-certificate", help="HTTPS with a certificate made here, for your own network."),
]
ProxyOption = Annotated[
    bool,
    typer.Option(
        "--behind-proxy",
        help="A proxy in front has the certificate and says who asks; needs --address.",
    ),
]
ProxiesOption = Annotated[
    list[str] | None,
    typer.Option("--proxy", metavar="IP", help="The proxy's own address, if it is not this computer."),
]
AddressOption = Annotated[
    list[str] | None,
    typer.Option(
        "--address",
        metavar="URL",
        help="A further address of the studio, such as https://drums.example.",
    ),
]
StudentRoomOption = Annotated[
    float, typer.Option("--student-gb", metavar="GB", min=0.1, help="The most recordings of one student.")
]
StudioRoomOption = Annotated[
    float, typer.Option("--studio-gb", metavar="GB", min=0.1, help="The most recordings of all students.")
]
ProcessesOption = Annotated[
    int,
    typer.Option(
        "--processes",
        metavar="N",
        min=1,
        max=64,
        help="Processes that serve pages; more than one needs --database.",
    ),
]
WorkersOption = Annotated[
    int,
    typer.Option("--workers", metavar="N", min=0, max=64, help="Processes that hear takes; 0 hears none."),
]
SharedFolderOption = Annotated[
    Path | None,
    typer.Option(
        "--data", metavar="DIR", help="The studio's folder, if recordings lie in it; this machine shares it."
    ),
]
HearersOption = Annotated[
    int, typer.Option("--processes", metavar="N", min=1, max=64, help="Processes that hear takes.")
]
GraceOption = Annotated[
    float,
    typer.Option(
        "--grace",
        metavar="S",
        min=0,
        max=1800,
        help="Seconds left to the takes in hand when it is ended; then others hear them.",
    ),
]
MetricsOption = Annotated[
    str,
    typer.Option(
        "--metrics-token",
        metavar="TOKEN",
        help="Give figures at /metrics to whoever has this token, 20 characters or more.",
    ),
]
JsonLogsOption = Annotated[
    bool,
    typer.Option(
        "--json-logs", help="Log each request and warning on stderr as a line of JSON, without names."
    ),
]
TracesOption = Annotated[
    bool,
    typer.Option(
        "--traces", help="Send spans of requests and hearings by OpenTelemetry; OTEL_... variables say where."
    ),
]


def postgres_address(url: str | None, *, demo: bool = False) -> str | None:
    """Refuse what is no address of a Postgres, or has no use for one."""
    if url is None:
        return None
    if demo:
        raise WrongOptions(got="--demo with --database", must_be="a demonstration in a folder of its own")
    if not url.startswith(("postgres://", "postgresql://", "postgresql+psycopg://")):
        raise WrongOptions(got="--database with another address", must_be="one that begins postgresql://")
    return url


def backing_of(folder: Path, database: str | None, objects: str | None, studio: str | None) -> Backing:
    """Say what a studio is kept in beside its folder.

    Raises
    ------
    WrongOptions
        An address is none, or nobody there logs in so.
    """
    from evenhand.studio.store.layout import Backing

    backing = Backing(postgres_address(database), objects=checked_objects(objects))
    if studio is None:
        return backing
    if backing.url is None:
        raise WrongOptions(got="--studio without --database", must_be="both: only a school has several")
    from evenhand.studio.school import School

    with closing(School(folder, backing)) as school:
        of_login = {each.login: each.id for each in school.teachers()}
    if studio not in of_login:
        known = ", ".join(sorted(login for login in of_login if login)) or "nobody, yet"
        raise WrongOptions(got=f"--studio {studio}", must_be=f"who logs in there: {known}")
    return replace(backing, studio_id=of_login[studio])


def checked_objects(address: str | None, *, demo: bool = False) -> str | None:
    """Refuse a store of objects where there is no use for one, or no package that asks it."""
    if address is not None:
        from evenhand.studio.store.places.address import ObjectsAddress, check_installed

        if demo:
            raise WrongOptions(got="--demo with --objects", must_be="a demonstration in a folder of its own")
        ObjectsAddress.read(address)
        check_installed()
    return address
