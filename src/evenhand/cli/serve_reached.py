"""By which names ``evenhand serve`` is reached, and which proxy is believed."""

from __future__ import annotations

import ipaddress
import socket
from collections.abc import Sequence
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

from evenhand.errors import WrongOptions

if TYPE_CHECKING:
    from evenhand.web.serving import Served

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
