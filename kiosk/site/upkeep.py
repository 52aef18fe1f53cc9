"""Dates and times of a site file that say when a thing is due or how it was when it was new."""

from __future__ import annotations

from kiosk.toml_lines import Table


def read_date(table: Table, key: str, like: str) -> str | None:
    """A date of TOML, written as ``like``, as ISO text; None when the key is absent."""
    value = table.day(key, None, like=like)
    return None if value is None else str(value.isoformat())


def read_inspection(site: Table) -> str | None:
    """``[upkeep]``: when the lockout procedure was last inspected."""
    table = site.table("upkeep", required=False)
    if table is None:
        return None
    inspected = read_date(table, "lockout_inspected", "2026-01-31")
    table.done()
    return inspected
