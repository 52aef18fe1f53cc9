"""PINs and digests."""

from __future__ import annotations

import hashlib

import pytest

from kiosk.people import secret


def test_the_digest_is_scrypt_of_the_standard_library_with_the_stated_cost() -> None:
    """RFC 7914, section 12, third vector shows that library's scrypt right: N=16384 r=8 p=1."""
    vector = hashlib.scrypt(b"pleaseletmein", salt=b"SodiumChloride", n=16384, r=8, p=1,
                            maxmem=64 * 1024 * 1024)  # fmt: skip
    assert vector.hex().startswith("7023bdcb3afd7348461c06cd81fd38eb")
    ours = hashlib.scrypt(b"739146", salt=bytes(16), n=32768, r=8, p=1,
                          maxmem=64 * 1024 * 1024, dklen=32)  # fmt: skip
    assert secret.digest("739146", "00" * 16) == ours.hex()


@pytest.mark.parametrize("trouble", [MemoryError(), ValueError("limit"), OSError(), RuntimeError()])
def test_whatever_keeps_the_library_from_a_digest_is_one_kind_of_trouble(
    monkeypatch: pytest.MonkeyPatch, trouble: Exception
) -> None:
    def scrypt(*_: object, **__: object) -> bytes:
        raise trouble

    monkeypatch.setattr(hashlib, "scrypt", scrypt)
    with pytest.raises(secret.NotDigested, match=type(trouble).__name__):
        secret.digest("739146", "00" * 16)


def test_a_library_without_scrypt_is_told_too(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delattr(hashlib, "scrypt")
    with pytest.raises(secret.NotDigested, match="scrypt"):
        secret.digest("739146", "00" * 16)


def test_the_same_pin_has_another_digest_with_another_salt() -> None:
    assert secret.digest("739146", "00" * 16) != secret.digest("739146", "01" * 16)


@pytest.mark.parametrize("pin", ["0000", "777777", "1234", "987654", "0123", "8901", "1212",
                                 "474747", "1987", "2024"])  # fmt: skip
def test_easy_pins_are_refused(pin: str) -> None:
    """The kinds of the shop's own block list: one digit, runs, pairs, years (our own choice)."""
    assert "guessed" in str(secret.against_pin(pin.ljust(4), has_rights=False))


@pytest.mark.parametrize(
    ("pin", "has_rights", "issued", "good"),
    [
        ("739", False, False, False), ("7391", False, False, True),
        ("7391462", True, False, False), ("73914628", True, False, True),
        ("73914", True, True, False), ("739146", True, True, True),
        ("739146283017", False, False, True), ("7391462830174", False, False, False),
        ("73a1", False, False, False), ("٧٣٩١", False, False, False),
    ],
)  # fmt: skip
def test_how_long_a_pin_must_be(pin: str, has_rights: bool, issued: bool, good: bool) -> None:
    """NIST SP 800-63B, section 3.1.1.2 (from memory): 8 chosen, 6 drawn by lot."""
    assert (secret.against_pin(pin, has_rights=has_rights, issued=issued) is None) is good


@pytest.mark.parametrize(("text", "good"), [("7391", True), ("739", False), ("73 91", False),
                                            ("", False), ("1" * 13, False)])  # fmt: skip
def test_what_can_be_a_pin_at_all(text: str, good: bool) -> None:
    assert secret.is_pin(text) is good
