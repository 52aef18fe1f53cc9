"""Words for people, by code.  One catalogue file per language in ``assets/locale``.

A key is a dotted path such as ``alarm.A01.title``.  Standard library only.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from kiosk.resources import asset


@dataclass(frozen=True, slots=True)
class Words:
    """A catalogue: words by key."""

    rows: Mapping[str, str]

    def __contains__(self, key: str) -> bool:
        return key in self.rows

    def say(self, key: str, **values: object) -> str:
        """The words of ``key`` with ``values`` filled in.

        A key that is not in the catalogue comes back as its last part in plain letters, so that
        an unforeseen code still says something; a test keeps every known code in the catalogue.
        """
        row = self.rows.get(key)
        if row is None:
            return key.rsplit(".", 1)[-1].replace("_", " ")
        return row.format(**values) if values else row


def load(language: str = "en") -> Words:
    """The catalogue of one language.  Raises FileNotFoundError when there is none."""
    with asset(f"locale/{language}.toml").open("rb") as file:
        return Words(dict(_flat("", tomllib.load(file))))


def _flat(path: str, table: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    for key, value in table.items():
        whole = f"{path}.{key}" if path else key
        if isinstance(value, Mapping):
            yield from _flat(whole, value)
        else:
            yield whole, str(value)
