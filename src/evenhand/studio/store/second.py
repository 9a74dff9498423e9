"""The teacher's second factor: an app's codes that change every 30 s, and recovery codes for when it is lost.

Conventions: a code is that of RFC 6238 (SHA-1, 30 s, six digits), which every such app makes; it is taken one
step early or late, once, and never again, nor one from before it. Of a recovery code, 120 random bits, the
SHA-256 is kept, as of a link. A code is computed from its secret, so of that no hash would do: it is sealed
with a key that Argon2id makes of the teacher's password and is used for nothing else. Who holds the database
or a backup has no second factor, unless the password too.
"""

from __future__ import annotations

import hashlib
import secrets
from base64 import b32decode, b32encode, b64decode, b64encode
from dataclasses import dataclass, fields, replace
from datetime import datetime
from typing import Literal

from argon2 import PasswordHasher, extract_parameters
from argon2.exceptions import Argon2Error, InvalidHashError
from sqlalchemy import and_, select, update

from evenhand.studio.store.data import StudioData
from evenhand.studio.store.tables import studio

SECRET_BYTES = 20  # that of SHA-1's block of output (RFC 4226, section 4, R6: at least 128 bits)
DIGITS, STEP_S, AROUND = 6, 30, 1  # RFC 6238, section 5.2: 30 s, and one step of delay at most
N_RECOVERY, RECOVERY_BYTES, GROUP = 8, 15, 4
MOST_MEMORY_KIB = 1 << 20

SecondUse = Literal["code", "recovery", ""]


@dataclass(frozen=True, slots=True)
class SecondFactor:
    """What is kept of it: the sealed secret, the step of the code used last, hashes of recovery codes."""

    sealed: str = ""  # "": there is none
    used_step: int = 0
    recovery: str = ""  # SHA-256 of those not used yet, spaces between

    @property
    def n_recovery(self) -> int:
        """How many recovery codes are left."""
        return len(self.recovery.split())

    def without(self, code: str) -> SecondFactor | None:
        """Return what is left once a recovery code was used; None where it is none of them."""
        left = self.recovery.split()
        hashed = hashed_recovery(code)
        if not any(secrets.compare_digest(hashed, each) for each in left):
            return None
        return SecondFactor(self.sealed, self.used_step, " ".join(each for each in left if each != hashed))


class Second:
    """The second factor of a studio's teacher, as it is kept."""

    def __init__(self, data: StudioData, hasher: PasswordHasher) -> None:
        self._data, self._hasher = data, hasher

    @property
    def kept(self) -> SecondFactor:
        """What is kept of it, read fresh."""
        columns = select(studio.c.second_sealed, studio.c.second_used_step, studio.c.second_recovery)
        with self._data.database.reading() as connection:
            return SecondFactor(*connection.execute(columns).one())

    def put_on(self, password: str, secret: str, code: str) -> tuple[str, ...] | None:
        """Switch it on by a first code; the recovery codes, or None where that is no code of this moment.

        The password must have been checked.
        """
        step = step_of(secret, code, self._data.now())
        if step is None:
            return None
        codes = new_recovery_codes()
        sealed = sealed_with(self._hasher, password, secret)
        self._keep(SecondFactor(sealed, step, " ".join(map(hashed_recovery, codes))))
        return codes

    def new_codes(self) -> tuple[str, ...]:
        """Make recovery codes in the place of those that there were."""
        codes = new_recovery_codes()
        self._data.execute(update(studio).values(second_recovery=" ".join(map(hashed_recovery, codes))))
        return codes

    def drop(self) -> None:
        """Switch it off."""
        self._keep(SecondFactor())

    def sealed_anew(self, old: str, new: str) -> str:
        """Give the secret sealed with a new password; "" where there is none, and a damaged seal as it is."""
        sealed = self.kept.sealed
        secret = _opened(old, sealed)
        return sealed_with(self._hasher, new, secret) if secret else sealed

    def use(self, kept: SecondFactor, password: str, code: str, *, counts: bool) -> SecondUse:
        """Take a code, once, and tell as what; where it does not count, look at it only, which takes as long.

        Of two who bring the same code at once, one comes in.
        """
        secret = _opened(password, kept.sealed)
        step = step_of(secret, code.replace(" ", ""), self._data.now()) if secret else None
        if step is not None and step > kept.used_step:
            return "code" if counts and self._exchanged(kept, replace(kept, used_step=step)) else ""
        left = kept.without(code)
        return "recovery" if counts and left is not None and self._exchanged(kept, left) else ""

    def _keep(self, new: SecondFactor) -> None:
        self._data.execute(update(studio).values(**_row(new)))

    def _exchanged(self, old: SecondFactor, new: SecondFactor) -> bool:
        """Write what is kept, if it is still what it was."""
        same = and_(*(studio.c[name] == value for name, value in _row(old).items()))
        return self._data.execute(update(studio).where(same).values(**_row(new))) == 1


def _row(kept: SecondFactor) -> dict[str, str | int]:
    return {f"second_{each.name}": getattr(kept, each.name) for each in fields(kept)}


def new_otp_secret() -> str:
    """Make a secret as apps take it: base 32 (RFC 4648)."""
    return b32encode(secrets.token_bytes(SECRET_BYTES)).decode()


def is_otp_secret(text: str) -> bool:
    """Tell whether a text is a secret such as ``new_otp_secret`` makes.

    >>> is_otp_secret("A" * 32), is_otp_secret("A" * 31), is_otp_secret("1" * 32)
    (True, False, False)
    """
    try:
        return len(b32decode(text)) == SECRET_BYTES
    except ValueError:
        return False


def otp_address(secret: str, studio_name: str) -> str:
    """Write the address that an app reads from a QR code."""
    import pyotp

    return str(pyotp.TOTP(secret).provisioning_uri(name=studio_name, issuer_name="Evenhand"))


def step_of(secret: str, code: str, at: datetime) -> int | None:
    """Return the step of time that a code is of, now or one beside; None where it is of none."""
    import pyotp

    if not (code.isascii() and code.isdecimal() and len(code) == DIGITS):
        return None
    now = int(at.timestamp()) // STEP_S
    codes = pyotp.HOTP(secret)
    found = [
        step for step in range(now - AROUND, now + AROUND + 1) if step > 0 and codes.verify(code, step)
    ]  # all are tried, so that the answer takes as long whichever it is
    return found[-1] if found else None


def new_recovery_codes() -> tuple[str, ...]:
    """Make recovery codes, to be written down: groups of four letters."""
    made = (b32encode(secrets.token_bytes(RECOVERY_BYTES)).decode().lower() for _ in range(N_RECOVERY))
    return tuple(
        "-".join(code[start : start + GROUP] for start in range(0, len(code), GROUP)) for code in made
    )


def hashed_recovery(code: str) -> str:
    """Give what is kept of a recovery code; spaces, dashes and capitals make no difference."""
    plain = "".join(letter for letter in code.lower() if letter.isalnum())
    return hashlib.sha256(plain.encode("utf-8", "surrogatepass")).hexdigest()


def sealed_with(hasher: PasswordHasher, password: str, secret: str) -> str:
    """Seal a secret: laid over a key of its own, which is made of the password and fresh salt."""
    head, _, key = hasher.hash(password).rpartition("$")
    return f"{head}${b64encode(_over(b32decode(secret), key)).decode()}"


def unsealed_with(password: str, sealed: str) -> str:
    """Open a seal; a wrong password gives a secret, too, but one that no code fits.

    Raises
    ------
    ValueError, InvalidHashError
        It is no seal.
    """
    head, _, inside = sealed.rpartition("$")
    parameters = extract_parameters(f"{head}${b64encode(bytes(32)).decode().rstrip('=')}")
    if parameters.memory_cost > MOST_MEMORY_KIB:
        raise ValueError("more memory than any seal of ours asks for")
    hasher = PasswordHasher.from_parameters(parameters)
    key = hasher.hash(password, salt=_decoded(head.rpartition("$")[2])).rpartition("$")[2]
    return b32encode(_over(b64decode(inside), key)).decode()


def _opened(password: str, sealed: str) -> str:
    """Open a seal; "" where it is none, or a damaged one: recovery codes open then."""
    try:
        return unsealed_with(password, sealed) if sealed else ""
    except (ValueError, Argon2Error, InvalidHashError):
        return ""


def _over(text: bytes, key: str) -> bytes:
    return bytes(a ^ b for a, b in zip(text, _decoded(key), strict=False))  # the key is the longer


def _decoded(text: str) -> bytes:
    """Read base 64 without its padding, as Argon2 writes it."""
    return b64decode(text + "=" * (-len(text) % 4))
