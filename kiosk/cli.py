"""The ``holdpoint`` command.  Each subcommand lives in a module that is imported only when asked.

Such a module has ``arguments(parser)`` and ``main(args) -> exit status``.
"""

from __future__ import annotations

import argparse
import importlib
import os
import sys
from collections.abc import Sequence
from dataclasses import dataclass

from kiosk.loading import ctrl_c_later
from kiosk.mistakes import BadInput


@dataclass(frozen=True, slots=True)
class Subcommand:
    """A row of the command table."""

    name: str
    module: str
    help: str


SUBCOMMANDS = (
    Subcommand("demo", "kiosk.demo", "run everything on this computer with a simulated machine"),
    Subcommand("check", "kiosk.job.check", "say whether a job holds, and why"),
    Subcommand("sheet", "kiosk.job.sheet", "put a job on paper for the shop floor"),
    Subcommand("measure", "kiosk.measure.main", "measure friction, cutting force and leaks"),
    Subcommand("guard", "kiosk.guard.main", "run the guard of one machine"),
    Subcommand("screen", "kiosk.screen.main", "run the screen of one machine"),
    Subcommand("wiring", "kiosk.wiring.main", "connect a gauge and the contacts of a machine"),
    Subcommand("people", "kiosk.people.main", "say who may sign on at a machine"),
    Subcommand("log", "kiosk.records.commands", "list and show logged cycles"),
    Subcommand("plant", "hardware.plant.main", "run the simulated machine"),
)


def parser_for(words: Sequence[str]) -> argparse.ArgumentParser:
    """The parser, with the arguments of the one subcommand that ``words`` asks for."""
    parser = argparse.ArgumentParser(
        prog="holdpoint",
        description="Proof of vacuum hold before a CNC router may start. An operating aid, "
        "not a safety device.",
    )
    rows = parser.add_subparsers(dest="subcommand", metavar="COMMAND", required=True)
    asked = next((word for word in words if not word.startswith("-")), None)
    for row in SUBCOMMANDS:
        sub = rows.add_parser(row.name, help=row.help, description=row.help.capitalize() + ".")
        if row.name == asked:
            with ctrl_c_later():
                module = importlib.import_module(row.module)
            module.arguments(sub)
            sub.set_defaults(run=module.main)
    return parser


def main(words: Sequence[str] | None = None) -> int:
    """Run one command line; returns the exit status: 0 good, 1 no, 2 bad input."""
    words = sys.argv[1:] if words is None else words
    try:
        args = parser_for(words).parse_args(words)
        status = int(args.run(args))
        sys.stdout.flush()
        return status
    except BadInput as bad:
        print(bad, file=sys.stderr)
        return 2
    except KeyboardInterrupt:
        return 130
    except BrokenPipeError:  # the reader of our output, such as head, has seen enough
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 141  # as the shell counts a program that SIGPIPE ended: 128 + 13
