"""The planner's process: one request on stdin, one answer on stdout, both one JSON object.

``{"do": "plan", "job": path, "site": path, "shop": path or null, "materials": path or null}``
-> ``{"plan": {...}}`` or ``{"refused": words}``
``{"do": "list", "folder": path}`` -> ``{"jobs": [{file id title revision error}, ...]}``
``{"do": "leaks", "file": path, "site": name, "zones": [name, ...]}``
-> ``{"zone": name or null, "ratio": number or null}`` or ``{"refused": words}``

The heavy libraries of the holding model load here and nowhere else in the guard, and what takes
long or goes wrong here cannot hold up the loop.
"""

from __future__ import annotations

import contextlib
import datetime
import json
import sys
from pathlib import Path
from typing import Any

from kiosk.mistakes import BadInput


def words_of(bad: BadInput, how: str = "run the check command") -> str:
    """The first mistake on one line, and how many more there are."""
    more = len(bad.mistakes) - 1
    first = str(bad.mistakes[0]).replace("\n", " ")
    return first if more < 1 else f"{first} (and {more} more: {how})"


def plan(request: dict[str, Any]) -> str:
    """The answer to a plan request, as JSON."""
    from kiosk.job.planning import make_plan
    from kiosk.shop import load_shop
    from kiosk.site import load_site

    shop, materials = (_path(request.get(key)) for key in ("shop", "materials"))
    try:
        own = load_shop(shop, datetime.date.today(), materials)
        made = make_plan(Path(request["job"]), load_site(Path(request["site"])), shop=own)
    except BadInput as bad:
        return json.dumps({"refused": words_of(bad)})
    return f'{{"plan":{made.to_json()}}}'


def _path(text: str | None) -> Path | None:
    return None if text is None else Path(text)


def jobs(request: dict[str, Any]) -> str:
    """The answer to a list request, as JSON."""
    from kiosk.job.listing import offers

    return json.dumps({"jobs": [dict(row) for row in offers(Path(request["folder"]))]})


def leaks(request: dict[str, Any]) -> str:
    """The zone that leaks most against its baseline, as JSON."""
    from kiosk.leaks import load_leaks, worst

    site = request["site"]
    try:
        found = worst(load_leaks(Path(request["file"]), site, request["zones"]), site)
    except BadInput as bad:
        return json.dumps({"refused": words_of(bad, "run measure leak")})
    if found is None:
        return json.dumps({"zone": None, "ratio": None})
    return json.dumps({"zone": found.test.zone, "ratio": found.ratio})


def main() -> int:
    """Answer one request; what libraries print goes to stderr."""
    request = json.load(sys.stdin)
    with contextlib.redirect_stdout(sys.stderr):
        answer = {"plan": plan, "list": jobs, "leaks": leaks}[request["do"]](request)
    sys.stdout.write(answer)
    return 0


if __name__ == "__main__":
    sys.exit(main())
