"""What the views are given: every string and number ready to draw.  Plain data, no Kivy.

The maps and scales among it: ``drawn.py``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from kiosk.screen.book import Found
from kiosk.screen.show.drawn import CupMapShown, Record, Scale


@dataclass(frozen=True, slots=True)
class Button:
    """A touch place.  ``hold_s`` 0: acts on lift-off; else pressed so long, with a filling ring.

    ``command`` is sent to the guard; ``opens`` names an overlay or another act of the screen
    itself.  ``detail`` says what is confirmed, or why it cannot be pressed.  ``each`` names an
    argument of several values: the command is then sent once for each of them.
    """

    words: str = ""
    detail: str = ""
    command: str = ""
    arguments: tuple[tuple[str, object], ...] = ()
    opens: str = ""
    hold_s: float = 0.0
    enabled: bool = True
    weight: str = "plain"  # plain | main
    each: str = ""

    @property
    def act(self) -> tuple[object, ...]:
        """What it would do: a touch that began on another act does nothing on release."""
        return (self.command, self.arguments, self.opens, self.enabled)

    @property
    def commands(self) -> tuple[dict[str, Any], ...]:
        """Arguments of each command to send."""
        every: dict[str, Any] = dict(self.arguments)
        if not self.each:
            return (every,)
        return tuple({**every, self.each: value} for value in every[self.each])


@dataclass(frozen=True, slots=True)
class AlarmPlace:
    """The count of alarms as a place to touch.  ``priority`` 0: none."""

    words: str = ""
    priority: int = 0
    unseen: bool = False


@dataclass(frozen=True, slots=True)
class Flag:
    """What stands beside the state."""

    words: str = ""
    abnormal: bool = False


@dataclass(frozen=True, slots=True)
class Strip:
    """The fixed strip.  ``tone``: plain | permit | low | lost | dead."""

    word: str = ""
    tone: str = "plain"
    job: str = ""
    job_detail: str = ""
    job_id: str = ""
    flags: tuple[Flag, ...] = ()
    clock: str = ""
    site: str = ""
    steps: tuple[str, ...] = ()
    step: int = -1
    notice: str = ""
    line: str = ""  # second line of a tall strip
    person: str = ""  # who is signed on
    name: str = ""  # the same without the role, where there is little room


@dataclass(frozen=True, slots=True)
class Foot:
    """The caution of the step and what the panel is not."""

    signal: str = ""
    text: str = ""
    aid: str = ""


@dataclass(frozen=True, slots=True)
class Note:
    """A message in the rail.  ``priority`` 0: ordinary."""

    title: str = ""
    text: str = ""
    priority: int = 0


@dataclass(frozen=True, slots=True)
class Rail:
    """The lower edge, where hands go: alarms, details, a note, up to three buttons."""

    alarms: AlarmPlace = AlarmPlace()
    details: Button = Button()
    note: Note | None = None
    buttons: tuple[Button, ...] = ()


@dataclass(frozen=True, slots=True)
class Row:
    """A line with a mark: yes | no | wait | warn | bad | number text.  ``present``: to do now."""

    words: str
    mark: str = ""
    detail: str = ""
    button: Button | None = None
    present: bool = False


@dataclass(frozen=True, slots=True)
class ReadyShown:
    """STARTING and SELECT JOB."""

    title: str = ""
    detail: str = ""
    jobs: tuple[Row, ...] = ()
    rows: tuple[Row, ...] = ()  # what is waited for
    unusable: tuple[Row, ...] = ()  # files that cannot be used, beside the jobs
    refused: str = ""
    refused_text: str = ""
    refused_do: str = ""
    busy: bool = False


@dataclass(frozen=True, slots=True)
class SetupShown:
    """SET UP.  ``mode``: zones | part | kept."""

    mode: str = "zones"
    map: CupMapShown = CupMapShown()
    title: str = ""
    words: str = ""
    up_label: str = ""
    up: str = ""
    down_label: str = ""
    down: str = ""
    count: str = ""
    count_words: str = ""
    next: str = ""
    stays: tuple[str, ...] = ()
    rows: tuple[Row, ...] = ()
    warnings: tuple[Row, ...] = ()


@dataclass(frozen=True, slots=True)
class HoldShown:
    """CHECKING, READY, PERMIT, PAUSED."""

    map: CupMapShown = CupMapShown()
    why: str = ""
    percent: str = ""
    percent_sign: str = ""
    now: str = ""
    should: str = ""
    title: str = ""
    text: str = ""
    tone: str = "plain"  # plain | wait | go
    scale: Scale = Scale()


@dataclass(frozen=True, slots=True)
class WatchShown:
    """CUTTING, LOW HOLD."""

    percent: str = ""
    percent_sign: str = ""
    now: str = ""
    slope: str = ""
    left: str = ""
    near: bool = False  # so little time is left that it stands out, alarm or not
    extra: str = ""
    tone: str = "plain"
    scale: Scale = Scale()


@dataclass(frozen=True, slots=True)
class StopShown:
    """HOLD LOST, NO PERMIT."""

    first: str = ""
    more: str = ""
    percent: str = ""
    percent_sign: str = ""
    now: str = ""
    steps: tuple[Row, ...] = ()
    scale: Scale = Scale()


@dataclass(frozen=True, slots=True)
class ReleaseShown:
    """RELEASE, PART HELD."""

    word: str = ""
    text: str = ""
    rows: tuple[Row, ...] = ()
    now: str = ""
    tone: str = "plain"  # plain | wait | go
    scale: Scale = Scale()


@dataclass(frozen=True, slots=True)
class DeadShown:
    """The guard does not answer."""

    title: str = ""
    last: str = ""
    steps: tuple[Row, ...] = ()


Body = ReadyShown | SetupShown | HoldShown | WatchShown | StopShown | ReleaseShown | DeadShown


@dataclass(frozen=True, slots=True)
class AlarmRow:
    """One alarm in the list."""

    code: str
    priority: int
    title: str
    text: str
    facts: str
    button: Button | None
    seen: bool = False
    shelved: bool = False


@dataclass(frozen=True, slots=True)
class Keypad:
    """Keys in rows of three, who signs on, a dot for each digit, and a small line."""

    keys: tuple[Button, ...] = ()
    who: str = ""
    dots: str = ""
    said: str = ""


@dataclass(frozen=True, slots=True)
class Overlay:
    """A sheet over body and rail.

    ``kind``: alarms permissives table details cautions unusable causes people keypad cycles
    cycle.
    """

    kind: str = ""
    title: str = ""
    alarms: tuple[AlarmRow, ...] = ()
    rows: tuple[Row, ...] = ()
    lines: tuple[tuple[str, str], ...] = ()  # heading, text
    buttons: tuple[Button, ...] = ()
    empty: str = ""
    keypad: Keypad = Keypad()
    record: Record = Record()
    back: Button = Button()


@dataclass(frozen=True, slots=True)
class Shown:
    """The whole screen.  ``view``: ready setup hold watch stop release dead."""

    view: str
    strip: Strip
    foot: Foot
    rail: Rail
    body: Body
    overlay: Overlay | None = None


@dataclass(frozen=True, slots=True)
class Desk:
    """What only this screen knows.  ``silent_s``: since the newest snapshot came."""

    silent_s: float | None = None
    clock: str = ""
    utc_offset_s: int = 0
    notice: str = ""
    sign_on: str = ""  # what became of a sign-on, as long as it is said
    reads_only: bool = False  # another screen holds the right to command
    overlay: str = ""
    page: int = 0
    cause: str = ""
    ticked: frozenset[str] = frozenset()
    about: str = ""  # check or alarm that a reason is picked for, or cycle
    has_book: bool = False  # past cycles can be read
    book: Found | None = None  # what was read of them last
    people: tuple[Mapping[str, Any], ...] = ()  # who may sign on
    who: str = ""  # the name that was picked
    typed: int = 0  # digits of a PIN
    trace: tuple[tuple[float, float] | None, ...] = ()
