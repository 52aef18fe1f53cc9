"""The ``measure`` command: which of the measurements is asked for."""

from __future__ import annotations

import argparse

from kiosk.measure import cutting, friction, leak


def arguments(parser: argparse.ArgumentParser) -> None:
    """``measure friction``, ``measure cutting`` and ``measure leak``."""
    what = parser.add_subparsers(dest="what", metavar="WHAT", required=True)
    rows = (
        ("friction", friction, "friction of a part on its cups, from a pull or a tilt"),
        ("cutting", cutting, "cutting force of a material, from the spindle's power"),
        ("leak", leak, "leak of one zone, from the fall of its vacuum"),
    )
    for name, module, words in rows:
        sub = what.add_parser(name, help=words, description=words.capitalize() + ".")
        module.arguments(sub)
        sub.set_defaults(measure=module.main)


def main(args: argparse.Namespace) -> int:
    """Run the one that was asked for."""
    return int(args.measure(args))
