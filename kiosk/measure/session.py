"""What the measurements share: cautions, steps, the question whether to keep, the shop file."""

from __future__ import annotations

import argparse
import datetime
import sys
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from kiosk.measure.keep import SHOP_HEAD, put
from kiosk.measure.questions import Asker, Question
from kiosk.mistakes import BadInput, Mistake
from kiosk.places import data_path, is_there, shop_file
from kiosk.shop import Shop, load_shop
from kiosk.shop.reader import shop_from
from kiosk.toml_lines import TomlFile

_WIDE = 78
WHO = (
    Question("person", "Your initials or badge word", "text", longest=20),
    Question("conditions", "Conditions: surface, temperature, what else may matter", "text",
             longest=120),
)  # fmt: skip


def common_arguments(parser: argparse.ArgumentParser, questions: Sequence[Question]) -> None:
    """Options that answer questions, and those that every measurement has."""
    for question in (*questions, *WHO):
        question.add_to(parser)
    parser.add_argument(
        "--date", type=_day, help="the day of the test, 2026-01-31 (default: today)"
    )
    parser.add_argument("--cautions-read", action="store_true",
                        help="the cautions were read and are kept to")  # fmt: skip
    parser.add_argument("--keep", action="store_true", help="keep the number in its file")
    parser.add_argument("--keep-unusual", action="store_true",
                        help="keep it even when it is unlike all that is known")  # fmt: skip
    parser.add_argument("--data", metavar="DIR", help="the data folder")


def shop_arguments(parser: argparse.ArgumentParser) -> None:
    """Options of what goes into the shop file."""
    parser.add_argument("--shop", metavar="FILE",
                        help="the shop file (default: shop.toml in the data folder)")  # fmt: skip
    parser.add_argument("--materials", metavar="FILE", type=Path,
                        help="the shop's own materials, over the shipped ones")  # fmt: skip


def _day(text: str) -> datetime.date:
    try:
        return datetime.date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is no day: write 2026-01-31") from None


@dataclass(frozen=True, slots=True)
class Session:
    """One run of the command."""

    asker: Asker
    today: datetime.date

    @property
    def day(self) -> datetime.date:
        """The day of the test."""
        day: datetime.date | None = self.asker.args.date
        return self.today if day is None else day

    def say(self, words: str = "") -> None:
        """Words for the person, wrapped; lines that begin with a space are left as they are."""
        for line in words.split("\n"):
            self.asker.say(line if line.startswith(" ") else textwrap.fill(line, _WIDE))

    def cautions(self, title: str, rows: Sequence[str]) -> bool:
        """Show them; True when the person has read them and keeps to them.

        Where that is still missing and nobody is there to ask, they go where the mistakes go.
        """
        asked = self.asker.talks or self.asker.args.cautions_read
        say = self.asker.say if asked else _to_stderr
        lines = [textwrap.fill(r, _WIDE, initial_indent="! ", subsequent_indent="  ") for r in rows]
        for line in (title, "", *lines, ""):
            say(line)
        if self.asker.yes("cautions_read", "Read, and kept to?"):
            return True
        if not self.asker.talks:
            words = "is missing: read the cautions above, then say that they are kept to"
            self.asker.wrong("--cautions-read", words)
            return True  # told with all that is missing
        self.say("Nothing was measured.")
        return False

    def steps(self, rows: Sequence[str]) -> None:
        """Numbered steps, for a person who is there."""
        if not self.asker.talks:
            return
        self.say()
        for number, row in enumerate(rows, 1):
            self.asker.say(
                textwrap.fill(row, _WIDE, initial_indent=f"{number} ", subsequent_indent="  ")
            )
        self.say()

    def wants_to_keep(self, unusual: str | None) -> bool:
        """Whether the number goes into its file; ``unusual`` says why it is doubtful."""
        if unusual is None:
            return self.asker.yes("keep", "Keep this number?")
        self.say(f"Unusual: {unusual}")
        if self.asker.args.keep_unusual:
            return self.asker.yes("keep", "Keep this number?")
        if self.asker.talks:
            return self.asker.line("Keep it all the same? Type unusual, or n: ") == "unusual"
        if self.asker.args.keep:
            self.say("Not kept. When you are sure, add --keep-unusual.")
        return False

    @property
    def not_kept(self) -> int:
        """Exit status of a number that was shown and not kept: 1 when it was asked for."""
        return 1 if self.asker.args.keep else 0


@dataclass(frozen=True, slots=True)
class ShopSession(Session):
    """One whose number goes into the shop file."""

    shop_path: Path
    shop: Shop

    def keep(self, row: str) -> None:
        """Into the shop file.  Raises ``BadInput``."""
        put(self.shop_path, row, SHOP_HEAD, self._read)
        self.asker.say(f"Kept in {self.shop_path}")  # never wrapped: a path is copied whole
        named = self.asker.args.shop
        self.say(
            "From their next plan on it is used by check, sheet and guard where they have this "
            + ("--shop; by no other guard." if named else "data folder; by no other guard:")
        )
        if not named:
            self.asker.say(f"  --data {self.shop_path.parent}")

    def _read(self, file: TomlFile) -> Shop:
        """As a job would read it."""
        return shop_from(file, self.today, self.asker.args.materials)


def _to_stderr(line: str) -> None:
    print(line, file=sys.stderr)


def session_of(args: argparse.Namespace) -> Session:
    """The session of a command line."""
    session = Session(Asker(args, input if sys.stdin.isatty() else None), datetime.date.today())
    if session.day > session.today:
        words = f"{session.day} is after today: give the day of the test"
        raise BadInput([Mistake("--date", None, words)])
    return session


def shop_session_of(args: argparse.Namespace) -> ShopSession:
    """As ``session_of``; reads the shop file before anything is measured."""
    today = datetime.date.today()
    path = shop_file(data_path(args.data), args.shop)
    shop = load_shop(path if is_there(path) else None, today, args.materials)
    session = session_of(args)
    return ShopSession(session.asker, session.today, path, shop)
