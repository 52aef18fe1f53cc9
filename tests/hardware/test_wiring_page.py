"""docs/wiring.md names everything that can be wired and everything that can be said of it."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from hardware.frames import WORD_ORDERS
from kiosk.interlock.reading import Why
from kiosk.site import load_site
from kiosk.site.address import EXAMPLES
from kiosk.site.layouts import REFERENCES
from kiosk.site.textform import number_in
from kiosk.site.wiring import INPUTS, KINDS, OUTPUTS

DEMO = Path(__file__).resolve().parents[2] / "hardware" / "site" / "demo.site.toml"
PAGE = (Path(__file__).resolve().parents[2] / "docs" / "wiring.md").read_text()
TOLD = {*re.findall(r"`([^`]+)`", re.sub(r"```.*?```", "", PAGE, flags=re.S))}


@pytest.mark.parametrize(
    "word", [*INPUTS, *OUTPUTS, *KINDS, *REFERENCES, *WORD_ORDERS, *(why.value for why in Why)]
)
def test_the_page_tells_every_word(word: str) -> None:
    assert word in TOLD


@pytest.mark.parametrize("scheme", EXAMPLES)
def test_the_page_shows_an_address_of_every_kind(scheme: str) -> None:
    assert any(word.startswith(f"{scheme}://") for word in TOLD)


def test_the_bytes_on_the_page_are_those_of_ieee_754() -> None:
    """-84.659725 is C2A951C7; the orders are letters for its bytes from the most significant."""
    rows = re.findall(r"\| ((?:[0-9A-F]{2} ){3}[0-9A-F]{2}) \| `([A-D]{4})` \|", PAGE)
    letters = dict(zip("ABCD", ("C2", "A9", "51", "C7"), strict=True))
    assert {order: sent for sent, order in rows} == {
        order: " ".join(letters[letter] for letter in order) for order in WORD_ORDERS
    }


def test_the_asked_gauge_of_the_page_is_told_in_its_own_bytes(tmp_path: Path) -> None:
    """ASCII: the bytes on the page are the text on the page, and its layout reads them."""
    asked, answer = (
        bytes.fromhex(typed) for typed in re.findall(r"`((?:[0-9A-F]{2} ?){3,})`", PAGE)
    )
    row = next(t for t in re.findall(r"```toml\n(.*?)```", PAGE, re.S) if "pattern" in t)
    path = tmp_path / "page.site.toml"
    path.write_text(f"{DEMO.read_text()}\n{row}")
    layout = load_site(path).layouts["asked-gauge-kPa"]
    assert layout.text is not None
    assert asked == layout.text.asks == b"P?\r"
    assert answer == b"P= -80.250 kPa\r"
    assert number_in(answer.removesuffix(b"\r"), layout.text, layout.unit) == -80.25


def test_the_page_claims_nothing_it_may_not() -> None:
    plain = PAGE.replace("not a safety\ndevice", "")
    assert not re.search(r"(?i)safety device|locked out|\bis safe\b|isolated", plain)
