"""Command lines of ``holdpoint measure`` for the tests of this folder."""

from __future__ import annotations

PULL_LINE = {
    "--material": "mdf", "--underside": "machined", "--surface": "dusty", "--contact": "lip",
    "--lip": "nitrile", "--method": "pull", "--mass-kg": "2", "--cups": "4", "--seal-mm": "68",
    "--vacuum-kpa": "60", "--gauge-error-kpa": "0", "--pull-n": "300 310 305",
    "--person": "07", "--conditions": "dust as after a cut", "--date": "2026-11-20",
}  # fmt: skip
TILT_LINE = {
    "--material": "beech", "--underside": "planed", "--surface": "clean", "--contact": "lip",
    "--lip": "nitrile", "--method": "tilt", "--angle-deg": "31 31 31", "--person": "07",
    "--conditions": "swept", "--date": "2026-11-20",
}  # fmt: skip
CUT_LINE = {
    "--material": "particleboard", "--edge": "sharp", "--diameter-mm": "20", "--flutes": "2",
    "--depth-mm": "8", "--width-mm": "20", "--feed-mm-min": "14400", "--spindle-rpm": "18000",
    "--power-w": "1944 1924 1964", "--idle-w": "500", "--person": "07",
    "--conditions": "19 mm board", "--date": "2026-11-20",
}  # fmt: skip


def words_of(what: str, line: dict[str, str], **changes: str | None) -> list[str]:
    """The words after ``holdpoint``; a change of None leaves that option out."""
    options = {**line, **{f"--{key.replace('_', '-')}": value for key, value in changes.items()}}
    words = ["measure", what]
    for option, value in options.items():
        if value is not None:
            words += [option, *(value.split() if option in LISTS else [value])]
    return words


LISTS = {"--pull-n", "--angle-deg", "--power-w", "--idle-w"}
