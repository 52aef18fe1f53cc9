"""The catalogue: every code has words, no word claims what the program cannot know."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
import screen_scenes

from kiosk.interlock import alarms, permissives
from kiosk.interlock.codes import FORBIDS, REFUSALS, RELEASES, WAITING
from kiosk.interlock.commands import BYPASS_REASONS, RESET_CAUSES, SHELVE_REASONS
from kiosk.interlock.reading import Why
from kiosk.interlock.states import Flag, State
from kiosk.words import Words, load

WORDS = load()
ROOT = Path(__file__).resolve().parents[2]


def keys() -> list[str]:
    found = [f"state.{state.value.replace(' ', '_')}" for state in State]
    found += [f"flag.{flag.value.replace(' ', '_')}" for flag in Flag]
    found += [
        f"permissive.{code}.{part}" for code in permissives.CODES for part in ("title", "no", "do")
    ]
    found += [f"alarm.{code}.{part}" for code in alarms.CODES for part in ("title", "do")]
    found += [f"refused.{code}" for code in REFUSALS]
    found += [f"forbids.{code}" for code in FORBIDS]
    found += [f"reset_cause.{cause}" for cause in RESET_CAUSES]
    found += [f"bypass_reason.{reason}" for reason in BYPASS_REASONS]
    found += [f"shelve_reason.{reason}" for reason in SHELVE_REASONS]
    found += [f"waiting.{code}" for code in WAITING]
    found += [f"release.{code}{part}" for code in RELEASES for part in ("", "_do")]
    return found + [f"why.{why.value}" for why in Why]


@pytest.mark.parametrize("key", keys())
def test_every_code_has_words(key: str) -> None:
    assert WORDS.say(key).strip()
    assert key in WORDS


def test_the_scenes_use_the_codes_of_the_decision() -> None:
    assert permissives.CODES == screen_scenes.PERMISSIVES
    assert {row.code: row.priority for row in alarms.ROWS} == screen_scenes.ALARMS


# "Safe" is never said of anything; what the panel is not may be named.
ALLOWED = ("not a safety device", "no safety rating", "factor of safety", "safety factor")


@pytest.mark.parametrize("key", sorted(WORDS.rows))
def test_nothing_claims_what_the_program_cannot_know(key: str) -> None:
    said = WORDS.rows[key].lower().replace("\n", " ")
    for phrase in ALLOWED:
        said = said.replace(phrase, "")
    for claim in ("safe", "secure", "guarantee", "locked out", "isolated", "protect"):
        assert claim not in said, WORDS.rows[key]


def test_state_words_have_twelve_letters_at_most() -> None:
    # hmi practice: one word readable at a glance; 12 letters is our own limit, no source
    assert all(len(WORDS.say(f"state.{s.value.replace(' ', '_')}")) <= 12 for s in State)


def test_a_caution_card_has_thirty_five_words_at_most() -> None:
    # our own limit for a card, no source
    for key in WORDS.rows:
        if key.startswith("caution.") and key.endswith((".text", ".short")):
            assert len(WORDS.rows[key].split()) <= 35, key


def test_signal_words_are_those_of_ansi_z535() -> None:
    # ANSI Z535.4: DANGER, WARNING, CAUTION, NOTICE (from memory, high confidence)
    signals = {row for key, row in WORDS.rows.items() if key.endswith(".signal")}
    assert signals <= {"DANGER", "WARNING", "CAUTION", "NOTICE"}


def test_no_row_is_left_over() -> None:
    """Each key is named in the code, whole or by its family."""
    code = "\n".join(path.read_text() for path in (ROOT / "kiosk").rglob("*.py"))
    families = {
        "state", "flag", "permissive", "alarm", "refused", "forbids", "reset_cause", "why",
        "waiting", "caution", "zone", "tool", "step", "alarm_state", "scale", "sheet",
        "grade", "judged", "bypass_reason", "shelve_reason", "role", "result",
    }  # fmt: skip
    left = []
    for key in WORDS.rows:
        literal = f'"{key}"' in code or f"'{key}'" in code
        built = re.sub(r"_?(\d|limit)$", "", key)
        if not literal and key.split(".")[0] not in families and f'"{built}' not in code:
            left.append(key)
    assert set(left) <= BUILT


# Keys whose last part is put together in the code.
BUILT = {
    *(f"stop.step_{kind}_{n}" for kind in ("lost", "start") for n in range(1, 5)),
    *(f"release.{name}" for name in ("not_yet", "may_release", "vented", "not_yet_do",
                                     "may_release_do", "vented_do", "row_cycle",
                                     "row_standstill", "row_vacuum")),
}  # fmt: skip


def test_an_unknown_code_still_says_something() -> None:
    assert Words({}).say("permissive.gauge_fresh.title") == "title"
    assert WORDS.say("refused.some_new_code") == "some new code"
