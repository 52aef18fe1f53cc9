"""Codes that a site file names as changing no cut: passed over where a program has them.

None may be a code that the reader carries out, or refuses because it changes the path.
"""

from __future__ import annotations

from kiosk.job import gcode_codes as codes
from kiosk.job.gcode_codes import OtherCodes
from kiosk.mistakes import BadInput, Mistake
from kiosk.site import Site


def other_codes(site: Site) -> OtherCodes:
    """The codes of a site.  Raises ``BadInput`` for those that cannot be passed over."""
    found: dict[str, set[int]] = {"G": set(), "M": set()}
    mistakes = []
    for name, line in site.other_codes:
        code = round(10.0 * float(name[1:])) if name[0] == "G" else float(name[1:])
        why = _why_not(name, code)
        if why:
            mistakes.append(Mistake(site.file.name, line, f"other_codes: {name} {why}"))
        found[name[0]].add(int(code))
    if mistakes:
        raise BadInput(mistakes)
    return OtherCodes(frozenset(found["G"]), frozenset(found["M"]))


def _why_not(name: str, code: float) -> str:
    if code in (codes.KNOWN_G if name[0] == "G" else codes.KNOWN_M) and code not in codes.RADIUS:
        return "is read as it is: leave it out"
    if name[0] == "G" and (code in codes.RADIUS or code in codes.SAID_WHY):
        return "changes the path and cannot be passed over: leave it out"
    return "" if code == int(code) else "is no M code: write a whole number"
