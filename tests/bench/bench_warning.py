"""How early the warning comes before a loss, and how often it comes for nothing.

    python tests/bench/bench_warning.py [--full] [--write]

Runs the simulated table in simulated time, good cuts and leaking ones, through the program's own
trend, and beside it what it is compared with: a plain threshold, a threshold with a fixed delay,
and a straight line through the last five seconds.  Prints the operating curve of each: of the slow
leaks the share that was told of at least 10 s before the loss, and false warnings in 100 h of
good cutting.  ``--write`` puts it into docs/early-warning.md.  Exit 1 when the shipped limits
miss the target.  What is a slow leak and a good cut: ``warning_judge.py``.
"""

from __future__ import annotations

import argparse
import sys
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

import written
from warning_judge import Case, good_case, leak_case, onsets_of, warned_s
from warning_plants import good, leaking

from kiosk.limits import Limits

PAGE = Path(__file__).resolve().parents[2] / "docs" / "early-warning.md"
CAUGHT_SHARE, FALSE_PER_100_H = 0.95, 1.0
LEAD_S = 10.0
HOURS_EACH = 1.0
TIMES_S = (10.0, 20.0, 30.0, 45.0, 60.0, 90.0)
RATIOS = (1.02, 1.05, 1.07, 1.10, 1.15, 1.20)
# A rule is its kind and its limit.
SHIPPED = ("trend", Limits().time_left_s)
RULES = (
    *(("trend", limit_s) for limit_s in TIMES_S),
    *(("line", limit_s) for limit_s in TIMES_S),
    *(("plain", ratio) for ratio in RATIOS),
    *(("delay 2 s", ratio) for ratio in RATIOS),
    *(("delay 5 s", ratio) for ratio in RATIOS),
)
BANDS_S = ((5.0, 20.0), (20.0, 40.0), (40.0, 120.0), (120.0, 1500.0))


@dataclass(frozen=True, slots=True)
class Result:
    """What one session gave.  ``told``: by rule, false warnings or lead in s."""

    hours: float = 0.0
    fall_s: float | None = None
    slow: bool = False
    kind: str | None = None
    told: tuple[float, ...] = ()


def of_good(seed: int, hours: float = HOURS_EACH) -> Result | None:
    """False warnings of every rule; None where the minimum would be below the floor."""
    case = good_case(good(seed, hours), seed)
    if case is None:
        return None
    counts = tuple(float(len(onsets_of(case, *rule))) for rule in RULES)
    return Result(hours=float(case.trace.cutting.sum()) / 36000.0, told=counts)


def of_leak(seed: int) -> Result | None:
    """Lead of every rule before the loss; None when the hold was not lost."""
    case = leak_case(leaking(seed), seed)
    if case is None:
        return None
    return Result(
        fall_s=case.fall_s, slow=case.slow, kind=case.trace.leak, told=tuple(_leads(case))
    )


def _leads(case: Case) -> list[float]:
    return [warned_s(case, *rule) for rule in RULES]


def run(hours: int, leaks: int, jobs: int, first_seed: int) -> tuple[list[Result], list[Result]]:
    """All sessions that count: good ones, leaking ones."""
    with ProcessPoolExecutor(jobs) as pool:
        goods = list(pool.map(of_good, range(first_seed, first_seed + hours)))
        lost = list(pool.map(of_leak, range(first_seed, first_seed + leaks), chunksize=4))
    return [r for r in goods if r is not None], [r for r in lost if r is not None]


def false_per_100_h(goods: list[Result], number: int) -> float:
    """False warnings of one rule."""
    return 100.0 * sum(r.told[number] for r in goods) / sum(r.hours for r in goods)


def caught(leaks: list[Result], number: int) -> float:
    """Share of these leaks that one rule told of early enough."""
    return sum(r.told[number] >= LEAD_S for r in leaks) / len(leaks) if leaks else 0.0


def rows(goods: list[Result], leaks: list[Result]) -> list[str]:
    """The page's tables."""
    slow = [r for r in leaks if r.slow]
    hours = sum(r.hours for r in goods)
    at = RULES.index(SHIPPED)
    mine, wrong = caught(slow, at), false_per_100_h(goods, at)
    lines = [
        f"{hours:.0f} h of good cutting; {len(leaks)} losses, {len(slow)} of them slow. "
        f"Rate of samples 10 Hz.",
        "",
        f"**As shipped** (R < 1.07, or surely under {SHIPPED[1]:.0f} s left): "
        f"{100.0 * mine:.1f} % of the slow leaks told of {LEAD_S:.0f} s or more before the loss "
        f"(target {100.0 * CAUGHT_SHARE:.0f} %), {wrong:.1f} false warnings in 100 h (target "
        f"{FALSE_PER_100_H:.0f}; {sum(r.told[at] for r in goods):.0f} were counted).",
        "",
        "| rule | limit | slow leaks caught, % | false warnings in 100 h |",
        "|---|---|---|---|",
    ]
    for number, (kind, limit) in enumerate(RULES):
        unit = f"{limit:.0f} s left" if kind in ("trend", "line") else f"R < {limit:.2f}"
        ship = " (shipped)" if number == at else ""
        lines.append(
            f"| {kind}{ship} | {unit} | {100.0 * caught(slow, number):.1f} | "
            f"{false_per_100_h(goods, number):.1f} |"
        )
    lines += ["", "| from R = 1.15 to 1.00 in | leaks | caught as shipped, % |", "|---|---|---|"]
    for low_s, high_s in BANDS_S:
        band = [r for r in leaks if r.fall_s is not None and low_s <= r.fall_s < high_s]
        share = f"{100.0 * caught(band, at):.1f}" if band else "-"
        lines.append(f"| {low_s:.0f} to {high_s:.0f} s | {len(band)} | {share} |")
    return lines


def meets(goods: list[Result], leaks: list[Result]) -> bool:
    """Whether the shipped limits meet the target."""
    at, slow = RULES.index(SHIPPED), [r for r in leaks if r.slow]
    return caught(slow, at) >= CAUGHT_SHARE and false_per_100_h(goods, at) <= FALSE_PER_100_H


def main() -> int:
    """Run, print, and write the page when asked to; 1 when the target was missed."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--full", action="store_true", help="200 h and 500 leaks, not 8 and 60")
    parser.add_argument("--write", action="store_true", help=f"the tables into {PAGE.name}")
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--seed", type=int, default=50_000)
    asked = parser.parse_args()
    sizes = (200, 500) if asked.full else (8, 60)
    goods, leaks = run(*sizes, asked.jobs, asked.seed)
    lines = rows(goods, leaks)
    print("\n".join(lines))
    if asked.write:
        command = "python tests/bench/bench_warning.py" + " --full" * asked.full + " --write"
        head = f"`{command}`, first seed {asked.seed}, revision {written.revision()}."
        written.put(PAGE, [head, "", *lines])
    return int(not meets(goods, leaks))


if __name__ == "__main__":
    sys.exit(main())
