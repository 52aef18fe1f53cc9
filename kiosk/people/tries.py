"""What wrong tries cost: a wait that doubles, and in the end a lock.

Own choice within the bounds of NIST SP 800-63B, section 3.2.2 (from memory: never more than 100
tries on end, a growing wait of 30 s up to an hour).  Alarms and permit never wait for it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

FREE = 3  # wrong tries that cost nothing but the last of them
LOCKED_AT = 10
FIRST_WAIT_S, LONGEST_WAIT_S = 30.0, 3600.0


def wait_s(wrong: int) -> float:
    """The wait after so many wrong tries on end, in s."""
    if wrong < FREE:
        return 0.0
    if wrong >= LOCKED_AT:  # a file may hold any count, and 2 to its power need not be a number
        return LONGEST_WAIT_S
    return min(FIRST_WAIT_S * 2.0 ** (wrong - FREE), LONGEST_WAIT_S)


@dataclass(frozen=True, slots=True)
class Tries:
    """Wrong tries on end by a person's mark; and until when each must wait, monotonic seconds."""

    wrong: Mapping[str, int] = field(default_factory=dict)
    until_s: Mapping[str, float] = field(default_factory=dict)

    def is_locked(self, mark: str) -> bool:
        """Whether only an unlocking helps."""
        return self.wrong.get(mark, 0) >= LOCKED_AT

    def left_s(self, mark: str, now_s: float) -> float:
        """How long this person must still wait, in s."""
        return max(0.0, self.until_s.get(mark, 0.0) - now_s)

    def failed(self, mark: str, now_s: float) -> Tries:
        """One more wrong try."""
        count = self.wrong.get(mark, 0) + 1
        until_s = {**self.until_s, mark: now_s + wait_s(count)}
        return Tries({**self.wrong, mark: count}, until_s)

    def forgiven(self, mark: str) -> Tries:
        """A right try, or an unlocking."""
        kept = {key: count for key, count in self.wrong.items() if key != mark}
        return replace(self, wrong=kept, until_s={**self.until_s, mark: 0.0})


def after_restart(wrong: Mapping[str, int], now_s: float) -> Tries:
    """Tries as they were kept: the wait begins anew, so that switching off does not shorten it.

    More than lock a person are as many as lock one: no count of a damaged file grows further.
    """
    kept = {mark: min(count, LOCKED_AT) for mark, count in wrong.items()}
    return Tries(kept, {mark: now_s + wait_s(count) for mark, count in kept.items()})
