"""All cautions, page by page; read to the end they can be confirmed for the shift."""

from __future__ import annotations

import hashlib
from dataclasses import replace

from kiosk.interlock.snapshot import Snapshot
from kiosk.screen.show.frame import command, elsewhere
from kiosk.screen.show.shown import Button, Desk, Overlay
from kiosk.words import Words

PAGE = 3  # cautions on one page
# As the day goes: before the cut, in it, after it, cleaning, materials, work on the machine.
ORDER = ("C01", "C02", "C03", "C04", "C05", "C06", "C07", "C08", "C13", "C14", "C19", "C20", "C21",
         "C09", "C10", "C11", "C12", "C15", "C16", "C17", "C18")  # fmt: skip


def wanted(snapshot: Snapshot) -> bool:
    """Whether the person who is signed on has them to read."""
    return "confirm_cautions" in snapshot.allowed


def button(words: Words, snapshot: Snapshot, weight: str = "plain") -> Button:
    """The touch place that opens them."""
    detail = words.say("cautions.wanted") if wanted(snapshot) else ""
    return Button(words.say("cautions.all"), detail, opens="cautions", weight=weight)


def to_confirm(words: Words, snapshot: Snapshot) -> Button:
    """The same as the next step, where they can be confirmed."""
    place, why = button(words, snapshot, weight="main"), elsewhere(words, snapshot)
    return replace(place, detail=why or place.detail, enabled=not why)


def digest(words: Words) -> str:
    """Which texts were read, for the log."""
    texts = "\n".join(words.say(f"caution.{code}.text") for code in sorted(ORDER))
    return hashlib.sha256(texts.encode()).hexdigest()[:12]


def panel(words: Words) -> tuple[str, str]:
    """What this panel is and is not: title and text."""
    return words.say("aid.title"), f"{words.say('aid.text')} {words.say('aid.entries')}"


def sheet(words: Words, snapshot: Snapshot, desk: Desk, back: Button) -> Overlay:
    """One page of them; on the last what the panel is not, and the confirmation."""
    cards = [
        (words.say(f"caution.{code}.signal"), words.say(f"caution.{code}.text")) for code in ORDER
    ]
    cards.append(panel(words))
    pages = -(-len(cards) // PAGE)
    page = desk.page % pages
    if page == pages - 1 and wanted(snapshot):
        last = _confirm(words, snapshot)
    else:
        place = words.say("alarms.page", page=page + 1, pages=pages)
        last = Button(words.say("cautions.more"), place, opens="page", weight="main")
    return Overlay(
        kind="cautions",
        title=words.say("cautions.title"),
        lines=tuple(cards[page * PAGE : (page + 1) * PAGE]),
        buttons=(last,),
        back=back,
    )


def _confirm(words: Words, snapshot: Snapshot) -> Button:
    said, detail = words.say("cautions.confirm"), words.say("cautions.confirm_detail")
    return command(
        words, snapshot, "confirm_cautions", said, detail, hold=True, weight="main",
        cautions=ORDER, texts=digest(words),
    )  # fmt: skip
