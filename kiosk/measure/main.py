"""The ``measure`` command: which of the two measurements is asked for."""

from __future__ import annotations

import argparse

from kiosk.measure import cutting, friction


def arguments(parser: argparse.ArgumentParser) -> None:
    """``measure friction`` and ``measure cutting``."""
    what = parser.add_subparsers(dest="what", metavar="WHAT", required=True)
    rows = (
        ("friction", friction, "friction of a part on its cups, from a pull or a tilt"),
        ("cutting", cutting, "cutting force of a material, from the spindle's power"),
    )
    for name, module, words in rows:
        sub = what.add_parser(name, help=words, description=words.capitalize() + ".")
        module.arguments(sub)
        sub.set_defaults(measure=module.main)


def main(args: argparse.Namespace) -> int:
    """Run the one that was asked for."""
    return int(args.measure(args))
