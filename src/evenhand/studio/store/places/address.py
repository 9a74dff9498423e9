"""Where a store of objects is, and a client that asks it.

Conventions: an address is ``s3://bucket/prefix?endpoint=https://...``; no key is ever part of it.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from importlib.util import find_spec
from typing import Any, Self
from urllib.parse import parse_qsl, urlsplit

from evenhand.errors import WrongOptions

_MUST_BE = "s3://BUCKET/PREFIX?endpoint=https://STORE, with links=https://..., encryption=..., region=..."
_SAYS = frozenset({"endpoint", "links", "encryption", "region"})


@dataclass(frozen=True, slots=True)
class ObjectsAddress:
    """Where a store is: its bucket, what stands before every name, and how it is asked.

    ``links`` is where browsers reach the store, None where they do not; ``encryption`` what the store is
    asked to encrypt with (AES256 or aws:kms).
    """

    bucket: str
    prefix: str = ""
    endpoint: str | None = None
    links: str | None = None
    encryption: str | None = None
    region: str | None = None

    @classmethod
    def read(cls, text: str) -> Self:
        """Read an address.

        Raises
        ------
        WrongOptions
            It is none.
        """
        parts, said = urlsplit(text), dict(parse_qsl(urlsplit(text).query, keep_blank_values=True))
        urls = [said[name] for name in ("endpoint", "links") if name in said]
        if (
            (parts.scheme, parts.netloc) != ("s3", parts.hostname or "")
            or not parts.netloc
            or not said.keys() <= _SAYS
            or any(not url.startswith(("http://", "https://")) for url in urls)
        ):
            raise WrongOptions(got=f"--objects {text.rpartition('@')[2]!r}", must_be=_MUST_BE)
        return cls(parts.netloc, parts.path.strip("/"), **said)

    @property
    def reached(self) -> str:
        """Say where browsers reach the store, scheme, host and port; "" where they do not."""
        parts = urlsplit(self.links or "")
        return f"{parts.scheme}://{parts.netloc}" if self.links else ""

    @property
    def where(self) -> str:
        """Name the place for people."""
        at = f" at {self.endpoint}" if self.endpoint else ""
        return f"the store of recordings s3://{self.bucket}/{self.prefix}".rstrip("/") + at


def client_of(address: ObjectsAddress, endpoint: str | None) -> Any:  # noqa: ANN401 - made at run time
    """Make a client. It tries twice: who waits is told soon, and tries again."""
    from botocore.config import Config
    from botocore.session import Session

    config = Config(
        signature_version="s3v4",
        connect_timeout=3,
        read_timeout=20,
        max_pool_connections=20,
        retries={"mode": "standard", "total_max_attempts": 2},
        s3={"addressing_style": "path" if endpoint else "auto"},
        request_checksum_calculation="when_required",
        response_checksum_validation="when_required",
    )
    session = Session()
    session.register_component("data_loader", _loader())
    region = address.region or session.get_config_variable("region") or "us-east-1"
    return session.create_client("s3", region_name=region, endpoint_url=endpoint, config=config)


@cache
def _loader() -> Any:  # noqa: ANN401 - made at run time
    """Give what reads how S3 is spoken, once: a school opens many studios, each with a client of its own."""
    from botocore.loaders import create_loader

    return create_loader()


def check_installed() -> None:
    """Refuse a store of objects where the package that asks it is not there.

    Raises
    ------
    WrongOptions
        Saying how it is installed.
    """
    if find_spec("botocore") is None:
        must_be = "Evenhand installed with its extra: pip install 'evenhand[objects]'"
        raise WrongOptions(got="--objects without the package botocore", must_be=must_be)
