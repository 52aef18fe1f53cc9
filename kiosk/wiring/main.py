"""``holdpoint wiring``: a gauge and the contacts of a machine, connected beside it.

Exit status 0 when all is as it should be, 1 when something does not answer or was not found, 2 for
a person's mistake.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from kiosk import owner, places
from kiosk.interlock.reading import Fault
from kiosk.mistakes import BadInput, Mistake
from kiosk.site import GaugeSite, InputOutput, Layout, Site, TextForm, load_site
from kiosk.site.layouts import shipped_layouts
from kiosk.site.wiring import ROLES
from kiosk.units import air_pressure_kpa
from kiosk.wiring import find, shown, watch
from kiosk.wiring.bench import Bench, ask_line, say_now
from kiosk.wiring.connections import connection_lines
from kiosk.wiring.contacts import LONGEST_HOLD_S, USUAL_HOLD_S, try_contacts
from kiosk.wiring.fit import PLAIN_TEXT, Candidate
from kiosk.wiring.signals import name_signals
from kiosk.wiring.sitetext import Found
from kiosk.wiring.source import Source, open_source
from kiosk.wiring.textargs import form_of, text_arguments
from kiosk.wiring.trouble import LOOK_AT
from kiosk.wiring.write import refuse_early, site_there, write_site
from kiosk.words import Words, load

REDRAW_S = 0.25
_CLEAR = "\x1b[H\x1b[J"  # ECMA-48: cursor home, erase to the end of the page
USUAL_ERROR_KPA = 1.0
_ONE_OWNER = (
    "Stop every guard that asks these devices, whatever its data folder: each has one owner."
)


def arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of ``holdpoint wiring``."""
    what = parser.add_argument_group("what to look at")
    what.add_argument("--site", metavar="FILE",
                      help="site file: show its gauges and inputs live")  # fmt: skip
    what.add_argument("--gauge", metavar="ADDRESS",
                      help="a gauge of unknown layout: modbus-tcp://host:port?unit=1, "
                      "modbus-rtu:///dev/ttyUSB0?unit=1 or serial:///dev/ttyUSB1")  # fmt: skip
    what.add_argument("--io", metavar="ADDRESS", help="a module of unknown inputs, for --write")
    what.add_argument("--data", metavar="DIR", help="data folder of the guard that must not run")
    step = parser.add_mutually_exclusive_group()
    step.add_argument("--contacts", action="store_true",
                      help="with --site: try each contact, at your typed word")  # fmt: skip
    step.add_argument("--connections", action="store_true",
                      help="with --site: say what to wire where, and end")  # fmt: skip
    parser.add_argument("--seconds", type=float, default=USUAL_HOLD_S, metavar="S",
                        help="with --contacts: closed so long, 1 to 5 (default: 4)")  # fmt: skip
    parser.add_argument("--once", action="store_true", help="show once, ask nothing, and end")
    parser.add_argument("--json", action="store_true", help="with --once: as one JSON object")
    _search_arguments(parser.add_argument_group("with --gauge"))
    text_arguments(parser.add_argument_group("with --gauge serial://..."))
    _write_arguments(parser.add_argument_group("keeping what was found"))


def _search_arguments(group: argparse._ArgumentGroup) -> None:
    group.add_argument("--first", type=int, default=0, metavar="N",
                       help="first register to read, zero based (default: 0)")  # fmt: skip
    group.add_argument("--count", type=int, default=16, metavar="N",
                       help="registers to read, 1 to 125 (default: 16)")  # fmt: skip
    group.add_argument("--tolerance-kpa", type=float, default=2.0, metavar="KPA",
                       help="how far the dial may be off (default: 2)")  # fmt: skip
    group.add_argument("--altitude-m", type=float, metavar="M",
                       help="of the workshop (default: of the site file, or 0)")  # fmt: skip


def _write_arguments(group: argparse._ArgumentGroup) -> None:
    group.add_argument("--write", metavar="FILE", help="put it into this site file, new or there")
    group.add_argument("--force", action="store_true", help="replace what has the same name there")
    group.add_argument("--name", default="table", help="name of the gauge (default: table)")
    group.add_argument("--role", default="table", choices=ROLES,
                       help="where the gauge is connected (default: table)")  # fmt: skip


def main(args: argparse.Namespace) -> int:
    """Do what the arguments ask for."""
    _refuse_mixed(args)
    if args.connections:
        say_now("\n".join(connection_lines(load_site(Path(args.site), unfinished=True))))
        return 0
    bench = Bench(time.monotonic, time.sleep, say_now, ask_line)
    with _sole_owner(args.data):
        if args.contacts:
            site = load_site(Path(args.site), unfinished=True)
            return 0 if try_contacts(site, bench, load(), args.seconds) else 1
        if args.gauge or args.io:
            return _find(args, bench, load())
        return _watch(load_site(Path(args.site), unfinished=True), args, bench, load())


def _bad(option: str, text: str) -> BadInput:
    return BadInput([Mistake(option, None, text)])


def _refuse_mixed(args: argparse.Namespace) -> None:
    """Refuse arguments that do not go together, each with its mend."""
    if (args.contacts or args.connections) and not args.site:
        raise _bad("--contacts" if args.contacts else "--connections", "add --site FILE")
    if not (args.site or args.gauge or args.io):
        raise _bad("wiring", "say what to look at: --site FILE or --gauge ADDRESS")
    if (args.contacts or args.connections) and (args.gauge or args.io):
        raise _bad("--gauge", "is for itself: leave out --contacts and --connections")
    if args.json and not args.once:
        raise _bad("--json", "goes with --once: add it")
    if args.io and not args.write:
        raise _bad("--io", "goes with --write FILE: add it")
    if args.write and not (args.gauge or args.io):
        raise _bad("--write", "writes what was found: add --gauge ADDRESS or --io ADDRESS")
    if args.write and args.once:
        raise _bad("--write", "needs a person's answers: leave out --once")
    _text_form(args)
    _refuse_numbers(args)


def _refuse_numbers(args: argparse.Namespace) -> None:
    if not (args.first >= 0 and 1 <= args.count <= 125 and args.first + args.count <= 65536):
        raise _bad("--first, --count", "name 1 to 125 registers from 0 to 65535")
    if not 1.0 <= args.seconds <= LONGEST_HOLD_S:
        raise _bad("--seconds", "write a number from 1 to 5")
    if not 0.1 <= args.tolerance_kpa <= 10.0:
        raise _bad("--tolerance-kpa", "write a number from 0.1 to 10")
    if args.altitude_m is not None and not -400.0 <= args.altitude_m <= 5000.0:
        raise _bad("--altitude-m", "write a number from -400 to 5000")
    if not (args.name.strip() and args.name.isprintable() and len(args.name) <= 40):
        raise _bad("--name", "write 1 to 40 plain characters")


@contextmanager
def _sole_owner(option: str | None) -> Iterator[None]:
    """No guard runs on the data folder while the devices are ours: each has one owner."""
    data = places.data_path(option)
    if sys.platform == "win32" or not data.is_dir():  # no guard was ever there
        yield
        return
    words = "a guard runs on this data folder: stop it first, since each device has one owner"
    with owner.hold(data, words):
        yield


# -- a site file's devices -------------------------------------------------------------------


def _watch(site: Site, args: argparse.Namespace, bench: Bench, words: Words) -> int:
    with watch.watching(site, bench.clock) as watched:
        if args.once:
            bench.pause(watch.ONCE_S)
        else:
            _live(watched, bench, words)
        watched.raise_failure()
        now_s = bench.clock()
        if args.json:
            bench.say(json.dumps(watch.data(watched, now_s)))
        elif args.once:
            bench.say("\n".join(watch.table(watched, now_s, words)))
        return 0 if watch.all_good(watched) else 1


def _live(watched: watch.Watched, bench: Bench, words: Words) -> None:
    """Draw again and again until Ctrl-C; on a terminal in place, else one below the other."""
    clear = _CLEAR if sys.stdout.isatty() else ""
    try:
        while True:
            bench.pause(REDRAW_S if clear else 4.0 * REDRAW_S)
            watched.raise_failure()
            shown_now = [*watch.table(watched, bench.clock(), words), _ONE_OWNER]
            bench.say(clear + "\n".join(shown_now))
    except KeyboardInterrupt:
        return


# -- a gauge of unknown layout ---------------------------------------------------------------


def _find(args: argparse.Namespace, bench: Bench, words: Words) -> int:
    site = load_site(Path(args.site), unfinished=True) if args.site else None
    target = None if args.write is None else Path(args.write)
    if target is not None:
        site = site_there(target) or site
        refuse_early(target, _expected(args), args.force)
    found = Found()
    if not args.once:
        bench.say(_ONE_OWNER)
    if args.gauge:
        layouts = tuple((shipped_layouts() if site is None else site.layouts).values())
        air_kpa = air_pressure_kpa(_altitude_m(args, site))
        source = open_source(args.gauge, args.first, args.count, _text_form(args), bench)
        try:
            if args.once:
                return _show_once(source, layouts, air_kpa, args, bench)
            search = find.Search(source, layouts, air_kpa, args.tolerance_kpa, bench, words)
            chosen = search.run()
        finally:
            source.close()
        if chosen is None:
            return 1
        found = _gauge_found(chosen, args, bench, layouts)
    return _keep(found, args, bench, words)


def _text_form(args: argparse.Namespace) -> TextForm | None:
    form = form_of(args)
    if not (args.gauge or "").startswith("serial:"):
        if form is not None:
            raise _bad("--gauge", "request, pattern and line ends are for a serial:// address")
        return None
    return form or TextForm()


def _keep(found: Found, args: argparse.Namespace, bench: Bench, words: Words) -> int:
    io = name_signals(args.io, bench, words) if args.io else None
    if args.io and io is None:
        return 1
    found = Found(found.gauge, found.layout, io, found.error_stated)
    if args.write is None:
        bench.say("Chosen. To keep it, call this again with --write FILE.")
    else:
        write_site(Path(args.write), found, args.force, bench.say)
    return 0


def _altitude_m(args: argparse.Namespace, site: Site | None) -> float:
    if args.altitude_m is not None:
        return float(args.altitude_m)
    return 0.0 if site is None else site.altitude_m


def _expected(args: argparse.Namespace) -> Found:
    """What will be written, as far as its names go."""
    gauge = GaugeSite(args.name, args.role, args.gauge, "register", "", 1.0) if args.gauge else None
    return Found(gauge, None, InputOutput(args.io) if args.io else None)


def _show_once(
    source: Source, layouts: tuple[Layout, ...], air_kpa: float, args: argparse.Namespace,
    bench: Bench,
) -> int:  # fmt: skip
    seen = source.read()
    if isinstance(seen, Fault):
        if args.json:
            fault = {"why": seen.why.value, "detail": seen.detail, "look_at": LOOK_AT[seen.why]}
            bench.say(json.dumps({"address": args.gauge, "fault": fault}))
        else:
            bench.say(find.no_answer(source, seen, load()))
        return 1
    tried = find.tried_for(layouts, seen, source.form)
    if args.json:
        data = {"address": args.gauge, "fault": None, "air_kpa": air_kpa}
        bench.say(json.dumps(data | shown.seen_data(seen, tried, air_kpa)))
    else:
        bench.say("\n".join(find.first_look(seen, tried, air_kpa)))
    return 0


def _gauge_found(
    chosen: Candidate, args: argparse.Namespace, bench: Bench, layouts: tuple[Layout, ...]
) -> Found:
    error_kpa = _error_kpa(bench) if args.write else None
    plain_text = chosen.text and chosen.layout.name == PLAIN_TEXT  # needs no layout
    new = None if plain_text or chosen.layout in layouts else chosen.layout
    gauge = GaugeSite(
        args.name, args.role, args.gauge, chosen.kind, "" if plain_text else chosen.layout.name,
        USUAL_ERROR_KPA if error_kpa is None else error_kpa,
    )  # fmt: skip
    return Found(gauge, new, None, error_kpa is not None)


def _error_kpa(bench: Bench) -> float | None:
    """The gauge's stated error that a person typed; None when it is to be filled in later."""
    while typed := bench.ask("The gauge's error in kPa, from its data sheet, or Enter for later"):
        try:
            error_kpa = float(typed)
        except ValueError:
            error_kpa = 0.0
        if 0.01 <= error_kpa <= 20.0:
            return error_kpa
        bench.say("Type a number from 0.01 to 20.")
    return None
