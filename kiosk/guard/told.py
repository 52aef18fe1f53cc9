"""An alarm's row for the log with the words that the screen shows for it."""

from __future__ import annotations

from dataclasses import replace

from kiosk.interlock.decision import Note
from kiosk.words import Words

LANGUAGE = "en"  # the catalogue that ``kiosk.words.load`` gives


def with_text(note: Note, words: Words) -> Note:
    """The note itself, or an alarm's with its title and their language."""
    if note.kind != "alarm":
        return note
    text = words.say(f"alarm.{note.data['code']}.title")
    return replace(note, data={**note.data, "text": text, "language": LANGUAGE})
