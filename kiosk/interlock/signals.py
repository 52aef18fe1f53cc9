"""Machine signals and contacts: known whole, or not known at all."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from kiosk.interlock import delays
from kiosk.interlock.decision import Outputs
from kiosk.interlock.facts import Facts
from kiosk.interlock.memory import Link
from kiosk.interlock.reading import Signals, SignalSample
from kiosk.interlock.timer import is_young

PERMIT_CONTACTS = ("start_permit", "hold_healthy")  # ALIVE and BEACON change too often to compare


@dataclass(frozen=True, slots=True)
class Lines:
    """What the machine's wires say now.  ``known`` is False as soon as anything wired is not."""

    known: bool
    inputs: Mapping[str, bool]
    contacts: Mapping[str, bool]

    def said(self, name: str) -> bool | None:
        """An input; None when it is not wired or anything wired is not known."""
        return self.inputs.get(name) if self.known else None


def _values(
    sample: SignalSample | None, names: Iterable[str], now_s: float, stale_s: float
) -> dict[str, bool] | None:
    """All the named signals, or None when one of them is absent, stale or doubtful."""
    if not isinstance(sample, Signals):
        return None
    age_s = now_s - sample.taken_s  # no number is neither ahead nor young
    if age_s < -delays.FUTURE_S or not is_young(age_s, stale_s):
        return None
    values = {name: sample.values.get(name) for name in names}
    sound = {name: value for name, value in values.items() if value is True or value is False}
    return sound if len(sound) == len(values) else None


def lines_of(facts: Facts) -> Lines:
    """The wires of this step.  A site without wires knows all there is: nothing."""
    site, stale_s = facts.site, facts.site.limits.stale_s
    inputs: dict[str, bool] | None = {}
    if site.inputs:
        inputs = _values(facts.inputs, site.inputs, facts.now_s, stale_s)
    wired = [name for name in PERMIT_CONTACTS if name in site.outputs]
    contacts: dict[str, bool] | None = {}
    if wired:
        contacts = _values(facts.contacts, wired, facts.now_s, stale_s)
    known = inputs is not None and contacts is not None
    return Lines(known, inputs or {}, contacts or {})


def follow(link: Link, lines: Lines, facts: Facts, written: Outputs) -> Link:
    """The memory of the wires after one more look; ``running`` is left to the events."""
    now_s = facts.now_s
    if not lines.known:
        since_s = now_s if link.lost_since_s is None else link.lost_since_s
        return replace(
            link,
            inputs_seen=link.inputs_seen or bool(lines.inputs),
            contacts_seen=link.contacts_seen or bool(lines.contacts),
            lost_since_s=since_s,
        )
    wrong = _is_wrong(lines, written)
    return replace(
        link,
        whole_s=_whole_s(facts),
        inputs_seen=True,
        contacts_seen=True,
        lost_since_s=None,
        wrong_since_s=None if not wrong else _first(link.wrong_since_s, now_s),
    )


def _first(since_s: float | None, now_s: float) -> float:
    return now_s if since_s is None else since_s


def _whole_s(facts: Facts) -> float:
    """When everything wired was last known: the older of the two answers."""
    samples = (facts.inputs, facts.contacts)
    taken = [sample.taken_s for sample in samples if isinstance(sample, Signals)]
    return min(taken, default=facts.now_s)


def _is_wrong(lines: Lines, written: Outputs) -> bool:
    """Whether a read-back, or the feedback of the permit contact, is unlike what was written."""
    wanted = {"start_permit": written.start_permit, "hold_healthy": written.hold_healthy}
    if any(value != wanted[name] for name, value in lines.contacts.items()):
        return True
    feedback = lines.inputs.get("contact_feedback")
    return feedback is not None and feedback != written.start_permit
