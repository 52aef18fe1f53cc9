"""Mutants that change nothing anyone can observe, each with the reason.

Key: module and the words of the change, as ``mutants.py`` prints them.
"""

from __future__ import annotations

EDGE = "equal: the edge stays within the microsecond that is forgiven"
SAME = "equal: the edge is put where it is"
QUIET = "equal: the event moves nothing in any state and is not in the log"
ROW = "equal: the event moves nothing in the other states and is not in the log"
CAME_THERE = "equal: no step comes there with the other answer, as the reason beside it says: "
NEEDS = "equal: a gauge needs something exactly when there is a minimum"

EQUAL: dict[tuple[str, str], str] = {
    ("timer", "passed_s >= limit_s - TINY_S  ->  passed_s > limit_s - TINY_S"): EDGE,
    ("step", "left_s <= TINY_S  ->  left_s < TINY_S"): EDGE,
    (
        "trend",
        "mark[0] - second[0][0] < POINT_S - 1e-06  ->  mark[0] - second[0][0] <= POINT_S - 1e-06",
    ): EDGE,
    ("timer", "age_s < limit_s - TINY_S  ->  age_s <= limit_s - TINY_S"): EDGE,
    ("measure", "True  ->  False"): "equal: the three times of each gauge are three",
    (
        "measure",
        "len(gauges) < 2 or plan is None or minimum_kpa is None  ->  "
        "len(gauges) < 2 or minimum_kpa is None",
    ): CAME_THERE + "without a plan there is no minimum",
    ("trend", "kpa < turn.edge_kpa  ->  kpa <= turn.edge_kpa"): SAME,
    ("trend", "kpa > turn.edge_kpa  ->  kpa >= turn.edge_kpa"): SAME,
    ("window", "marks[1][0] <= edge  ->  marks[1][0] < edge"): EDGE,
    ("window", "marks[first + 1][0] <= edge  ->  marks[first + 1][0] < edge"): EDGE,
    ("window", "marks[first][0] > edge  ->  marks[first][0] >= edge"): EDGE,
    (
        "window",
        "first > 0  ->  first >= 0",
    ): "equal: behind the first comes the newest mark, which is past the edge too",
    (
        "alarms",
        "turn.now_s >= until_s - TINY_S  ->  turn.now_s > until_s - TINY_S",
    ): EDGE,
    (
        "permissives",
        "-delays.FUTURE_S <= age_s <= LAST_COMMIT_S + delays.TINY_S  ->  "
        "-delays.FUTURE_S <= age_s < LAST_COMMIT_S + delays.TINY_S",
    ): EDGE,
    ("judge", "happen(turn, Event.ZONE_CONFIRMED)  ->  pass"): QUIET,
    ("judge", "happen(turn, Event.PART_CONFIRMED)  ->  pass"): QUIET,
    ("judge", "happen(turn, Event.ACKNOWLEDGED)  ->  pass"): QUIET,
    ("planning", "happen(turn, Event.PLAN_REFUSED)  ->  pass"): QUIET,
    (
        "judge",
        "isinstance(asked, str) and asked in names  ->  asked in names",
    ): "equal: names holds only words",
    (
        "judge",
        "name is None or name not in turn.memory.zones  ->  name not in turn.memory.zones",
    ): "equal: no zone is called None",
    (
        "judge",
        "not isinstance(listed, list | tuple) or plan is None  ->  "
        "not isinstance(listed, list | tuple)",
    ): CAME_THERE + "confirmed seats are those of a plan",
    (
        "step",
        "turn.state in _PROVED and permissives.is_unproved(turn)  ->  "
        "permissives.is_unproved(turn)",
    ): ROW,
    (
        "step",
        "turn.state in _BEFORE_START and (not confirmed)  ->  not confirmed",
    ): ROW,
    (
        "step",
        "turn.state is State.STARTING and _runs_unseen(turn)  ->  _runs_unseen(turn)",
    ): "equal: what ran unseen is asked only in the first round",
    (
        "step",
        "turn.state is State.LOW_HOLD and turn.lines.known and (not turn.hold.warns)  ->  "
        "turn.lines.known and (not turn.hold.warns)",
    ): ROW,
    (
        "step",
        "turn.state is State.SET_UP and turn.seats_confirmed and turn.memory.part_confirmed  ->  "
        "turn.seats_confirmed and turn.memory.part_confirmed",
    ): ROW,
    (
        "step",
        "turn.state is State.CHECKING and (not permissives.unmet(turn))  ->  "
        "not permissives.unmet(turn)",
    ): ROW,
    (
        "step",
        "turn.memory.service or facts.log.service  ->  facts.log.service",
    ): CAME_THERE + "service cannot begin before the first round",
    (
        "alarm_rows",
        "move.event is Event.FIRST_ROUND and move.after is State.HOLD_LOST  ->  "
        "move.event is Event.FIRST_ROUND",
    ): CAME_THERE + "what else its callers ask leads the first round into HOLD LOST",
    (
        "waivers",
        "not isinstance(check, str) or check not in CODES  ->  check not in CODES",
    ): "equal: CODES holds only words",
    (
        "publish",
        "needs_kpa is not None and minimum_kpa is not None  ->  "
        "needs_kpa is not None or minimum_kpa is not None",
    ): NEEDS,
    (
        "publish",
        "needs_kpa is not None and minimum_kpa is not None  ->  minimum_kpa is not None",
    ): NEEDS,
    (
        "publish",
        "needs_kpa is not None and minimum_kpa is not None  ->  needs_kpa is not None",
    ): NEEDS,
}
