"""``[control]`` of a site file: codes of the machine's control that change no cut.

What a code would do is not known here; whether the program's reader knows it is judged by
``kiosk.job.other_codes``.
"""

from __future__ import annotations

import re

from kiosk.toml_lines import Table

_CODE = re.compile(r"([GM])0*([0-9]{1,4}(?:\.[0-9])?)")


def read_other_codes(site: Table) -> tuple[tuple[str, int | None], ...]:
    """The codes under ``other_codes``, such as ``M21``, each with its line."""
    table = site.table("control", required=False)
    if table is None:
        return ()
    found: dict[str, int | None] = {}
    for at, value in enumerate(table.items("other_codes", '["M21", "G187"]', ())):
        match = _CODE.fullmatch(value) if isinstance(value, str) else None
        if match is None:
            table.wrong(f'{value!r} is no code: write one as "M21" or "G187"', "other_codes", at)
            continue
        found.setdefault(f"{match[1]}{match[2]}", table.line("other_codes", at))
    table.done()
    return tuple(found.items())
