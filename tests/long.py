"""The long runs, beside the quick suite, by name; their results are written into docs/.

    python tests/long.py stories|soak|core|fuzz|power-cuts|reaction|warning

Exit 1 when something is not as it must be.  ``soak`` takes an hour (``--minutes``), ``core`` a day
of plant time (``--hours``), ``stories`` a few lanes (``--lanes``); the others take what they take.
"""

from __future__ import annotations

import argparse
import signal
import subprocess
import sys
import tempfile
import xml.etree.ElementTree as xml
from collections.abc import Callable
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
for folder in ("tests/bench", "tests/soak", "tests/stories", "tests/whole", "."):
    sys.path.insert(0, str(ROOT / folder))

import pages  # noqa: E402

Options = argparse.Namespace


def stories(options: Options) -> bool:
    """Every fault story, into docs/faults.md."""
    import every

    groups = every.play_all(options.lanes)
    (ROOT / "docs" / "faults.md").write_text(every.table(groups, pages.when()), encoding="utf-8")
    return not any(told.wrong for rows in groups.values() for told in rows)


def soak(options: Options) -> bool:
    """Real processes for an hour."""
    import processes

    with processes.display(), tempfile.TemporaryDirectory(prefix="soak-") as data:
        rows = processes.rows(processes.soak(Path(data), options.minutes))
    return _written("soak", rows)


def core(options: Options) -> bool:
    """A day of plant time through the decision."""
    import core as day

    return _written("core", day.rows(day.run(options.hours), options.hours))


def fuzz(_: Options) -> bool:
    """Damaged frames, lines, snapshots, commands and files."""
    return _written("fuzz", _tests("tests/fuzz"))


def power_cuts(_: Options) -> bool:
    """Cuts at every write of the log, and kills."""
    return _written("power-cuts", _tests("tests/records"))


def reaction(_: Options) -> bool:
    """A thousand hold losses, timed."""
    return _program("reaction", "tests/bench/bench_reaction.py", "--losses", "1040")


def warning(_: Options) -> bool:
    """The early warning over a hundred hours of good cutting."""
    return _program("warning", "tests/bench/bench_warning.py", "--full")


RUNS: dict[str, Callable[[Options], bool]] = {
    "stories": stories, "soak": soak, "core": core, "fuzz": fuzz, "power-cuts": power_cuts,
    "reaction": reaction, "warning": warning,
}  # fmt: skip


def _written(name: str, rows: list[pages.Row]) -> bool:
    pages.write(name, pages.as_table(rows))
    return all(holds for *_, holds in rows)


def _tests(folder: str) -> list[pages.Row]:
    """The tests of a folder that are marked long: one row each, with its seconds."""
    with tempfile.TemporaryDirectory() as made:
        report = Path(made) / "report.xml"
        words = ("-m", "pytest", "-m", "long", folder, "-p", "no:cacheprovider", "--junitxml")
        subprocess.run((sys.executable, *words, str(report)), cwd=ROOT, check=False)
        return rows_of(report)


def rows_of(report: Path) -> list[pages.Row]:
    """A report of pytest as rows."""
    made = []
    for case in xml.parse(report).getroot().iter("testcase"):
        bad = [child.tag for child in case if child.tag in ("failure", "error", "skipped")]
        name = case.get("name", "").replace("test_", "").replace("_", " ")
        found = f"{bad[0] if bad else 'passed'}, {float(case.get('time', 0.0)):.0f} s"
        made.append((name, "passes", found, not bad))
    return made


def _program(name: str, *words: str) -> bool:
    """A benchmark's own words."""
    done = subprocess.run((sys.executable, *words), cwd=ROOT, capture_output=True, text=True,
                          check=False)  # fmt: skip
    pages.write(name, f"```\n{(done.stdout + done.stderr).strip()}\n```")
    return done.returncode == 0


def main() -> int:
    """Run one."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("run", choices=RUNS)
    parser.add_argument("--minutes", type=float, default=60.0)
    parser.add_argument("--hours", type=float, default=24.0)
    parser.add_argument("--lanes", type=int, default=2)
    options = parser.parse_args()
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(1))  # else its processes would stay
    try:
        return int(not RUNS[options.run](options))
    except LookupError as missing:
        print(f"{options.run}: {missing}", file=sys.stderr)
        return 2


if __name__ == "__main__":
    sys.exit(main())
