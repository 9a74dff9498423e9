"""Recordings and labels in a store of objects that speaks S3.

Conventions: an address is ``s3://bucket/prefix?endpoint=https://...``; the keys come by the environment, as
libraries of S3 read them (AWS_ACCESS_KEY_ID, AWS_SECRET_ACCESS_KEY). A name has the studio's id before it:
``prefix/<studio>/recordings/ab/<sha256>.flac``; no name of one studio leads to another's. What has its hash
in its name is sent with it (x-amz-checksum-sha256), so that the store takes no other bytes.

With ``links`` browsers reach the store themselves, by links that are signed for one object and some minutes.
What they send lies under ``incoming/<student>/`` until its take is kept; what nobody asked to keep goes with
a later sweep.
"""

from __future__ import annotations

import hashlib
import secrets
import time
from base64 import b64decode, b64encode
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from evenhand.errors import CannotKeep, StoreAway
from evenhand.studio.store.places.address import ObjectsAddress, client_of
from evenhand.studio.store.places.copies import Copies
from evenhand.studio.store.places.files import INCOMING, Arrived, Files, Ticket

TICKET_S = 900  # as long as a recording may take to be sent
LINK_S = 600  # as long as a link to listen is good; a browser that asks later asks us for a new one
_AT_ONCE = 1 << 20
_MISSING = frozenset({"404", "NoSuchKey", "NotFound"})
_SAID = {
    **dict.fromkeys(
        ("403", "AccessDenied", "InvalidAccessKeyId", "SignatureDoesNotMatch"), "refuses these keys"
    ),
    "NoSuchBucket": "has no such bucket",
}


class BucketFiles(Files):
    """What one studio has in a bucket."""

    lying = "in the store"

    def __init__(self, address: ObjectsAddress, studio_id: str, scratch: Path) -> None:
        self.address, self.where = address, address.where
        self._before = f"{address.prefix}/{studio_id}/".lstrip("/")
        self._client = client_of(address, address.endpoint)
        self._signs = client_of(address, address.links) if address.links else None
        self._copies = Copies(scratch)
        self._sealed = {"ServerSideEncryption": address.encryption} if address.encryption else {}

    def check(self) -> None:
        """Ask once, so that what is wrong with the address or the keys is said at the start."""
        self._ask("list_objects_v2", MaxKeys=1, Prefix=self._before)

    def names(self, under: str) -> list[str]:
        """List the names in a folder and below."""
        return sorted(self.sizes(under))

    def sizes(self, under: str) -> dict[str, int]:
        """List sizes by name, a thousand with each question."""
        return {name: each["Size"] for name, each in self._listed(under)}

    def folders(self, under: str) -> list[str]:
        """List the folders in a folder."""
        return sorted(
            each["Prefix"].rstrip("/").rpartition("/")[2]
            for page in self._pages(under, Delimiter="/")
            for each in page.get("CommonPrefixes", [])
        )

    def find(self, under: str, ending: str) -> list[str]:
        """Tell whether a folder has a name."""
        name = f"{under}/{ending}"
        return [] if self.size(name) is None else [name]

    def read(self, name: str) -> bytes | None:
        """Read all of an object."""
        blocks = self._blocks(name)
        return None if blocks is None else b"".join(blocks)

    def write(self, name: str, content: bytes, *, sync: bool = True) -> None:  # noqa: ARG002 - it always is
        """Write an object."""
        self._put(name, content, hashlib.sha256(content).digest())

    def settle(self, place: Path, name: str) -> None:
        """Send a file with its hash, and remove it here."""
        with place.open("rb") as file:
            self._put(name, file, _hash_in(name))
        place.unlink(missing_ok=True)

    def copy(self, name: str, to: str) -> None:
        """Copy an object inside the store."""
        self._ask("copy_object", to, CopySource=self._key(name), ChecksumAlgorithm="SHA256", **self._sealed)

    def move(self, name: str, to: str) -> None:
        """Copy an object inside the store, and remove the first."""
        self.copy(name, to)
        self.remove(name)

    def size(self, name: str) -> int | None:
        """Tell how many bytes an object has."""
        with suppress(FileNotFoundError):
            return int(self._ask("head_object", name)["ContentLength"])
        return None

    def written_at(self, name: str) -> datetime:
        """Tell when an object was written."""
        written: datetime = self._ask("head_object", name)["LastModified"]
        return written.astimezone(UTC)

    def digest(self, name: str) -> str | None:
        """Read an object and hash it."""
        blocks = self._blocks(name)
        if blocks is None:
            return None
        found = hashlib.sha256()
        for block in blocks:
            found.update(block)
        return found.hexdigest()

    def lend(self, name: str) -> Path | None:
        """Give a copy of an object that is there for a while."""
        known = self._copies.find(name)
        blocks = None if known else self._blocks(name)
        return known or (None if blocks is None else self._copies.add(name, blocks))

    def let_go(self, name: str) -> None:
        """Remove this process' copy."""
        self._copies.remove(name)

    def close(self) -> None:
        """Remove the copies, and end the connections."""
        self._copies.close()
        self._client.close()

    def remove(self, name: str) -> None:
        """Remove an object, and its copy."""
        self._ask("delete_object", name)
        self._copies.remove(name)

    def remove_all(self, under: str) -> None:
        """Remove all objects of a folder."""
        for name in self.names(under):
            self.remove(name)

    def works(self) -> bool:
        """Tell whether an object can be kept."""
        name = f"{INCOMING}/tried-{secrets.token_hex(8)}"
        try:
            self.write(name, b"\0")
            self.remove(name)
        except CannotKeep:
            return False
        return True

    def sweep(self, older_than_s: float) -> int:
        """Remove what was sent and never asked to be kept."""
        now = time.time()
        old = [
            name
            for name, each in self._listed(INCOMING)
            if now - each["LastModified"].timestamp() >= older_than_s
        ]
        for name in old:
            self.remove(name)
        return len(old)

    def link(self, name: str, headers: Mapping[str, str]) -> str | None:
        """Sign a link by which a browser reads an object; it is answered with these headers."""
        if self._signs is None:
            return None
        asked = {f"Response{each.replace('-', '')}": said for each, said in headers.items()}
        return _signed(self._signs, "get_object", LINK_S, {**self._key(name), **asked})

    def ticket(self, name: str, n_bytes: int) -> Ticket | None:
        """Sign a link by which a browser sends an object: these bytes, by length and hash, and no others."""
        if self._signs is None:
            return None
        sha256 = b64encode(_hash_in(name)).decode()
        asked = {"ChecksumSHA256": sha256, "ContentLength": n_bytes, **self._sealed}
        headers = {"x-amz-checksum-sha256": sha256}
        if self.address.encryption:
            headers["x-amz-server-side-encryption"] = self.address.encryption
        return Ticket(_signed(self._signs, "put_object", TICKET_S, {**self._key(name), **asked}), headers)

    def arrived(self, name: str) -> Arrived | None:
        """Tell what was sent; its hash by the store's own checksum, or by reading it where there is none."""
        try:
            found = self._ask("head_object", name, ChecksumMode="ENABLED")
            head = self._ask("get_object", name, Range="bytes=0-63")["Body"].read()
        except FileNotFoundError:
            return None
        told = found.get("ChecksumSHA256", "")
        whole = told and "-" not in told  # with "-" it is a checksum of checksums, of parts
        sha256 = b64decode(told).hex() if whole else self.digest(name) or ""
        return Arrived(found["ContentLength"], sha256, head)

    def _key(self, name: str) -> dict[str, str]:
        return {"Bucket": self.address.bucket, "Key": self._before + name}

    def _put(self, name: str, content: Any, sha256: bytes) -> None:  # noqa: ANN401 - bytes or a file
        self._ask("put_object", name, Body=content, ChecksumSHA256=b64encode(sha256).decode(), **self._sealed)

    def _blocks(self, name: str) -> Iterator[bytes] | None:
        """Read an object bit by bit; None where there is none."""
        try:
            body = self._ask("get_object", name)["Body"]
        except FileNotFoundError:
            return None
        return self._read(body)

    def _read(self, body: Any) -> Iterator[bytes]:  # noqa: ANN401 - the library's stream
        with self._asked(), body:
            yield from body.iter_chunks(_AT_ONCE)

    def _listed(self, under: str) -> Iterator[tuple[str, Mapping[str, Any]]]:
        for page in self._pages(under):
            for each in page.get("Contents", []):
                yield each["Key"][len(self._before) :], each

    def _pages(self, under: str, **how: str) -> Iterator[Mapping[str, Any]]:
        with self._asked():
            yield from self._client.get_paginator("list_objects_v2").paginate(
                Bucket=self.address.bucket, Prefix=f"{self._before}{under}/", **how
            )

    def _ask(self, act: str, name: str | None = None, **how: Any) -> Mapping[str, Any]:  # noqa: ANN401 - as asked
        at = {"Bucket": self.address.bucket} if name is None else self._key(name)
        with self._asked():
            answer: Mapping[str, Any] = getattr(self._client, act)(**at, **how)
        return answer

    @contextmanager
    def _asked(self) -> Iterator[None]:
        """Let what the store and the way to it say leave as our own errors."""
        from botocore.exceptions import (
            BotoCoreError,
            ClientError,
            NoCredentialsError,
            PartialCredentialsError,
        )

        try:
            yield
        except ClientError as error:
            raise self._trouble(str(error.response.get("Error", {}).get("Code", ""))) from error
        except (NoCredentialsError, PartialCredentialsError) as error:
            raise StoreAway(where=self.where, got="was asked without keys") from error
        except BotoCoreError as error:
            raise StoreAway(where=self.where) from error

    def _trouble(self, code: str) -> CannotKeep | FileNotFoundError:
        if code in _MISSING:
            return FileNotFoundError(code)
        return StoreAway(where=self.where, got=_SAID.get(code, f"does not do its part ({code})"))


def _signed(signs: Any, act: str, for_s: int, params: Mapping[str, Any]) -> str:  # noqa: ANN401 - a client
    return str(signs.generate_presigned_url(act, Params=params, ExpiresIn=for_s))


def _hash_in(name: str) -> bytes:
    """Return the hash that a name says."""
    return bytes.fromhex(Path(name).stem)
