"""Measure how long the family pages take in a large notebook. Run by hand from the project's folder:

python -m tests.benchmarks.family_page_speed [--cases 100000] [--families 500] [--skewed]

The cases are held in memory: what is measured is the page, from the request to its last byte, without the
look for changed notes, which happens at most once a second.
"""

import argparse
import tempfile
from pathlib import Path
from types import SimpleNamespace
from typing import Any

from kb.notebook import Notebook
from search.bench import Bench
from search.families.family_figures import families_overview
from search.index.case_index import RefreshReport
from search.index.case_table import CaseTable
from tests.benchmarks.family_speed import made_up_cases, timed
from tests.search.tables import table_from_cases
from web.app import create_app


class HeldBench(Bench):
    """A bench over a table in memory."""

    def __init__(self, notebook: Notebook, table: CaseTable) -> None:
        self.notebook = notebook
        self.held: Any = SimpleNamespace(table=table)

    @property
    def snapshot(self) -> Any:
        return self.held

    def refresh(self, *, now: bool = False) -> RefreshReport:
        return RefreshReport()


def main() -> None:
    """Print the times of each page, the first call apart."""
    arguments = argparse.ArgumentParser(description=__doc__)
    arguments.add_argument("--cases", type=int, default=100_000)
    arguments.add_argument("--families", type=int, default=500)
    arguments.add_argument("--skewed", action="store_true")
    asked = arguments.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        notes = Path(folder) / "families"
        notes.mkdir()
        for i in range(asked.families):
            (notes / f"f{i}.md").write_text(
                f"---\nchassis_family: F{i}\ndevice: LED TV\nmake: Halvern\nmodels: [HV-{i}L]\n---\n",
                encoding="utf-8",
            )
        table = table_from_cases(made_up_cases(asked.cases, asked.families, skewed=asked.skewed))
        bench = HeldBench(Notebook(Path(folder)), table)
        client = create_app(bench, testing=True).test_client()
        largest = max(
            families_overview(table, bench.notebook.families()), key=lambda line: line.success.total
        )
        print(f"{asked.cases} cases, {asked.families} families, the largest of {largest.success.total}")
        for address in (
            "/families/F0", "/families/F250", "/families/F0?since=2025-01-01",
            f"/families/{largest.chassis_family}",
            "/families/", "/families/?find=hv-25l", "/weak-points", "/api/families/F0",
        ):  # fmt: skip
            timed(f"first {address}", lambda address=address: client.get(address).data, 1)
            timed(f"again {address}", lambda address=address: client.get(address).data, 10)


if __name__ == "__main__":
    main()
