"""Recordings in a store of objects: what is asked of it, and what it does when it is killed."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.objects import BUCKET, Store, program, running


@pytest.fixture(scope="module")
def mortal() -> Iterator[Store]:
    """Run a store that tests may kill."""
    if program() is None:
        pytest.skip("SeaweedFS is not installed")
    with running() as store:
        yield store


def test_what_was_acknowledged_is_there_after_a_kill(mortal: Store) -> None:
    client = mortal.client()
    for number in range(20):
        client.put_object(Bucket=BUCKET, Key=f"kept/{number}", Body=bytes([number]) * 100_000)
    mortal.kill()
    mortal.start()
    kept = [client.get_object(Bucket=BUCKET, Key=f"kept/{number}")["Body"].read() for number in range(20)]
    assert kept == [bytes([number]) * 100_000 for number in range(20)]
    client.close()
