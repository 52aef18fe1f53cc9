"""``holdpoint check JOB``: whether a job holds, what the gauge must show, why, what to change.

Exit status: 0 holds, 1 does not hold, 2 bad input.  What works it out is loaded after the first
word of progress.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from kiosk.job.progress import Told
from kiosk.loading import ctrl_c_later


def arguments(parser: argparse.ArgumentParser) -> None:
    """The words that follow ``check``."""
    parser.add_argument("job", metavar="JOB", type=Path, help="a job file, *.job.toml")
    parser.add_argument("--site", metavar="FILE", type=Path, required=True,
                        help="the site file of the machine, *.site.toml")  # fmt: skip
    parser.add_argument("--json", action="store_true", help="print one JSON object")
    shop_arguments(parser)
    parser.add_argument("--table", action="store_true",
                        help="print the ten program lines that need most vacuum")  # fmt: skip
    parser.add_argument("--spread", action="store_true",
                        help="print how sure the minimum is, and what moves it most")  # fmt: skip
    parser.add_argument("--why", action="store_true",
                        help="say what would lower the minimum, of a long program too")  # fmt: skip
    parser.add_argument("--data", metavar="DIR",
                        help="the data folder, for its shop.toml; nothing is written")  # fmt: skip


def main(args: argparse.Namespace) -> int:
    """Check one job; returns the exit status.  Raises ``BadInput`` for mistakes in the files."""
    told = Told(sys.stderr)
    told(0.0, "starting")
    try:
        with ctrl_c_later():
            from kiosk.job import checking

        plan, worked = checking.worked_of(args.job, args.site, lambda: checking.shop_of(args), told)
        told(0.99, "asking it again")
        answer = checking.answer(args, plan, worked)
    except KeyboardInterrupt:
        told.done()
        print("stopped: nothing was checked", file=sys.stderr)
        return 130  # as a shell tells a program that Ctrl-C ended
    finally:
        told.done()
    print(answer)
    return 0 if plan.verdict == "holds" else 1


def shop_arguments(parser: argparse.ArgumentParser) -> None:
    """Where the shop's own numbers are."""
    parser.add_argument("--shop", metavar="FILE",
                        help="the shop's own numbers (default: shop.toml in the data "
                        "folder, when it is there)")  # fmt: skip
    parser.add_argument("--materials", metavar="FILE", type=Path,
                        help="the shop's own materials, over the shipped ones")  # fmt: skip
