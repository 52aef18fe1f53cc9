"""Everything is born "no" or unknown: what nobody has said yet withholds.

The values are typed here a second time.  ``log_latched`` and ``loss_near`` are the two flags of
which "yes" withholds; a condition of the permit counts in a pause unless it is said not to.
"""

from __future__ import annotations

from dataclasses import MISSING, fields
from math import inf
from typing import Any

import pytest

from kiosk.interlock.alarm_rows import AlarmRow
from kiosk.interlock.alarms import Alarm
from kiosk.interlock.decision import Outputs
from kiosk.interlock.doubt import Doubt
from kiosk.interlock.facts import Facts, GaugeSetting, JobOffer, LogFacts, PeopleFacts, PlanFacts
from kiosk.interlock.judge import CommandRow
from kiosk.interlock.measure import Seen
from kiosk.interlock.memory import Cycle, Link, Memory
from kiosk.interlock.permissives import Permissive
from kiosk.interlock.snapshot import AlarmShown, PermissiveShown, Snapshot
from kiosk.interlock.states import State
from kiosk.interlock.supply import Supply
from kiosk.interlock.table import Known
from kiosk.interlock.timer import Timer
from kiosk.interlock.trend import Trend
from kiosk.interlock.trend import Turn as TurnOfTrend
from kiosk.interlock.turn import Turn
from kiosk.interlock.watch import Hold, Warnings, Watch
from kiosk.interlock.window import Window

# What is not born None, empty or False.
ELSE: dict[type[Any], dict[str, object]] = {
    Known: {"log_latched": True, "loss_ratio": 1.0, "loss_near": True},
    Permissive: {"in_pause": True, "before_s": 0.0},
    Memory: {"state": State.STARTING, "entered_s": 0.0, "seq": 0, "cycles": 0},
    Cycle: {"cutting_s": 0.0},
    Facts: {"loop_late_s": 0.0},
    Doubt: {"still_s": 0.0},
    GaugeSetting: {"frozen_s": 30.0},
    AlarmRow: {"on_s": 0.0, "off_s": 0.0},
    TurnOfTrend: {"edge_kpa": 0.0, "before_kpa": 0.0, "at_s": -inf},
    **{
        kind: {}
        for kind in (Alarm, AlarmShown, CommandRow, Hold, JobOffer, Link, LogFacts, Outputs,
                     PeopleFacts, PermissiveShown, PlanFacts, Seen, Snapshot, Supply, Timer, Trend,
                     Turn, Warnings, Watch, Window)
    },
}  # fmt: skip
PLAIN = (bool, int, float, str, type(None), tuple, frozenset)


@pytest.mark.parametrize("kind", list(ELSE), ids=lambda kind: f"{kind.__module__}.{kind.__name__}")
def test_it_is_born_no_or_unknown(kind: type[Any]) -> None:
    born = {field.name: field.default for field in fields(kind)}
    plain = {n: v for n, v in born.items() if v is not MISSING and isinstance(v, PLAIN)}
    expected = ELSE[kind]
    assert {name: plain[name] for name in expected} == expected
    for name in plain.keys() - expected.keys():
        unsaid = plain[name] is None or plain[name] is False
        assert unsaid or plain[name] in ("", (), frozenset()), name


def test_what_is_not_known_is_not_met() -> None:
    assert Known().unmet
