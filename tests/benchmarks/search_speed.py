"""Time our search against Whoosh's own on the same notes and queries.

    python -m tests.benchmarks.search_speed [COUNT] [FOLDER]

COUNT: notes to generate, default 20,000. FOLDER: where to keep them for the next time, default a temporary
one. Both index the same terms in the same four fields and answer the same complaints with the best 20.
"""

from __future__ import annotations

import resource
import shutil
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from whoosh import fields, scoring
from whoosh.filedb.filestore import FileStorage
from whoosh.query import Or, Term

from kb.notebook import Notebook
from search.index.case_index import CaseIndex, Snapshot
from search.index.documents import read_document
from search.index.schema import FIELDS
from search.reading.concepts import ConceptFinder, index_terms
from search.scoring.bm25f import bm25f, top
from tests.benchmarks.generate import generate_complaints, make_notebook

QUERIES = 200


@dataclass(frozen=True)
class Word:
    """A query term with its weight."""

    term: str
    weight: float = 1.0


def timed(label: str, work: Callable[[], Any]) -> Any:
    """Run and print how long it took, and how much of a processor it had meanwhile."""
    started, used = time.perf_counter(), time.process_time()
    result = work()
    wall, cpu = time.perf_counter() - started, time.process_time() - used
    print(f"{label:44} {wall:9.3f} s {cpu:9.3f} s of processor")
    return result


def whoosh_index(notebook: Notebook, folder: Path) -> Any:
    """Index the same terms with Whoosh's own writer."""
    words = fields.KEYWORD(scorable=True)
    storage = FileStorage(str(folder)).create()
    index = storage.create_index(fields.Schema(**dict.fromkeys(FIELDS, words)))
    finder = ConceptFinder(notebook.vocabulary())
    writer = index.writer(limitmb=256)
    for path in notebook.scan():
        terms = read_document(path, notebook.read_bytes(path), finder).terms
        writer.add_document(**{field: terms[field] for field in FIELDS if terms[field]})
    writer.commit()
    return index


def milliseconds(queries: Sequence[Any], search: Callable[[Any], Any]) -> tuple[float, float]:
    """Return the median and the 95th percentile of the time a query takes."""
    times = []
    for query in queries:
        started = time.perf_counter()
        search(query)
        times.append(1000 * (time.perf_counter() - started))
    return float(np.median(times)), float(np.percentile(times, 95))


def our_search(snapshot: Snapshot, terms: Any) -> list[int]:
    """Return the best 20 documents by our scorer."""
    scores = bm25f(terms, snapshot.source)
    best: list[int] = top(scores, snapshot.table.date_days, snapshot.table.ids, 20).tolist()
    return best


def main(count: int, folder: Path) -> None:
    """Generate, index and search, and print what it took."""
    notebook = timed(f"write {count} notes", lambda: make_notebook(folder / f"notes-{count}", count))
    shutil.rmtree(notebook.state_dir / "index", ignore_errors=True)
    timed("build our index", lambda: CaseIndex(notebook))
    index = timed("open it again", lambda: CaseIndex(notebook))
    timed("look for changed notes", index.refresh)
    size = sum(path.stat().st_size for path in (notebook.state_dir / "index").iterdir())
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"{'index on disk':44} {size / 1e6:9.1f} MB\n{'most memory so far':44} {peak:9.1f} MB")
    snapshot = index.snapshot()
    finder = ConceptFinder(notebook.vocabulary())
    complaints = generate_complaints(QUERIES)
    queries = [[Word(term) for term in index_terms(complaint, finder)] for complaint in complaints]
    print(f"{QUERIES} complaints of {np.mean([len(terms) for terms in queries]):.1f} terms")
    first = milliseconds(queries, lambda terms: our_search(snapshot, terms))
    again = milliseconds(queries, lambda terms: our_search(snapshot, terms))
    theirs_folder = folder / f"whoosh-{count}"
    shutil.rmtree(theirs_folder, ignore_errors=True)
    theirs = timed("build Whoosh's own index", lambda: whoosh_index(notebook, theirs_folder))
    with theirs.searcher(weighting=scoring.BM25F()) as searcher:

        def whoosh_search(terms: Any) -> Any:
            words = Or([Term(field, each.term, boost=each.weight) for each in terms for field in FIELDS])
            return searcher.search(words, limit=20)

        own = milliseconds(queries, whoosh_search)
    print(f"{'a search':24} {'median':>10} {'95 %':>10}")
    for label, pair in (("ours, first time", first), ("ours, again", again), ("Whoosh's own", own)):
        print(f"{label:24} {pair[0]:7.2f} ms {pair[1]:7.2f} ms")
    print(f"Whoosh's own takes {own[0] / first[0]:.0f} times as long as ours the first time, ", end="")
    print(f"{own[0] / again[0]:.0f} times as long as ours again (medians)")


if __name__ == "__main__":
    number = int(sys.argv[1]) if len(sys.argv) > 1 else 20_000
    if len(sys.argv) > 2:
        main(number, Path(sys.argv[2]))
    else:
        with tempfile.TemporaryDirectory() as scratch:
            main(number, Path(scratch))
