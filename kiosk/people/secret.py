"""PINs and badges: how they are kept, and which PINs are too easy to guess.

A PIN of a few digits is short whatever is done to it: the digest only slows down who has stolen the
file.  At the screen the growing wait protects it (``tries``).
"""

from __future__ import annotations

import hashlib
import hmac
from itertools import pairwise

# scrypt, RFC 7914: N = 2^15, r = 8, p = 1 takes 32 MiB and about 0.1 s on a small computer.
_N, _R, _P = 2**15, 8, 1
_MEMORY = 64 * 1024 * 1024  # OpenSSL's own limit of 32 MiB is just too little
LEAST = {False: 4, True: 8}  # digits of a PIN that a person chose, by whether the role has rights
ISSUED = 6  # digits of a PIN drawn by lot: NIST SP 800-63B, section 3.1.1.2 (from memory)
MOST = 12
BADGE_LEAST, BADGE_MOST = 4, 64  # characters


class NotDigested(Exception):
    """The computer made no digest: it has no memory left for one, or a library without scrypt."""


def digest(text: str, salt: str) -> str:
    """The scrypt digest of a PIN or a badge's code, hex; ``salt`` is hex.  Raises NotDigested."""
    plain, grain = text.encode(), bytes.fromhex(salt)
    try:
        made = hashlib.scrypt(plain, salt=grain, n=_N, r=_R, p=_P, maxmem=_MEMORY, dklen=32)
    except Exception as trouble:  # whatever a library has: no sign-on is worth an ended guard
        raise NotDigested(f"{type(trouble).__name__}: {trouble}") from None
    return made.hex()


def same(one: str, other: str) -> bool:
    """Whether two digests are equal, in a time that does not tell where they differ."""
    return hmac.compare_digest(one, other)


def is_pin(text: str) -> bool:
    """Whether this can be a PIN at all: digits 0 to 9 only."""
    return LEAST[False] <= len(text) <= MOST and text.isascii() and text.isdecimal()


def against_pin(pin: str, *, has_rights: bool, issued: bool = False) -> str | None:
    """What is wrong with a new PIN and how to mend it, or None."""
    least = ISSUED if issued else LEAST[has_rights]
    if not (pin.isascii() and pin.isdecimal()):
        return "a PIN has digits only"
    if not least <= len(pin) <= MOST:
        return f"this PIN has {len(pin)} digits: take {least} to {MOST}"
    return "this PIN is easily guessed: take another" if _easy(pin) else None


def _easy(pin: str) -> bool:
    """One digit or a pair again and again, a run up or down, or a year."""
    steps = {(int(b) - int(a)) % 10 for a, b in pairwise(pin)}
    pairs = len(pin) % 2 == 0 and len(set(zip(pin[::2], pin[1::2], strict=True))) == 1
    year = len(pin) == 4 and pin[:2] in ("19", "20")
    return steps in ({0}, {1}, {9}) or pairs or year
