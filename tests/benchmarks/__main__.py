"""Measure the program beside other engines and print one table: python -m tests.benchmarks [--notes N].

Everything runs on the same made-up notebook (generate.py) in one run. A busy machine slows all
alike: ratios hold, absolute times do not, so the load is printed beside them, and processor times as well.
"""

import argparse
import contextlib
import multiprocessing
import os
import tempfile
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Any

from tests.benchmarks import ours
from tests.benchmarks.engines import ENGINES, engine_figures
from tests.benchmarks.generate import make_notebook
from tests.benchmarks.growth import growth_picture, growth_table

# What is measured of ours, its unit, and the target at 100,000 notes on two idle cores.
TARGETS = {
    "index_s": ("markdown to searchable", "s", 60),
    "index_cpu_s": ("  processor time, all cores", "s", 120),
    "index_peak_mb": ("most memory while indexing", "MB", 1500),
    "learn_s": ("learning", "s", None),
    "start_s": ("start to first answer", "s", 2),
    "start_cpu_s": ("  processor time", "s", None),
    "first_ms": ("first answer", "ms", 300),
    "early_ms": ("the first hundred answers, median", "ms", None),
    "early_95_ms": ("the first hundred answers, 95 %", "ms", None),
    "answer_ms": ("answer, median", "ms", 12),
    "answer_95_ms": ("answer, 95th percentile", "ms", 30),
    "answer_cpu_ms": ("  processor time, mean", "ms", None),
    "again_cpu_ms": ("  asked again, processor time", "ms", None),
    "family_ms": ("page of a family, median", "ms", 200),
    "save_ms": ("saved case in an answer", "ms", 300),
    "save_cpu_ms": ("  processor time", "ms", None),
    "hands_95_ms": ("answer, 16 at once and one saves, 95 %", "ms", 250),
    "hands_cpu_s": ("  processor time of all of it", "s", None),
    "hands_errors": ("errors meanwhile", "", 0),
    "resident_mb": ("memory while answering", "MB", 700),
    "caches_mb": ("of it lists and scores kept", "MB", None),
    "difference": ("scores, largest slip beside a slow way", "", 1e-4),
}
# How many times as long as the other's our ranking may take at most.
RANKING_TARGETS = {"SQLite FTS5": 1 / 20, "tantivy": 3.0, "bm25s": None, "Whoosh's own": None}


def in_own_process(work: Callable[..., Any], *args: Any) -> Any:
    """Run a function in a fresh process and return what it returns."""
    with ProcessPoolExecutor(1, mp_context=multiprocessing.get_context("spawn")) as pool:
        return pool.submit(work, *args).result()


def row(what: str, mine: str, theirs: str, ratio: float | None, target: str, met: bool | None) -> None:
    """Print one row of the table."""
    said = "" if ratio is None else f"{ratio:.3g}"
    verdict = {True: "met", False: "not met", None: ""}[met]
    print(f"{what:40} {mine:>12} {theirs:>12} {said:>8} {target:>10}  {verdict}", flush=True)


def measure(root: Path, notes: int) -> ours.Figures:
    """Return what is measured of the program with that many notes."""
    made = root / f"notes-{notes}"
    make_notebook(made, notes)
    figures: ours.Figures = in_own_process(ours.build, made)
    return figures | in_own_process(ours.ask, made)


def compare(figures: ours.Figures, notes: int, engines: Sequence[str]) -> None:
    """Print the table for one size."""
    load = ", ".join(f"{each:.1f}" for each in os.getloadavg())
    print(f"\n{notes:,} notes; load of {os.cpu_count()} cores over 1, 5, 15 minutes: {load}")
    print(f"{'what':40} {'ours':>12} {'theirs':>12} {'ratio':>8} {'target':>10}")
    for name, (what, unit, target) in TARGETS.items():
        met = None if target is None else figures[name] <= target
        aim = "" if target is None else f"{target} {unit}"
        row(what, f"{figures[name]:.4g} {unit}", "", None, aim, met)
    for name in engines:
        build_s, median, slow = in_own_process(engine_figures, name, notes)
        ratio, most = figures["rank_ms"] / median, RANKING_TARGETS[name]
        met = None if most is None else ratio <= most
        aim = "" if most is None else f"x {most:.3g}"
        row(f"ranking, median, {name}", f"{figures['rank_ms']:.3g} ms", f"{median:.3g} ms", ratio, aim, met)
        ratio = figures["rank_95_ms"] / slow
        row(f"ranking, 95 %, {name}", f"{figures['rank_95_ms']:.3g} ms", f"{slow:.3g} ms", ratio, "", None)
        ratio = figures["index_s"] / build_s
        row(f"indexing, {name}", f"{figures['index_s']:.3g} s", f"{build_s:.3g} s", ratio, "", None)


@contextlib.contextmanager
def folder_for(chosen: Path | None) -> Iterator[Path]:
    """Give the folder to keep notebooks in, or one that is gone afterwards."""
    if chosen is not None:
        yield chosen
        return
    with tempfile.TemporaryDirectory() as scratch:
        yield Path(scratch)


def main() -> None:
    """Measure the sizes asked for."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks", description=__doc__)
    parser.add_argument("--notes", type=int, nargs="+", default=[10_000], help="sizes; several show growth")
    parser.add_argument("--folder", type=Path, help="keep the notebooks there for the next time")
    parser.add_argument("--engines", nargs="*", default=list(ENGINES), choices=list(ENGINES))
    parser.add_argument(
        "--picture", type=Path, help="write the growth of time and memory as SVG to this file"
    )
    chosen = parser.parse_args()
    grown: dict[int, ours.Figures] = {}
    with folder_for(chosen.folder) as root:
        for notes in sorted(chosen.notes):
            grown[notes] = measure(root, notes)
            compare(grown[notes], notes, chosen.engines)
    if len(grown) > 1:
        print(growth_table(grown))
    if len(grown) > 1 and chosen.picture:
        chosen.picture.write_text(growth_picture(grown), encoding="utf-8")


if __name__ == "__main__":
    main()
