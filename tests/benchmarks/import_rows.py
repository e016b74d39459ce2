"""Import many rows, and say how long it took, how much memory, and how often progress was told.

Run by hand: python -m tests.benchmarks.import_rows [ROWS]   (a CSV file of 100,000 unless said otherwise)
or:          python -m tests.benchmarks.import_rows workbook (a messy xlsx workbook of 5,000)
"""

import csv
import random
import resource
import sys
import tempfile
import time
from pathlib import Path

from kb.exchange.rows import Plan, guess_mapping, read_header
from kb.exchange.transfer import import_table
from kb.notebook import Notebook
from tests.messy_workbook import write_messy_workbook

WORDS = (
    "dead", "hum", "click", "smell", "fuse", "relay", "board", "flicker", "dark", "stripe", "noise", "cold",
    "warm", "slow", "loose", "dry", "burnt", "wet",
)  # fmt: skip
HEADER = ("date", "device", "family", "complaint", "symptoms", "cause", "fix", "time", "result", "notes")


def write_rows(path: Path, count: int) -> None:
    """Write that many rows of about 95 words, some of them bad."""
    chance = random.Random(count)
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream)
        writer.writerow(HEADER)
        for number in range(count):
            said = [" ".join(chance.choices(WORDS, k=size)) for size in (12, 3, 4, 10, 60)]
            day = f"{2000 + number % 26}-{1 + number % 12:02d}-{1 + number % 28:02d}"
            minutes = "soon" if number % 1000 == 0 else str(number % 90)
            family = f"F-{number % 40}"
            writer.writerow([day, "LED TV", family, *said[:4], minutes, "fixed", said[4]])


def main() -> None:
    """Import twice, the second time with nothing left to do."""
    asked = sys.argv[1] if len(sys.argv) > 1 else "100000"
    count = 5_000 if asked == "workbook" else int(asked)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / ("rows.xlsx" if asked == "workbook" else "rows.csv")
        if asked == "workbook":
            write_messy_workbook(path, count)
        else:
            write_rows(path, count)
        (Path(folder) / "bench").mkdir()
        nb = Notebook(Path(folder) / "bench")
        for attempt in ("first", "again"):
            told: list[int] = []
            start = time.perf_counter()
            report = import_table(
                nb,
                path,
                Plan(columns=guess_mapping(read_header(path))),
                dry_run=False,
                progress=lambda done, total, told=told: told.append(done),  # type: ignore[misc]
            )
            took = time.perf_counter() - start
            peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
            print(f"{attempt}: {report.imported} imported, {report.already_there} there before")
            print(f"  {took:.0f} s, {took / count * 1000:.2f} ms a row, peak memory {peak:.0f} MB")
            print(f"  {report.rejected} rejected, progress told {len(set(told))} different values")


if __name__ == "__main__":
    main()
