"""``holdpoint log``: list, show, replay, export and verify what was logged.  Reads only."""

from __future__ import annotations

import argparse
import hashlib
import json
import os
import sys
from collections.abc import Iterator
from dataclasses import asdict
from pathlib import Path

from kiosk import places
from kiosk.mistakes import BadInput, Mistake
from kiosk.records import export, review, show
from kiosk.records.open import library_words
from kiosk.records.verify import Verdict, verify


def _common() -> argparse.ArgumentParser:
    parent = argparse.ArgumentParser(add_help=False)
    parent.add_argument("--data", metavar="DIR", help="data folder that holds the log")
    return parent


def _site_option(parser: argparse.ArgumentParser) -> None:
    words = "only cycles that were planned with this site file as it is now"
    parser.add_argument("--site", metavar="FILE", help=words)


def _json_option(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--json", action="store_true", help="print one JSON object")


def arguments(parser: argparse.ArgumentParser) -> None:
    """Arguments of ``holdpoint log``."""
    rows = parser.add_subparsers(dest="log_command", metavar="WHAT", required=True)
    common = _common()
    listing = rows.add_parser("list", parents=[common], help="the last cycles, newest first")
    listing.add_argument("--limit", type=_positive, default=20, metavar="N", help="how many (20)")
    _site_option(listing)
    _json_option(listing)
    shown = rows.add_parser("show", parents=[common], help="the whole record of one cycle")
    shown.add_argument("cycle", metavar="ID", help="id or number of the cycle, or: last")
    _json_option(shown)
    again = rows.add_parser(
        "replay", parents=[common], help="decide one cycle again from its facts, and compare"
    )
    again.add_argument("cycle", metavar="ID", help="id or number of the cycle, or: last")
    _json_option(again)
    out = rows.add_parser("export", parents=[common], help="CSV for a spreadsheet")
    out.add_argument("what", choices=("cycles", "events", "trace"))
    out.add_argument("--cycle", metavar="ID", help="only this cycle; a trace needs it")
    out.add_argument("--out", metavar="FILE", help="a new file; else to the terminal")
    _site_option(out)
    checked = rows.add_parser(
        "verify", parents=[common], help="name the first record that was changed"
    )
    checked.add_argument("--noted", metavar="LINK", help="a link noted earlier that must be there")
    _json_option(checked)


def _positive(text: str) -> int:
    if not text.isdecimal() or int(text) < 1:
        raise argparse.ArgumentTypeError(f"{text!r} is not a whole number of at least 1")
    return int(text)


def _site_digest(option: str | None) -> str | None:
    if option is None:
        return None
    try:
        return hashlib.sha256(Path(option).read_bytes()).hexdigest()
    except OSError as error:
        raise BadInput([Mistake(option, None, f"cannot be read: {error.strerror}")]) from error


def _list(args: argparse.Namespace, path: Path) -> int:
    rows = review.cycles(path, args.limit, _site_digest(args.site))
    if args.json:
        print(json.dumps({"format": 1, "cycles": [asdict(row) for row in rows]}))
    elif rows:
        print("\n".join(show.cycle_table(rows)))
    else:
        print("No cycles yet.")
    return 0


def _show(args: argparse.Namespace, path: Path) -> int:
    if args.json:
        print(json.dumps(show.cycle_json(path, args.cycle)))
    else:
        print(show.cycle_text(path, args.cycle))
    return 0


def _replay(args: argparse.Namespace, path: Path) -> int:
    from kiosk.records.replay import replay

    done = replay(path, args.cycle)
    if args.json:
        print(json.dumps({"format": 1, **asdict(done)}))
    else:
        what = f"cycle {done.cycle}: {done.steps} steps, {done.events} events decided again"
        print(what if done.whole else f"{what}; the facts end before the cycle does")
        print("\n".join(done.differences) or "Every decision is the same.")
    return 1 if done.differences else 0


def _trace_rows(path: Path, key: str | None) -> Iterator[export.Row]:
    if key is None:
        raise BadInput([Mistake(str(path), None, "name the cycle of the trace: --cycle ID")])
    from_ms, to_ms = show.window(path, review.cycle(path, key).cycle)
    for k, channel in enumerate(review.channels(path)):
        rows = export.sample_rows(path, channel, from_ms, to_ms)
        if k:
            next(rows)  # one head is enough
        yield from rows


def _rows(args: argparse.Namespace, path: Path) -> Iterator[export.Row]:
    match args.what:
        case "cycles":
            return export.cycle_rows(path, _site_digest(args.site))
        case "events":
            key = args.cycle and review.cycle(path, args.cycle).cycle.id
            return export.event_rows(path, key)
    return _trace_rows(path, args.cycle)


def _export(args: argparse.Namespace, path: Path) -> int:
    strange = args.cycle if args.what == "cycles" else args.site
    if strange is not None:
        option = "--cycle" if args.what == "cycles" else "--site"
        raise BadInput([Mistake(option, None, f"does not go with {args.what}; leave it out")])
    rows = _rows(args, path)
    if args.out is None:
        export.write(rows, sys.stdout)
        return 0
    first = next(rows)  # trouble with the log comes before the file is made
    try:
        with Path(args.out).open("x", encoding="utf-8", newline="") as file:
            count = export.write(_again(first, rows), file)
    except OSError as error:
        words = f"cannot be written: {error.strerror}; name a new file"
        raise BadInput([Mistake(args.out, None, words)]) from error
    print(f"{count} rows written to {args.out}")
    return 0


def _again(first: export.Row, rest: Iterator[export.Row]) -> Iterator[export.Row]:
    yield first
    yield from rest


def _verdict_text(verdict: Verdict, path: Path) -> str:
    rows = ((verdict.events, "event"), (verdict.cycles, "cycle"), (verdict.chunks, "trace chunk"))
    counts = ", ".join(f"{n} {word}" if n == 1 else f"{n} {word}s" for n, word in rows)
    if verdict.broken is not None:
        broken = verdict.broken
        return f"{path}: {counts}. First that does not fit: {broken.record}: {broken.words}."
    link = "" if verdict.head is None else f"\nNewest link: {verdict.head}"
    return (
        f"{path}: {counts}, each as it was written.{link}\n"
        "This shows a change to a record, not that nobody could make one. Note the first 8 "
        "characters\nof the link outside this computer; ask for them later with --noted."
    )


def _verify(args: argparse.Namespace, path: Path) -> int:
    verdict = verify(path, args.noted)
    if args.json:
        print(json.dumps({"format": 1, "library": library_words(), **asdict(verdict)}))
    else:
        print(_verdict_text(verdict, path))
        print(library_words())
    return 0 if verdict.broken is None else 1


_RUN = {"list": _list, "show": _show, "replay": _replay, "export": _export, "verify": _verify}


def main(args: argparse.Namespace) -> int:
    """Run ``holdpoint log``; 0 good, 1 a record does not fit, 2 bad input."""
    try:
        status = _run(args)
        sys.stdout.flush()
        return status
    except BrokenPipeError:  # the reader of our output, such as head, has seen enough
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0


def _run(args: argparse.Namespace) -> int:
    if args.data is not None and not Path(args.data).expanduser().is_dir():
        raise BadInput([Mistake(args.data, None, "is no folder; name the data folder: --data")])
    path = places.log_file(places.data_dir(args.data))
    return _RUN[args.log_command](args, path)
