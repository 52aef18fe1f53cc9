"""Load cases and where each comes from, kept in arrays: a long program has hundreds of thousands.

Part frame; mm and N, without the safety factor.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields

import numpy as np

from kiosk.hold.minimum import Cases
from kiosk.job.frames import FloatArray
from kiosk.job.job_file import Vector
from kiosk.job.reaches import IntArray, vector

NO_NUMBER = -1  # as tool or line


@dataclass(frozen=True, slots=True)
class CaseRow:
    """One load case; ``tool`` and ``line`` are None for a stated load."""

    at_mm: Vector
    tip_mm: Vector
    force_n: Vector
    any_n: float
    torque_nm: float
    tool: int | None
    line: int | None


@dataclass(frozen=True, slots=True, eq=False)
class CaseRows:
    """Many load cases: (n, 3) and (n,); ``tool`` and ``line`` are ``NO_NUMBER`` where none."""

    at_mm: FloatArray
    tip_mm: FloatArray
    force_n: FloatArray
    any_n: FloatArray
    torque_nm: FloatArray
    tool: IntArray
    line: IntArray

    def __len__(self) -> int:
        return int(self.any_n.size)

    def __getitem__(self, index: int) -> CaseRow:
        tool, line = int(self.tool[index]), int(self.line[index])
        return CaseRow(
            vector(self.at_mm[index]),
            vector(self.tip_mm[index]),
            vector(self.force_n[index]),
            float(self.any_n[index]),
            float(self.torque_nm[index]),
            None if tool == NO_NUMBER else tool,
            None if line == NO_NUMBER else line,
        )

    def __iter__(self) -> Iterator[CaseRow]:
        return (self[index] for index in range(len(self)))

    def take(self, which: IntArray) -> CaseRows:
        """The cases at an index."""
        return CaseRows(*(getattr(self, field.name)[which] for field in fields(self)))


def in_arrays(rows: Sequence[CaseRow]) -> CaseRows:
    """The same cases as arrays."""
    numbers = [[NO_NUMBER if n is None else n for n in (row.tool, row.line)] for row in rows]
    tool, line = np.array(numbers, dtype=np.int64).reshape(-1, 2).T
    triples = np.array([(row.at_mm, row.tip_mm, row.force_n) for row in rows], dtype=np.float64)
    at, tip, force = np.moveaxis(triples.reshape(-1, 3, 3), 1, 0)
    sizes = np.array([(row.any_n, row.torque_nm) for row in rows], dtype=np.float64)
    any_n, torque_nm = sizes.reshape(-1, 2).T
    return CaseRows(at, tip, force, any_n, torque_nm, tool, line)


def joined(*parts: CaseRows) -> CaseRows:
    """All of them, one after the other."""
    return CaseRows(
        *(
            np.concatenate([getattr(part, field.name) for part in parts])
            for field in fields(CaseRows)
        )
    )


def cases_of(rows: CaseRows, factor: float) -> Cases:
    """The solver's form of load cases; rows of one program line and tool are one group."""
    at, force, count = rows.at_mm / 1e3, rows.force_n, len(rows)
    own = np.arange(count) - count  # a stated load is a group of its own
    of_line = rows.line * (int(rows.tool.max(initial=0)) + 2) + rows.tool + 1
    return Cases(
        x_m=at[:, 0],
        y_m=at[:, 1],
        z_m=at[:, 2],
        fx_n=force[:, 0],
        fy_n=force[:, 1],
        fz_n=force[:, 2],
        any_n=rows.any_n,
        torque_nm=rows.torque_nm,
        factor=np.full(count, factor),
        group=np.where(rows.line == NO_NUMBER, own, of_line),
    )
