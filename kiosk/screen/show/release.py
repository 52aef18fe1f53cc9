"""Release guide: when the part may be let go, at the machine's own control."""

from __future__ import annotations

from dataclasses import replace

from kiosk.interlock.snapshot import Snapshot
from kiosk.screen.show import numbers
from kiosk.screen.show.frame import command
from kiosk.screen.show.hold import finish_button
from kiosk.screen.show.scale import release_scale, vacuum_kpa, vented_kpa
from kiosk.screen.show.shown import Button, Desk, ReleaseShown, Row
from kiosk.words import Words


def body(words: Words, snapshot: Snapshot, desk: Desk) -> ReleaseShown:
    """RELEASE, or PART HELD with nothing confirmed."""
    shown = ReleaseShown(
        rows=_rows(words, snapshot),
        now=numbers.measured(words, vacuum_kpa(snapshot)),
        scale=release_scale(words, snapshot, desk),
    )
    if snapshot.state == "PART HELD":
        held, vent = words.say("release.held"), words.say("release.held_vent")
        return replace(shown, word=held, text=vent, tone="wait")
    stage = snapshot.release or "not_yet"
    return replace(
        shown,
        word=words.say(f"release.{stage}"),
        text=words.say(f"release.{stage}_do"),
        tone="wait" if stage == "not_yet" else "go",
    )


def _retake_words(words: Words, snapshot: Snapshot) -> str:
    """Which plan is taken up again, when the log has one; its id alone, which always fits."""
    kept = snapshot.details.get("kept")
    job = kept.get("job_id") if isinstance(kept, dict) else None
    if not job:
        return words.say("release.retake_detail")
    return words.say("release.retake_plan", job=job)


def _rows(words: Words, snapshot: Snapshot) -> tuple[Row, ...]:
    """Three things to become true, in order."""
    forbids = set(snapshot.forbids_release)
    known = "inputs_lost" not in forbids
    stopped = known and "cycle_running" not in forbids
    still = known and "standstill_unknown" not in forbids and stopped
    vacuum = vacuum_kpa(snapshot)
    below = vacuum is not None and vacuum < vented_kpa(snapshot)
    vented = snapshot.release == "vented" or (snapshot.state == "PART HELD" and below)
    facts = (
        ("row_cycle", stopped),
        ("row_standstill", still),
        ("row_vacuum", vented),
    )
    return tuple(_row(words, snapshot, name, true) for name, true in facts)


def _row(words: Words, snapshot: Snapshot, name: str, true: bool) -> Row:
    kpa = numbers.level(words, vented_kpa(snapshot))
    return Row(words.say(f"release.{name}", kpa=kpa), "yes" if true else "wait")


def buttons(words: Words, snapshot: Snapshot) -> tuple[Button, ...]:
    """Next part and job done; or the two ways on from a held part."""
    if snapshot.state == "PART HELD":
        retake = command(
            words, snapshot, "retake_plan", words.say("release.retake"),
            _retake_words(words, snapshot), hold=True, weight="main",
        )  # fmt: skip
        vent = finish_button(words, snapshot, words.say("release.vent"))
        return vent, retake
    done = command(words, snapshot, "job_done", words.say("release.done"), hold=True)
    again = command(
        words, snapshot, "next_part", words.say("release.next"),
        words.say("release.next_detail"), hold=True, weight="main",
    )  # fmt: skip
    return done, again
