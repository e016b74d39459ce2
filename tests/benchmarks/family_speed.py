"""Measure how long a family's figures take in a large notebook. Run by hand from the project's folder:

python -m tests.benchmarks.family_speed [--cases 100000] [--families 500] [--skewed]
"""

import argparse
import datetime
import time
from collections.abc import Callable

import numpy as np

from kb.notes.case import CaseNote
from kb.terms import load_vocabulary
from search.families.case_group import statistics_of
from search.families.family_figures import families_overview, family_figures
from search.families.trends import weak_points
from search.index.case_table import CaseTable
from tests.search.tables import table_from_cases

BOARDS = ("power supply", "main board", "T-con board", "backlight", "key board")


def made_up_cases(count: int, families: int, *, skewed: bool) -> list[CaseNote]:
    """Return cases spread over families, 3,000 causes and five years; skewed: a few families have most."""
    rng = np.random.default_rng(5)
    weights = 1 / np.arange(1, families + 1) if skewed else np.ones(families)
    family = rng.choice(families, size=count, p=weights / weights.sum())
    cause = rng.integers(0, 3000, size=count)
    template = CaseNote.from_fields(
        {
            "case": "20220101-0000", "date": "2022-01-01", "device": "LED TV", "make": "Halvern",
            "model": "HV-1", "chassis_family": "F0", "symptom": ["dead"], "root_cause": "fuse open",
            "board": "power supply", "check": "Q801 measured", "check_time": "5 min", "fix_time": "40 min",
            "outcome": "fixed", "parts": ["Q801 20N60C3", "F801 T4A"], "blinks": "3",
        }
    )  # fmt: skip
    first = datetime.date(2022, 1, 1)
    return [
        template.model_copy(
            update={
                "case": f"x{i}",
                "date": first + datetime.timedelta(days=int(rng.integers(0, 1700))),
                "chassis_family": f"F{family[i]}",
                # Within a family some thirty causes recur.
                "root_cause": f"part {(family[i] * 7 + cause[i] % 30) % 3000} open",
                "board": BOARDS[cause[i] % len(BOARDS)],
                "fix_time_min": int(rng.integers(10, 150)),
                "comeback_of": f"x{rng.integers(0, i)}" if i and rng.random() < 0.05 else "",
            }
        )
        for i in range(count)
    ]


def timed(name: str, call: Callable[[], object], repeats: int) -> None:
    """Print the median and the longest of some calls, milliseconds."""
    spans = []
    for _ in range(repeats):
        start = time.perf_counter()
        call()
        spans.append(1000 * (time.perf_counter() - start))
    print(f"{name:44} median {np.median(spans):8.1f} ms   longest {max(spans):8.1f} ms   ({repeats} times)")


def main() -> None:
    """Build the table and measure."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--cases", type=int, default=100_000)
    parser.add_argument("--families", type=int, default=500)
    parser.add_argument("--skewed", action="store_true")
    asked = parser.parse_args()
    vocabulary = load_vocabulary()
    table: CaseTable = table_from_cases(
        made_up_cases(asked.cases, asked.families, skewed=asked.skewed), vocabulary=vocabulary
    )
    sizes = np.bincount(table.family)
    by_size = np.argsort(-sizes)
    print(f"{table.size} cases, {len(sizes)} families, {len(table.cause_names)} causes")
    timed("once for each state of the notebook", lambda: statistics_of(table), 1)
    for label, code in (("largest", by_size[0]), ("middle", by_size[len(by_size) // 2])):
        name = table.family_names[code]

        def call(name: str = name) -> object:
            return family_figures(table, name, vocabulary=vocabulary).as_json()

        timed(f"{label} family ({sizes[code]} cases), first time", call, 1)
        timed(f"{label} family ({sizes[code]} cases), again", call, 20)
    timed("list of families", lambda: families_overview(table, {}), 5)
    timed("weak points", lambda: weak_points(table, vocabulary=vocabulary), 3)


if __name__ == "__main__":
    main()
