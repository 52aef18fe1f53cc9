"""Dates and times of a site file that say when a thing is due or how it was when it was new."""

from __future__ import annotations

from datetime import date, datetime

from kiosk.toml_lines import Table


def read_date(table: Table, key: str) -> str | None:
    """A date of TOML as ISO text, or None when the key is absent."""
    value = table.take(key, "2027-01-31", None)
    if value is None:
        return None
    if not isinstance(value, date) or isinstance(value, datetime):
        table.wrong(f"{key} is no date: write {key} = 2027-01-31, without quotes", key)
        return None
    return value.isoformat()


def read_inspection(site: Table) -> str | None:
    """``[upkeep]``: when the lockout procedure was last inspected."""
    table = site.table("upkeep", required=False)
    if table is None:
        return None
    inspected = read_date(table, "lockout_inspected")
    table.done()
    return inspected
