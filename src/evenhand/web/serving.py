"""Serve a studio: the address, the port, a certificate, and the server itself.

Conventions: an address is written with scheme, host and port, as a browser shows it. A certificate
made here is for the studio's own network; it lies with the studio, so that a phone trusts it once.

How a studio is served.
"""

from __future__ import annotations

import hashlib
import ipaddress
import os
import shutil
import socket
import ssl
import subprocess
from dataclasses import dataclass, field
from datetime import timedelta
from pathlib import Path
from typing import TYPE_CHECKING, cast

from evenhand.errors import WrongOptions
from evenhand.studio.store.data import Quota
from evenhand.studio.store.layout import FOLDER_ALONE, Backing

if TYPE_CHECKING:
    from collections.abc import MutableSequence

    from starlette.applications import Starlette

    from evenhand.studio.work.children import Hearing
    from evenhand.web.wire import Guests, StudioConfig


TEACHER_STAYS = timedelta(days=14)
STUDENT_STAYS = timedelta(days=180)
LINK_LASTS = timedelta(days=180)
DEVICE_KNOWN = timedelta(days=400)  # as long as browsers keep a cookie


@dataclass(frozen=True, slots=True)
class WebSettings:
    """Where the studio lies and how it is reached.

    ``origins`` are the addresses that a page of ours may come from (scheme, host, port);
    ``secure`` says that it is reached by HTTPS, so that cookies go no other way; ``workers``
    are the processes that hear. ``hosts`` are the names by which the studio may be called, beside the address
    that a connection came to; none: whatever it is called. ``json_logs`` writes a line for each request;
    ``metrics_token`` opens ``/metrics``, which is not there without one.
    """

    data: Path
    backing: Backing = FOLDER_ALONE
    origins: tuple[str, ...] = ()
    secure: bool = False
    workers: int = 1
    hosts: tuple[str, ...] = ()
    quota: Quota = field(default_factory=Quota)
    json_logs: bool = False
    metrics_token: str = ""

    @property
    def store(self) -> str:
        """Where browsers reach the store of recordings; "" where all goes through this server."""
        if self.backing.objects is None:
            return ""
        from evenhand.studio.store.places.address import ObjectsAddress

        return ObjectsAddress.read(self.backing.objects).reached


@dataclass(frozen=True, slots=True)
class Alongside:
    """What one process of a server has of the others: its number among ``of``, their counts, their workers.

    ``requests`` is as ``observed.Requests`` counts; None where there is no other.
    """

    number: int = 0
    of: int = 1
    requests: MutableSequence[float] | None = None
    hearing: Hearing | None = None


FOLDER, CERTIFICATE, KEY, NAMES = "certificate", "studio.crt", "studio.key", "names"
WAITING = 512  # connections that may wait to be taken up
DAYS = 825  # the longest that phones take from a certificate of one's own
NEARLY_OVER_S = 14 * 86_400
LARGEST_SOCKET_MESSAGE = 1 << 18
MOST_FROM_ONE = 400  # connections from one address: a school of 50, six for each browser and a socket
_ELSEWHERE = ("10.254.254.254", 9)  # to learn by which address we would leave; nothing is sent there


@dataclass(frozen=True, slots=True)
class Secured:
    """A certificate and its key, as files."""

    certificate: Path
    key: Path


@dataclass(frozen=True, slots=True)
class Served:
    """How a studio is reached: what is bound, and the addresses to type, the nearest first."""

    host: str
    port: int
    addresses: tuple[str, ...]
    secured: Secured | None = None
    proxies: tuple[str, ...] = ()  # who may say for whom it asks

    @property
    def is_local(self) -> bool:
        """Tell whether only this computer reaches it."""
        return is_loopback(self.host)


def is_loopback(host: str) -> bool:
    """Tell whether a host is this computer and nothing else.

    >>> is_loopback("localhost"), is_loopback("127.0.0.1"), is_loopback("0.0.0.0")
    (True, True, False)
    """
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def own_address() -> str | None:
    """Return this computer's address on its network, None where there is none."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking:
        try:
            asking.connect(_ELSEWHERE)
            found = str(asking.getsockname()[0])
        except OSError:
            return None
    return None if is_loopback(found) else found


def addresses(host: str, port: int, *, secure: bool) -> tuple[str, ...]:
    """Write the addresses under which a host is reached.

    >>> addresses("127.0.0.1", 8420, secure=False)
    ('http://127.0.0.1:8420',)
    """
    scheme = "https" if secure else "http"
    hosts = [host]
    if host in {"0.0.0.0", "::"}:  # noqa: S104 - asked for by the teacher
        own = own_address()
        hosts = [*([own] if own else []), "127.0.0.1"]
    return tuple(f"{scheme}://{f'[{each}]' if ':' in each else each}:{port}" for each in hosts)


def bind(host: str, port: int) -> socket.socket:
    """Take the port, so that one that is taken is known before anything else is done.

    Raises
    ------
    WrongOptions
        The port is another's, or the host is not this computer's.
    """
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    bound = socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP)  # so that asyncio sends at once
    if os.name == "posix":
        bound.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        bound.bind((host, port))
        bound.listen(WAITING)  # from now on a browser waits rather than being turned away
    except OSError as error:
        bound.close()
        raise _cannot_bind(host, port, error) from error
    bound.set_inheritable(False)
    return bound


def _cannot_bind(host: str, port: int, error: OSError) -> WrongOptions:
    import errno

    if error.errno == errno.EADDRINUSE:
        got = f"port {port}, which another program (or another studio) uses"
        return WrongOptions(
            got=got, must_be=f"a free port, such as --port {port + 1 if port < 65535 else port - 1}"
        )
    if error.errno == errno.EACCES:
        return WrongOptions(got=f"port {port}, which is not for everybody", must_be="one from 1024 up")
    return WrongOptions(
        got=f"the host {host!r} ({error.strerror or error})",
        must_be="an address of this computer: 127.0.0.1 for itself alone, 0.0.0.0 for its network too",
    )


def check_certificate(secured: Secured) -> Secured:
    """Refuse a certificate that the server could not use.

    Raises
    ------
    WrongOptions
        A file is not there, is no certificate or key, or the two do not belong together.
    """
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    must_be = "a certificate and its key as PEM files, the key without a passphrase"
    try:
        context.load_cert_chain(secured.certificate, secured.key, password=lambda: "")
    except (OSError, ValueError) as error:  # an SSL error is an OSError
        got = (
            f"{secured.certificate.name} with {secured.key.name} ({getattr(error, 'reason', None) or error})"
        )
        raise WrongOptions(got=got, must_be=must_be) from error
    return secured


def self_made(data: Path, host: str) -> Secured:
    """Return the studio's own certificate; make one where there is none, or it is another network's.

    Raises
    ------
    WrongOptions
        There is no OpenSSL on this computer to make one with.
    """
    folder = data / FOLDER
    secured = Secured(folder / CERTIFICATE, folder / KEY)
    names = _names(host)
    if _still_holds(secured, folder / NAMES, names):
        return secured
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    _make(secured, names)
    (folder / NAMES).write_text("\n".join(names), encoding="utf-8")
    return check_certificate(secured)


def fingerprint(certificate: Path) -> str:
    """Return a certificate's SHA-256 fingerprint, as browsers show it."""
    der = ssl.PEM_cert_to_DER_cert(certificate.read_text(encoding="ascii"))
    digest = hashlib.sha256(der).hexdigest().upper()
    return ":".join(digest[i : i + 2] for i in range(0, len(digest), 2))


def _names(host: str) -> tuple[str, ...]:
    """Name what a certificate is for: this computer, and its address on the network."""
    own = own_address() if host in {"0.0.0.0", "::"} else None  # noqa: S104 - compared, not bound
    wanted = ["localhost", "127.0.0.1", *([own] if own else [])]
    if host not in {"0.0.0.0", "::"}:  # noqa: S104 - compared, not bound
        wanted.append(host)
    return tuple(dict.fromkeys(wanted))


def _still_holds(secured: Secured, kept_names: Path, names: tuple[str, ...]) -> bool:
    """Tell whether the certificate that is there is for these names, and not nearly over."""
    if not (secured.certificate.is_file() and secured.key.is_file() and kept_names.is_file()):
        return False
    if not set(names) <= set(kept_names.read_text(encoding="utf-8").split("\n")):
        return False
    command = ["x509", "-checkend", str(NEARLY_OVER_S), "-noout", "-in", str(secured.certificate)]
    return _openssl(*command).returncode == 0


def _make(secured: Secured, names: tuple[str, ...]) -> None:
    """Make a key and sign it by itself; the settings go by a file, which older OpenSSLs need."""
    settings = secured.certificate.with_suffix(".cnf")
    settings.write_text(_settings(names), encoding="utf-8")
    try:
        done = _openssl(
            *("req", "-x509", "-newkey", "rsa:3072", "-sha256", "-nodes", "-days", str(DAYS)),
            *("-config", str(settings), "-extensions", "studio"),
            *("-keyout", str(secured.key), "-out", str(secured.certificate)),
        )
    finally:
        settings.unlink(missing_ok=True)
    if done.returncode:
        got = f"an OpenSSL that made none ({done.stderr.decode(errors='replace').strip().splitlines()[-1:]})"
        raise WrongOptions(got=got, must_be="a certificate from elsewhere: --certificate F --key F")
    secured.key.chmod(0o600)


def _settings(names: tuple[str, ...]) -> str:
    kinds = [f"{'IP' if _is_number(name) else 'DNS'}:{name}" for name in names]
    return (
        "[req]\nprompt = no\ndistinguished_name = who\n[who]\nCN = Evenhand studio\n[studio]\n"
        f"subjectAltName = {', '.join(kinds)}\nbasicConstraints = critical, CA:TRUE, pathlen:0\n"
        "keyUsage = critical, digitalSignature, keyEncipherment, keyCertSign\n"
        "extendedKeyUsage = serverAuth\nsubjectKeyIdentifier = hash\n"
    )


def _is_number(name: str) -> bool:
    try:
        ipaddress.ip_address(name)
    except ValueError:
        return False
    return True


def _openssl(*arguments: str) -> subprocess.CompletedProcess[bytes]:
    program = shutil.which("openssl")
    if program is None:
        got = "--self-made-certificate on a computer without OpenSSL"
        raise WrongOptions(got=got, must_be="a computer that has it, or --certificate F --key F")
    return subprocess.run([program, *arguments], capture_output=True, check=False)  # noqa: S603 - no shell, our words


def serve(
    settings: WebSettings, served: Served, bound: socket.socket, alongside: Alongside | None = None
) -> None:
    """Serve until the server is told to stop (Ctrl-C or a termination signal)."""
    import uvicorn

    from evenhand.web.observed import log_as_json
    from evenhand.web.wire import Entrance, Guests, keep_logs_sparse, room_of_this_system

    room = room_of_this_system()
    guests = Guests(room, room if served.proxies else min(MOST_FROM_ONE, room // 2))
    config = _config(settings, served, guests, alongside)
    keep_logs_sparse()
    if settings.json_logs:
        log_as_json()
    with Entrance.of(bound, guests) as entrance:
        news = cast("Starlette", config.app).state.news
        entrance.ended = None if news is None else news.end
        uvicorn.Server(config).run(sockets=[entrance])


def _config(
    settings: WebSettings, served: Served, guests: Guests, alongside: Alongside | None = None
) -> StudioConfig:
    """Say how the server is to be."""
    from evenhand.web.app import create_app
    from evenhand.web.wire import SocketWire, StudioConfig, Wire

    config = StudioConfig(
        create_app(settings, alongside=alongside),
        http=Wire,
        ws=SocketWire,
        ws_max_size=LARGEST_SOCKET_MESSAGE,
        ws_per_message_deflate=False,  # a small frame never becomes a large one
        log_level="warning",
        access_log=False,
        server_header=False,
        proxy_headers=bool(served.proxies),
        forwarded_allow_ips=list(served.proxies),
        ssl_certfile=served.secured.certificate if served.secured else None,
        ssl_keyfile=served.secured.key if served.secured else None,
        backlog=WAITING,
        timeout_graceful_shutdown=5,
    )
    config.guests = guests
    return config
