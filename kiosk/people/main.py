"""``holdpoint people``: who may sign on at this machine.  Run by whoever looks after the machine.

Only this command writes the people file.  A running guard sees a change within a second and logs
it.
"""

from __future__ import annotations

import argparse
import contextlib
import getpass
import secrets
import sys
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

from kiosk import owner, places
from kiosk.mistakes import BadInput, Mistake
from kiosk.people import secret, store
from kiosk.people.person import NAME_CAP, OPERATOR, ROLES, People, Person

PIN_TRIES = 3  # on a terminal
BUSY = "another command changes the people of this folder: wait for it to end"


def arguments(parser: argparse.ArgumentParser) -> None:
    """The arguments of ``holdpoint people``."""
    parser.add_argument("--data", metavar="DIR", help="data folder of the machine")
    acts = parser.add_subparsers(dest="act", metavar="ACT", required=True)
    acts.add_parser("list", help="names, roles, and what each signs on with")
    for name, text in (
        ("add", "add a person"), ("pin", "give a new PIN"), ("badge", "give another badge"),
        ("role", "give another role"), ("unlock", "let a locked person try again"),
        ("remove", "remove a person"),
    ):  # fmt: skip
        act = acts.add_parser(name, help=text, description=text.capitalize() + ".")
        act.add_argument("name", metavar="NAME", help=f"as it is shown, up to {NAME_CAP} letters")
        if name in ("add", "role"):
            act.add_argument("--role", required=True, choices=ROLES)
        if name in ("add", "pin"):
            act.add_argument("--issue", action="store_true",
                             help="draw a PIN by lot and print it once")  # fmt: skip


def main(args: argparse.Namespace) -> int:
    """Do one act; 2 with one message when it cannot be done."""
    data = places.data_dir(args.data)
    path = store.people_file(data)
    if args.act == "list":
        _print(store.read(path) or People())
        return 0
    with _alone(data):
        before = store.read(path) or People()
        if not before.salt:
            before = replace(before, salt=secrets.token_hex(16))
        try:
            after = _ACTS[args.act](before, args)
            store.write(path, after)
        except secret.NotDigested as trouble:
            words = f"is as it was: no PIN or badge can be kept ({trouble}): end other programs"
            raise _wrong(str(path), words) from None
        except OSError as trouble:
            raise _wrong(str(path), f"cannot be written ({trouble.strerror}): see to it") from None
    print(f"{args.name}: done ({args.act})")
    return 0


@contextlib.contextmanager
def _alone(data: Path) -> Iterator[None]:
    """Of two commands at once, the second is refused: neither loses the other's person."""
    with owner.hold(data, BUSY, "people.lock"):
        yield


def _wrong(where: str, words: str) -> BadInput:
    return BadInput([Mistake(where, None, words)])


def _print(people: People) -> None:
    if not people.persons:
        print("no people are set up: everything works without signing on")
    for person in people.persons:
        pairs = (("PIN", person.pin), ("badge", person.badge))
        means = " and ".join(word for word, there in pairs if there)
        short = person.has_rights and None in (person.pin, person.badge)
        print(f"{person.name:{NAME_CAP}}  {person.role:12}  {means or 'nothing yet'}"
              + ("  (cannot sign on: needs both)" if short else ""))  # fmt: skip


def _add(people: People, args: argparse.Namespace) -> People:
    name = args.name.strip()
    if not 0 < len(name) <= NAME_CAP or not name.isprintable():
        raise _wrong("people", f"a name has 1 to {NAME_CAP} letters that can be printed")
    if people.named(name) is not None:
        raise _wrong("people", f"{name} is there already: remove first, or say pin, badge or role")
    person = _with_pin(Person(name, args.role, "", None, None, _mark()), issue=args.issue)
    person = _with_badge(people, person, needed=person.has_rights)
    return replace(people, persons=(*people.persons, person))


def _changed(
    change: Callable[[People, Person, argparse.Namespace], Person],
) -> Callable[[People, argparse.Namespace], People]:
    """An act that changes one person."""

    def act(people: People, args: argparse.Namespace) -> People:
        was = _found(people, args.name)
        now = change(people, was, args)
        return replace(people, persons=tuple(now if p is was else p for p in people.persons))

    return act


def _found(people: People, name: str) -> Person:
    person = people.named(name)
    if person is None:
        raise _wrong("people", f"nobody is named {name}: see `holdpoint people list`")
    return person


def _remove(people: People, args: argparse.Namespace) -> People:
    gone = _found(people, args.name)
    return replace(people, persons=tuple(p for p in people.persons if p is not gone))


def _role(_: People, person: Person, args: argparse.Namespace) -> Person:
    """A role with rights needs a longer PIN than an operator's, so the old one goes."""
    if person.role == OPERATOR and args.role != OPERATOR:
        return _with_pin(replace(person, role=args.role), issue=False)
    return replace(person, role=args.role)


def _mark() -> str:
    return secrets.token_hex(8)


def _with_pin(person: Person, *, issue: bool) -> Person:
    if issue:
        pin = _drawn()
        print(f"PIN of {person.name}: {pin}   (shown this once)")
    else:
        pin = _asked_pin(person)
    salt = secrets.token_hex(16)
    return replace(person, salt=salt, pin=secret.digest(pin, salt), mark=_mark())


def _drawn() -> str:
    while True:
        pin = "".join(str(secrets.randbelow(10)) for _ in range(secret.ISSUED))
        if secret.against_pin(pin, has_rights=True, issued=True) is None:
            return pin


def _asked_pin(person: Person) -> str:
    tries = PIN_TRIES if sys.stdin.isatty() else 1
    for left in reversed(range(tries)):  # else the next one would be typed for all to see
        pin = _hidden(f"PIN of {person.name}: ")
        wrong = secret.against_pin(pin, has_rights=person.has_rights)
        if wrong is None:
            break
        if not left:
            raise _wrong("PIN", f"{wrong} (or let one be drawn: --issue)")
        print(wrong, file=sys.stderr)
    if sys.stdin.isatty() and _hidden("the same PIN again: ") != pin:
        raise _wrong("PIN", "the two are not the same: begin again")
    return pin


def _with_badge(people: People, person: Person, *, needed: bool) -> Person:
    ask = "scan the badge" if needed else "scan the badge, or press Enter for none"
    code = _hidden(f"{person.name}: {ask}: ")
    if not code and not needed:
        return person
    if not secret.BADGE_LEAST <= len(code) <= secret.BADGE_MOST or not code.isprintable():
        least, most = secret.BADGE_LEAST, secret.BADGE_MOST
        raise _wrong("badge", f"a badge's code has {least} to {most} characters: scan it again")
    badge = secret.digest(code, people.salt)
    other = people.with_badge(badge)
    if other is not None and other.name != person.name:
        raise _wrong("badge", f"this is the badge of {other.name}: take another")
    return replace(person, badge=badge)


def _hidden(ask: str) -> str:
    """A line that is not shown; from a file or a pipe as it stands."""
    if sys.stdin.isatty():
        return getpass.getpass(ask).strip()
    return sys.stdin.readline().strip()


_ACTS: dict[str, Callable[[People, argparse.Namespace], People]] = {
    "add": _add,
    "remove": _remove,
    "role": _changed(_role),
    "pin": _changed(lambda _, person, args: _with_pin(person, issue=args.issue)),
    "badge": _changed(lambda people, person, _: _with_badge(people, person, needed=True)),
    "unlock": _changed(lambda _, person, __: replace(person, mark=_mark())),
}
