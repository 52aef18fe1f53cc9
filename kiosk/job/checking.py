"""What ``holdpoint check`` and ``holdpoint sheet`` do: files to a plan, and a plan to the answer.

Loading this takes a while: numbers, shapes and drawings come with it.
"""

from __future__ import annotations

import argparse
import datetime
import json
from collections.abc import Callable
from pathlib import Path

from kiosk.job.answer_json import as_json
from kiosk.job.answer_text import as_text
from kiosk.job.cures import explained
from kiosk.job.files import Progress, read_files, silent
from kiosk.job.plan import Plan
from kiosk.job.planning import work_out
from kiosk.job.resolve import Worked
from kiosk.job.spread import spread_of
from kiosk.job.spread_table import spread_as_json, spread_as_text
from kiosk.job.table import as_table
from kiosk.mistakes import BadInput, Mistake
from kiosk.places import data_path, shop_file_if_any
from kiosk.shop import Shop, load_shop
from kiosk.site import load_site


def answer(args: argparse.Namespace, plan: Plan, worked: Worked) -> str:
    """What the options ask for, as text."""
    if args.spread:
        spread = spread_of(worked)
        told = json.dumps(spread_as_json(spread), allow_nan=False)
        return told if args.json else spread_as_text(spread)
    if args.table and not args.json:
        return as_table(plan)
    plan = explained(plan, worked, args.why)
    return json.dumps(as_json(plan), allow_nan=False) if args.json else as_text(plan)


def shop_of(args: argparse.Namespace) -> Shop:
    """The shop that the options name.  Raises ``BadInput``."""
    path = shop_file_if_any(data_path(args.data), args.shop)
    return load_shop(path, datetime.date.today(), args.materials)


def plan_of(
    job: Path, site: Path, shop: Callable[[], Shop] | None = None, progress: Progress = silent
) -> Plan:
    """As ``worked_of``, the plan alone."""
    return worked_of(job, site, shop, progress)[0]


def worked_of(
    job: Path, site: Path, shop: Callable[[], Shop] | None = None, progress: Progress = silent
) -> tuple[Plan, Worked]:
    """The plan, with the mistakes of all files told together; ``shop`` reads the shop's own."""
    mistakes: list[Mistake] = []
    machine = own = None
    try:
        machine = load_site(site)
    except BadInput as bad:
        mistakes.extend(bad.mistakes)
    try:
        own = None if shop is None else shop()
    except BadInput as bad:
        mistakes.extend(bad.mistakes)
    try:
        if machine is not None and not mistakes:
            return work_out(job, machine, progress, shop=own)
        read_files(job, own or load_shop(None, datetime.date.today()))
    except BadInput as bad:
        mistakes.extend(bad.mistakes)
    raise BadInput(mistakes)
