"""What happens when a process dies, is silent or comes back.  Real processes, real kills."""

from __future__ import annotations

import re
import signal
import time
from pathlib import Path

import pytest
from whole_rig import Rig, eventually, holdpoint

from kiosk import link as links
from kiosk import places
from kiosk.demo import cycle, folder
from kiosk.demo.machine import Machine
from kiosk.guard.outlet import HUNG_S
from kiosk.link import Link
from kiosk.records import review

PULSE_RELAY_S = 1.0  # the plant's relay, as a real one is set: docs/wiring.md
STEP_S = 0.05  # of the plant's clock, a few of its own steps


def contacts(rig: Rig) -> dict[str, bool]:
    """As the machine sees them: through module and pulse relay."""
    return dict(rig.status()["contacts"])


@pytest.mark.long  # a fault story has it too
def test_when_the_guard_is_killed_in_the_cut_the_contacts_open_by_themselves(rig: Rig) -> None:
    rig.to_cutting()
    assert contacts(rig) == {"start_permit": True, "hold_healthy": True}
    rig.kill_guard()
    assert rig.held_for_s() <= PULSE_RELAY_S + STEP_S
    assert eventually(lambda: rig.status()["held_by_contact"], 1.0)
    assert rig.status()["vacuum_on"], "the hold is never taken away"


@pytest.mark.long  # a fault story has it too
def test_a_guard_restarted_while_the_cycle_runs_says_hold_lost(rig: Rig) -> None:
    rig.to_cutting()
    before = rig.epoch
    rig.play.act("fault", name="ignores_hold", on=True, face="machine")
    rig.kill_guard()
    assert eventually(lambda: not any(contacts(rig).values()), 3.0)
    rig.start_guard()
    shown = rig.play.until("a new epoch", lambda s: s.epoch != before, 10.0)
    shown = rig.play.state("HOLD LOST", 5.0)
    assert "A24" in [alarm.code for alarm in shown.alarms]
    assert not shown.outputs["start_permit"]
    assert not shown.outputs["hold_healthy"]
    assert rig.link.view().restarts == 1


def lost_in(log: Path, ident: str) -> bool:
    """Whether the loss is committed: a kill before that is another story."""
    return any(row.data.get("to") == "HOLD LOST" for row in review.events(log, ident))


def test_a_loss_stays_latched_over_a_kill_and_is_reset_afterwards(rig: Rig) -> None:
    ident = rig.to_cutting()
    cycle.lose(rig.play)
    log = places.log_file(rig.data)
    assert eventually(lambda: lost_in(log, ident), 5.0), "committed"
    before = rig.epoch
    rig.kill_guard()
    rig.start_guard()
    rig.play.until("a new epoch", lambda s: s.epoch != before, 10.0)
    shown = rig.play.state("HOLD LOST", 5.0)
    assert not any(shown.outputs[name] for name in ("start_permit", "hold_healthy"))
    cycle.reset(rig.play)
    assert holdpoint("log", "verify", "--data", str(rig.data)).returncode == 0
    assert holdpoint("log", "show", ident, "--data", str(rig.data)).returncode == 0


def test_a_guard_restarted_before_the_start_asks_for_the_whole_map_once(rig: Rig) -> None:
    rig.to_ready()
    plan, before = rig.play.now.plan, rig.epoch
    rig.kill_guard()
    rig.start_guard()
    rig.play.until("a new epoch", lambda s: s.epoch != before, 10.0)
    shown = rig.play.state("PART HELD", 5.0)
    assert not shown.outputs["start_permit"]
    rig.play.command("retake_plan")
    shown = rig.play.state("SET UP", 3.0)
    assert shown.plan == plan
    assert shown.map_kept
    assert not shown.part_confirmed
    rig.play.command("confirm_map")
    rig.play.command("confirm_part", warnings=list(shown.warnings))
    rig.play.state("READY", 15.0)


def test_a_command_of_the_old_epoch_is_refused(rig: Rig) -> None:
    rig.play.until("jobs", lambda s: bool(s.jobs), 20.0)
    old = rig.link.view()
    rig.kill_guard()
    rig.start_guard()
    rig.play.until("a new epoch", lambda s: s.epoch != old.epoch and bool(s.jobs), 20.0)
    rig.link._view = old  # a screen that has not looked since
    answer = rig.link.call("select_job", job=cycle.JOB)
    assert answer is not None
    assert answer.refused == "wrong_epoch"


@pytest.mark.long  # a fault story has it too
def test_a_silent_screen_withdraws_the_permit_within_two_seconds(
    rig: Rig, monkeypatch: pytest.MonkeyPatch
) -> None:
    watcher = Link(places.socket_file(rig.data), alive=False)
    watcher.start()
    rig.to_permit()
    monkeypatch.setattr(links, "HEARTBEAT_S", 3600.0)
    last = rig.play.until("the last heartbeat", lambda s: s.state == "PERMIT", 1.0)
    assert watcher.wait(lambda v: v.snapshot is not None and v.snapshot.state == "CHECKING", 12.0)
    found = watcher.view().snapshot
    assert found is not None
    assert found.at_s - last.at_s <= 2.0 + 0.5 + HUNG_S  # one heartbeat may still have been due
    assert eventually(lambda: not contacts(rig)["start_permit"], 0.5)
    shown = watcher.view().snapshot
    assert shown is not None
    assert [row.code for row in shown.permissives if row.code == "screen_there" and not row.holds]
    watcher.close()


@pytest.mark.long  # a fault story has it too
def test_a_screen_that_goes_in_the_cut_changes_nothing(rig: Rig) -> None:
    rig.to_cutting()
    watcher = Link(places.socket_file(rig.data), alive=False)
    watcher.start()
    rig.link.close()
    began = time.monotonic()
    assert watcher.wait(lambda v: v.snapshot is not None and time.monotonic() - began > 3.0, 5.0)
    shown = watcher.view().snapshot
    assert shown is not None
    assert shown.state == "CUTTING"
    assert contacts(rig) == {"start_permit": True, "hold_healthy": True}
    watcher.close()


@pytest.mark.long  # a fault story has it too
def test_when_the_machine_goes_and_comes_back_the_permit_is_withheld_until_proved_again(
    rig: Rig,
) -> None:
    rig.to_permit()
    ports = [rig.ready[key].rpartition(":")[2].split("?")[0] for key in ("gauge", "io")]
    rig.kill_plant()
    shown = rig.play.until("no data", lambda s: "NO DATA" in s.flags, 5.0)
    assert shown.state == "CHECKING"
    assert not shown.outputs["start_permit"]
    rig.restart_plant(*ports)
    shown = rig.play.until("data again", lambda s: "NO DATA" not in s.flags, 10.0)
    assert not shown.outputs["start_permit"]
    assert shown.state in ("CHECKING", "SET UP")


@pytest.mark.long  # a fault story has it too
def test_a_guard_that_hung_in_the_cut_opens_nothing_again_when_it_wakes(rig: Rig) -> None:
    rig.to_cutting()
    process = rig.children.running["guard"]
    stopped_s = time.monotonic()
    process.send_signal(signal.SIGSTOP)
    assert rig.held_for_s() <= PULSE_RELAY_S + STEP_S
    assert eventually(lambda: time.monotonic() - stopped_s > 1.5, 3.0)
    process.send_signal(signal.SIGCONT)
    closed = []
    assert eventually(
        lambda: closed.append(any(contacts(rig).values())) or process.poll() is not None, 5.0
    )
    assert not any(closed)
    assert process.returncode == 1
    assert "no step for" in (rig.data / "guard.log").read_text()


def test_a_machine_started_without_permit_is_said_and_latched(rig: Rig) -> None:
    cycle.begin(rig.play)
    cycle.set_up(rig.play, cycle.choose(rig.play))
    rig.play.act("cycle_start", force=True)
    shown = rig.play.state("NO PERMIT", 3.0)
    assert "A22" in [alarm.code for alarm in shown.alarms if alarm.latched]
    assert contacts(rig) == {"start_permit": False, "hold_healthy": False}
    rig.play.act("cycle_end")
    rig.play.until("reset is allowed", lambda s: not s.forbids_reset, 10.0)
    rig.play.command("reset", cause="wrong_start")
    shown = rig.play.state("SET UP", 3.0)
    assert not shown.part_confirmed


def test_without_machine_signals_the_guard_advises_and_gives_no_permit(tmp_path: Path) -> None:
    rig = Rig(tmp_path, lambda text: re.sub(r"\[io\].*(?=\[limits\])", "", text, flags=re.S))
    try:
        rig.to_ready()
        shown = rig.play.now
        assert "ADVICE ONLY" in shown.flags
        answer = rig.link.call("request_permit")
        assert answer is not None
        assert answer.refused == "advice_only"
        assert not any(rig.status()["coils"].values())
    finally:
        rig.close()


def test_told_to_end_the_guard_opens_the_contacts_at_once_and_closes_the_log(rig: Rig) -> None:
    rig.to_permit()
    process = rig.children.running.pop("guard")
    process.send_signal(signal.SIGTERM)
    assert process.wait(5.0) == 0
    assert rig.status()["coils"]["start_permit"] is False
    assert rig.status()["relay_closed"], "by the guard's own write, before the relay opened"
    assert holdpoint("log", "verify", "--data", str(rig.data)).returncode == 0


def test_a_second_guard_on_the_same_folder_is_refused_and_the_first_goes_on(rig: Rig) -> None:
    rig.play.until("jobs", lambda s: bool(s.jobs), 20.0)
    site = str(rig.data / folder.SITE_NAME)
    second = holdpoint("guard", "--site", site, "--data", str(rig.data))
    assert second.returncode == 2
    assert second.stderr.count("\n") == 1
    assert "another guard" in second.stderr
    seq = rig.play.now.seq
    rig.play.until("the first goes on", lambda s: s.seq > seq, 2.0)


def test_a_remote_that_is_gone_is_words_and_not_a_traceback(rig: Rig) -> None:
    with pytest.raises(Exception, match="no simulated machine"):
        Machine("127.0.0.1:9")
