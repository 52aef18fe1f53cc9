"""A bar-code reader that types like a keyboard: keys in, whole codes out.  No Kivy.

A reader sends a code's characters a few milliseconds apart, often with Enter, line feed or Tab
before or after (all set at the reader).  A code counts when its keys come fast, or when Enter ends
it.  Every other key does nothing at this screen.  A reader sends keys as a keyboard of the United
States layout unless it is told otherwise (common practice, no source).
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence

FAST_S = 0.1  # keys of a reader are closer than this
FORGET_S = 2.0  # keys further apart do not belong together
QUIET_S = 0.2  # after so long without a key, a fast code without an end counts as whole
LEAST, MOST = 2, 64  # characters of a code

ENTER = (13, 271)  # of the letters and of the number pad
_TAB, _LINE_FEED = 9, 10
_PAD = {256 + n: str(n) for n in range(10)} | {266: ".", 267: "/", 268: "*", 269: "-", 270: "+"}
_SHIFTED = dict(zip("`1234567890-=[]\\;',./", '~!@#$%^&*()_+{}|:"<>?', strict=True))


class Scanner:
    """Collects keys; ``got`` is called with each whole code."""

    def __init__(
        self, got: Callable[[str], None], clock: Callable[[], float] = time.monotonic
    ) -> None:
        self._got, self._clock = got, clock
        self._typed, self._last_s, self._fast = "", 0.0, True

    def on_key(
        self, _window: object, key: int, _scancode: int, _text: str | None, modifiers: Sequence[str]
    ) -> bool:
        """A key went down.  Always True: no key does anything else here."""
        now_s = self._clock()
        if self._typed and now_s - self._last_s > FORGET_S:
            self._drop()
        if key in ENTER:
            self._end()
        elif key in (_TAB, _LINE_FEED):
            self._end() if self._fast else self._drop()
        else:
            self._add(_character(key, modifiers), now_s)
        return True

    def look(self) -> None:
        """A code whose reader sends no end is whole after a silence; call it often."""
        quiet_s = self._clock() - self._last_s
        if self._typed and self._fast and quiet_s > QUIET_S:
            self._end()
        elif self._typed and quiet_s > FORGET_S:
            self._drop()

    def _add(self, character: str, now_s: float) -> None:
        if not character:
            return
        if self._typed and now_s - self._last_s >= FAST_S:
            self._fast = False
        self._typed, self._last_s = self._typed + character, now_s
        if len(self._typed) > MOST:
            self._drop()

    def _end(self) -> None:
        code = self._typed.strip()
        self._drop()
        if len(code) >= LEAST:
            self._got(code)

    def _drop(self) -> None:
        self._typed, self._fast = "", True


def _character(key: int, modifiers: Sequence[str]) -> str:
    """What a key types; empty for keys that type nothing."""
    if key in _PAD:
        return _PAD[key]
    if not 32 <= key < 127 or "ctrl" in modifiers or "alt" in modifiers:
        return ""
    typed = chr(key)
    if typed.isalpha():
        return typed.upper() if ("shift" in modifiers) != ("capslock" in modifiers) else typed
    return _SHIFTED.get(typed, typed) if "shift" in modifiers else typed
