"""Passwords and tokens: what is kept of them never gives them back."""

from __future__ import annotations

import hashlib
import secrets

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError

from firstrocker.errors import FirstrockerError

SHORTEST, LONGEST = 12, 128
"""Lengths of a password, in signs. OWASP ASVS 4.0.3, 2.1.1 and 2.1.2 (from memory)."""

# Argon2id with RFC 9106's second recommended choice (64 MiB, 3 passes, 4 lanes): the library's default profile.
_HASHER = PasswordHasher()

_COMMON = (
    *(
        "password",
        "passwort",
        "letmein",
        "welcome",
        "qwerty",
        "qwertz",
        "asdfgh",
        "123456",
        "111111",
        "000000",
        "abcdef",
    ),
    *("iloveyou", "admin", "clinic", "orthotist", "orthosis", "firstrocker", "dropfoot", "changeme"),
)
"""Words that alone do not make a password; common practice, no source."""


class PasswordError(FirstrockerError):
    """A password that cannot be taken."""

    code = "password"


def check_password(password: str, *, name: str) -> None:
    """Refuse a password that is soon guessed.

    Raises:
        PasswordError: too short, too long, of few signs, or a common word or the account's name and little more.
    """
    if len(password) < SHORTEST:
        raise PasswordError(
            f"A password has at least {SHORTEST} signs.", remedy="Four or five words in a row are easy to keep."
        )
    if len(password) > LONGEST:
        raise PasswordError(f"A password has at most {LONGEST} signs.")
    rest = password.lower()
    for word in sorted({*_COMMON, name.lower()}, key=len, reverse=True):
        rest = rest.replace(word, "") if word else rest
    if len(set(rest)) < 5 or len(rest) < 8:
        raise PasswordError("This password is soon guessed.", remedy="Choose words that do not belong together.")


def hashed(password: str) -> str:
    """What is kept of a password."""
    return _HASHER.hash(password)


def matches(kept: str, password: str) -> bool:
    """Whether the password is the one of which ``kept`` is kept."""
    try:
        return _HASHER.verify(kept, password[: LONGEST + 1])
    except (VerificationError, InvalidHashError):
        return False


NOBODY = hashed(secrets.token_urlsafe(24))
"""Compared with where there is no such account, so that the answer takes as long."""


def new_token() -> str:
    """256 random bits as text."""
    return secrets.token_urlsafe(32)


def kept_of(token: str) -> str:
    """What is kept of a token: it is long and random, so that a plain hash does."""
    return hashlib.sha256(token.encode()).hexdigest()
