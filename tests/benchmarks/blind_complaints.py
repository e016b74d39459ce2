"""Measure how often the demo notebook names the right cause of complaints whose cause is known beforehand.

Run: python -m tests.benchmarks.blind_complaints FILE.csv... [--half tune|kept] [--show]

The files have the columns complaint, family (may be empty) and wanted: root causes of the demo that count
as right, with semicolons between. A row belongs to the half "tune" when the CRC-32 of its complaint is even;
only that half may be looked at (--show prints its misses) before the other is asked once, at the very end.
"""

import argparse
import csv
import zlib
from collections.abc import Iterator, Sequence
from pathlib import Path

from kb.notebook import open_demo
from search.bench import Bench
from search.reading.complaint import read_complaint


def rows_of(paths: Sequence[Path], half: str) -> Iterator[dict[str, str]]:
    """Yield the rows of one half of some files, of all rows where half is ""."""
    for path in paths:
        with path.open(encoding="utf-8-sig", newline="") as file:
            for row in csv.DictReader(file):
                tune = zlib.crc32(row["complaint"].encode("utf-8")) % 2 == 0
                if not half or tune == (half == "tune"):
                    yield row


def main() -> None:
    """Ask every complaint and print how often the right cause came first and among three."""
    parser = argparse.ArgumentParser()
    parser.add_argument("files", nargs="+", type=Path)
    parser.add_argument("--half", choices=("tune", "kept"), default="")
    parser.add_argument("--show", action="store_true")
    asked = parser.parse_args()
    bench = Bench(open_demo())
    total = first = three = 0
    likelihood = 0.0
    for row in rows_of(asked.files, asked.half):
        wanted = {cause.strip().casefold() for cause in row["wanted"].split(";")}
        causes = bench.answer(row["complaint"], family=row["family"]).causes
        right = [place for place, cause in enumerate(causes) if cause.root_cause.casefold() in wanted]
        total += 1
        first += right[:1] == [0]
        three += any(place < 3 for place in right)
        likelihood += sum(causes[place].probability for place in right)
        if asked.show and asked.half == "tune" and right[:1] != [0]:
            said = ", ".join(f"{cause.root_cause} {cause.probability:.2f}" for cause in causes[:3])
            print(f"- {row['complaint']}\n    wanted {row['wanted']} ({right[:1]}); said {said}")
            reading = read_complaint(row["complaint"])
            print(f"    {', '.join(reading.concepts)}; instead of {dict(reading.instead_of)}")
    print(
        f"{total} complaints: right first {first} ({first / total:.2f}), among three {three} "
        f"({three / total:.2f}), mean probability of the right causes {likelihood / total:.2f}"
    )


if __name__ == "__main__":
    main()
