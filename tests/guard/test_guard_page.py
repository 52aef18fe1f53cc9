"""docs/wire.md names every command, every key of a snapshot, and the limits as they are."""

from __future__ import annotations

import re
from dataclasses import fields
from pathlib import Path

from kiosk.guard import listener, server, shelf, wire
from kiosk.interlock.commands import Name
from kiosk.interlock.snapshot import Snapshot
from kiosk.limits import SCREEN_SILENT_S, STEP_S
from kiosk.link import HEARTBEAT_S

PAGE = (Path(__file__).resolve().parents[2] / "docs" / "wire.md").read_text(encoding="utf-8")
NAMED = set(re.findall(r"`([a-z_]+)`", PAGE))


def test_every_command_is_on_the_page() -> None:
    assert {str(name) for name in Name} <= NAMED


def test_every_key_of_a_snapshot_is_on_the_page() -> None:
    assert {field.name for field in fields(Snapshot)} <= NAMED


def test_the_numbers_on_the_page_are_those_of_the_code() -> None:
    assert (wire.LINE_CAP, "at most 64 KiB" in PAGE) == (64 * 1024, True)
    assert (wire.PLAN_CAP, "may have 4 MiB" in PAGE) == (4 * 1024 * 1024, True)
    assert (listener.STALL_S, "no byte for 5 s" in PAGE) == (5.0, True)
    assert (STEP_S, "every 50 ms" in PAGE) == (0.05, True)
    assert (HEARTBEAT_S, "every 0.5 s" in PAGE) == (0.5, True)
    assert (SCREEN_SILENT_S, "silent for 2 s" in PAGE) == (2.0, True)
    assert (server.CLIENTS_KEPT, "At most 16 clients" in PAGE) == (16, True)
    assert (server.COMMANDS_KEPT, "64 commands wait" in PAGE) == (64, True)
    assert (shelf.PLANS_KEPT, "last four plans" in PAGE) == (4, True)
    assert f'"format": {wire.FORMAT}' in PAGE
