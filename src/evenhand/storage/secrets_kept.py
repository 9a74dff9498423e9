"""Secrets: made at random, handed out once, and kept as a hash.

A secret is 32 random bytes, so its plain SHA-256 cannot be guessed back and needs no salt; a password
is a person's choice, so it gets Argon2.
"""

from __future__ import annotations

import hashlib
import hmac
import secrets

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError

SECRET_BYTES = 32


def new_id() -> str:
    """Make an id: random, never counted up."""
    return secrets.token_hex(8)


def new_secret() -> str:
    """Make a secret that fits an address or a cookie."""
    return secrets.token_urlsafe(SECRET_BYTES)


def sha256_of(secret: str) -> str:
    """Give what is kept of a secret."""
    return hashlib.sha256(secret.encode("utf-8", "surrogatepass")).hexdigest()


def same(left: str, right: str) -> bool:
    """Compare in constant time."""
    return hmac.compare_digest(left.encode("utf-8"), right.encode("utf-8"))


def csrf_of(secret: str) -> str:
    """Derive a session's token for forms: who has it cannot find the secret, and it is kept nowhere."""
    return hmac.new(secret.encode("utf-8"), b"evenhand form", hashlib.sha256).hexdigest()


def password_fits(hasher: PasswordHasher, kept: str, password: str) -> bool:
    """Tell whether a password is the one whose hash is kept."""
    try:
        return hasher.verify(kept, password)
    except (VerificationError, InvalidHashError):
        return False
