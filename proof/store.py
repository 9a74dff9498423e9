"""A store of objects on loopback that may be killed, on a disk of its own.

Conventions: the app comes by a wire, the soak itself past it.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path

from proof.parts import Disk, descendants, kill
from tests.objects import BUCKET, Store, _free_ports


class ObjectStore:
    """The store: started, killed and started again like a part."""

    name = "the store"

    def __init__(self, folder: Path, size_mb: int) -> None:
        self.disk = Disk(folder / "objects", size_mb)
        self._store = Store(self.disk.place, _free_ports())
        self.starts = 0

    @property
    def port(self) -> int:
        """Where it answers."""
        return self._store.ports["s3.port"]

    @property
    def environment(self) -> Mapping[str, str]:
        """The keys, as libraries of S3 read them."""
        return self._store.environment

    def address(self, port: int) -> str:
        """Give the app's address, by a port of loopback."""
        return f"s3://{BUCKET}/soak?endpoint=http://127.0.0.1:{port}"

    def make(self) -> None:
        """Make its disk, and start it."""
        self.disk.mount()
        self.start()

    def start(self) -> None:
        """Start it, and wait until it keeps something."""
        self.starts += 1
        self._store.start()

    def lives(self) -> bool:
        """Tell whether it runs."""
        return self._store.process is not None and self._store.process.poll() is None

    def kill(self) -> None:
        """End it, and what it started, at once."""
        below = descendants(self._store.process.pid) if self._store.process is not None else []
        self._store.kill()
        for each in below:
            kill(each)

    def names(self) -> Iterator[str]:
        """List all that the app keeps, by name, without what stands before every name."""
        client = self._store.client()
        for page in client.get_paginator("list_objects_v2").paginate(Bucket=BUCKET, Prefix="soak/"):
            yield from (each["Key"].removeprefix("soak/") for each in page.get("Contents", []))
        client.close()

    def read(self, names: Iterable[str]) -> dict[str, bytes]:
        """Read objects."""
        client = self._store.client()
        found = {name: client.get_object(Bucket=BUCKET, Key=f"soak/{name}")["Body"].read() for name in names}
        client.close()
        return found

    def close(self) -> None:
        """End it, and give the disk back."""
        self.kill()
        self.disk.unmount()


def set_keys(store: ObjectStore) -> None:
    """Let this process and what it starts have the store's keys."""
    os.environ.update(store.environment)
