"""The teacher's second factor, held against the numbers of its standards."""

from __future__ import annotations

from base64 import b32encode
from datetime import UTC, datetime, timedelta

import pyotp
import pytest
from sqlalchemy import select, update

from evenhand.studio.store.second import (
    is_otp_secret,
    new_otp_secret,
    new_recovery_codes,
    otp_address,
    sealed_with,
    step_of,
    unsealed_with,
)
from evenhand.studio.store.studio import Studio
from evenhand.studio.store.tables import studio as studio_table
from tests.places import Place
from tests.studios import PASSWORD, QUICK

SECRET = b32encode(b"12345678901234567890").decode()  # that of both standards' tables
RFC_4226 = (  # appendix D, from the counter 0
    *("755224", "287082", "359152", "969429", "338314"),
    *("254676", "287922", "162583", "399871", "520489"),
)
RFC_6238 = {  # appendix B, SHA-1: the last six of its eight digits
    59: "287082",
    1111111109: "081804",
    1111111111: "050471",
    1234567890: "005924",
    2000000000: "279037",
    20000000000: "353130",
}


def code_at(at: datetime, secret: str = SECRET) -> str:
    return str(pyotp.TOTP(secret).at(at))


@pytest.mark.parametrize(("seconds", "code"), RFC_6238.items())
def test_codes_are_those_of_rfc_6238(seconds: int, code: str) -> None:
    at = datetime.fromtimestamp(seconds, UTC)
    assert step_of(SECRET, code, at) == seconds // 30
    assert step_of(SECRET, code, at + timedelta(seconds=30)) == seconds // 30  # one step late, or early
    assert step_of(SECRET, code, at - timedelta(seconds=30)) == seconds // 30
    for off in (-90, 90):
        assert step_of(SECRET, code, at + timedelta(seconds=off)) is None


@pytest.mark.parametrize("step", range(1, 10))
def test_codes_are_those_of_rfc_4226(step: int) -> None:
    assert step_of(SECRET, RFC_4226[step], datetime.fromtimestamp(30 * step, UTC)) == step


def test_what_is_no_code_is_none() -> None:
    for code in ("", "0", "2870820", "28708", "287 082", "x", "\0", "\ud800", "9" * 5000):
        assert step_of(SECRET, code, datetime.fromtimestamp(59, UTC)) is None


def test_the_address_is_what_an_app_reads() -> None:
    """The form is that of the key URI which apps share (common practice)."""
    read = pyotp.parse_uri(otp_address(SECRET, "Studio Larkfield, East"))
    assert (read.secret, read.issuer, read.name) == (SECRET, "Evenhand", "Studio Larkfield, East")


def test_secrets_and_recovery_codes_are_long_and_never_the_same() -> None:
    made = {new_otp_secret() for _ in range(50)}
    assert len(made) == 50
    assert all(map(is_otp_secret, made))
    codes = [code for _ in range(5) for code in new_recovery_codes()]
    assert len(set(codes)) == len(codes) == 40
    assert all(len(code.replace("-", "")) == 24 for code in codes)  # 120 bits


def test_a_sealed_secret_opens_by_its_password_alone() -> None:
    sealed = sealed_with(QUICK, PASSWORD, SECRET)
    assert unsealed_with(PASSWORD, sealed) == SECRET
    assert unsealed_with(PASSWORD + " ", sealed) != SECRET
    assert sealed != sealed_with(QUICK, PASSWORD, SECRET)  # fresh salt, so a fresh key


def test_a_code_opens_once_and_so_does_a_recovery_code(place: Place) -> None:
    studio = place.create()
    first, *others = put_on(studio)
    access, now = studio.access, studio.data.now
    assert access.key_of_login(PASSWORD, "") == (None, "")
    assert access.key_of_login(PASSWORD, code_at(now())) == (None, "")  # it switched it on, so it was used
    place.clock.move(seconds=60)
    code, missed = code_at(now()), code_at(now() - timedelta(seconds=30))
    assert access.key_of_login("wrong", code) == (None, "")  # not used up by it
    key, used = access.key_of_login(PASSWORD, f" {code[:3]} {code[3:]} ")
    assert key is not None
    assert used == "code"
    assert access.key_of_login(PASSWORD, code) == (None, "")
    assert access.key_of_login(PASSWORD, missed) == (None, "")  # nor one from before
    assert access.key_of_login("wrong", first) == (None, "")
    assert access.key_of_login(PASSWORD, first.upper().replace("-", " "))[1] == "recovery"
    assert access.key_of_login(PASSWORD, first) == (None, "")
    assert access.second.kept.n_recovery == len(others) == 7
    assert place.open().access.key_of_login(PASSWORD, code) == (None, "")  # another process knows it, too


def put_on(studio: Studio) -> tuple[str, ...]:
    codes = studio.access.second.put_on(PASSWORD, SECRET, code_at(studio.data.now()))
    assert codes is not None
    return codes


def test_it_is_not_switched_on_without_a_code(studio: Studio) -> None:
    assert studio.access.second.put_on(PASSWORD, SECRET, "000000") is None
    assert not studio.access.second.kept.sealed
    assert studio.access.key_of_login(PASSWORD, "")[0] is not None


def test_nothing_that_is_kept_gives_a_code(studio: Studio) -> None:
    codes = put_on(studio)
    with studio.data.database.reading() as connection:
        row = repr(dict(connection.execute(select(studio_table)).mappings().one()))
    for secret in (SECRET, "12345678901234567890", *codes):
        assert secret not in row


def test_it_stays_when_the_password_changes_and_goes_when_that_is_forgotten(place: Place) -> None:
    studio = place.create()
    put_on(studio)
    studio.access.change_password("another password", old=PASSWORD)
    place.clock.move(seconds=60)
    assert studio.access.key_of_login("another password", code_at(studio.data.now()))[1] == "code"
    studio.access.change_password("a third password")
    assert not studio.access.second.kept.sealed
    assert studio.access.key_of_login("a third password", "")[0] is not None


@pytest.mark.parametrize("sealed", ["x", "$$", "$argon2id$v=19$m=8,t=1,p=1$c2FsdHNhbHQ$%", "\u2713"])
def test_a_seal_that_was_damaged_opens_by_recovery_codes_only(studio: Studio, sealed: str) -> None:
    first, second, *_ = put_on(studio)
    studio.data.execute(update(studio_table).values(second_sealed=sealed))
    assert studio.access.key_of_login(PASSWORD, code_at(studio.data.now())) == (None, "")
    assert studio.access.key_of_login(PASSWORD, first)[1] == "recovery"
    studio.access.change_password("another password", old=PASSWORD)
    assert studio.access.second.kept.sealed == sealed
    assert studio.access.key_of_login("another password", second)[1] == "recovery"


def test_a_seal_that_asks_for_all_memory_is_none() -> None:
    with pytest.raises(ValueError, match="more memory"):
        unsealed_with(PASSWORD, "$argon2id$v=19$m=4194304,t=1,p=1$c2FsdHNhbHRzYWx0$AAAA")


def test_new_recovery_codes_take_the_place_of_the_old(studio: Studio) -> None:
    old, new = put_on(studio), studio.access.second.new_codes()
    assert studio.access.key_of_login(PASSWORD, old[0]) == (None, "")
    assert studio.access.key_of_login(PASSWORD, new[0])[1] == "recovery"
