"""Read a labelled list of complaints, and make it a history to learn from."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from kb.errors import BenchloreError
from kb.exchange.rows import guess_mapping, read_header
from kb.exchange.tables import open_table
from search.causes.context import Corpus
from search.causes.fault_signs import FaultSigns
from search.causes.past_cases import PastCases
from search.causes.query_features import QueryMaker
from search.causes.training import History
from search.index.postings import MemoryPostings
from search.reading.complaint import read_complaint
from search.reading.concepts import default_finder
from search.reading.sentences import SentenceModel
from search.reading.vectors import Meaning
from search.scoring.features import sketch_width
from search.scoring.similarity import MeaningSpace
from search.stats.arrays import IntArray

Row = Mapping[str, str]  # "complaint", "cause", and perhaps "family" and "device"
_FIELD = {"complaint": "complaint", "cause": "root_cause", "family": "chassis_family", "device": "device"}


def history_of(
    rows: Sequence[Row], *, meaning: Meaning | None, sentences: SentenceModel | None = None
) -> History:
    """Make every row of a labelled list a past case, and a complaint read like any other."""
    size, finder = len(rows), default_finder()
    (cause, causes), (family, families), (device, devices) = (
        _codes([row.get(name, "") for row in rows]) for name in ("cause", "family", "device")
    )
    nothing = np.full(size, -1, np.int64)
    cases = PastCases(
        cause=cause, n_causes=len(causes), family=family, make=nothing, device=device, blink_code=nothing,
        blink_patterns=(), evidence=np.ones(size),
    )  # fmt: skip
    readings = []
    for row in rows:
        read = read_complaint(row["complaint"], finder=finder)
        given = replace(read, family=row.get("family", ""), make="", device=row.get("device", ""))
        readings.append(given)
    maker = QueryMaker(
        width=sketch_width(size), meaning=meaning, sentences=sentences, families=families, devices=devices
    )
    queries = maker.queries(readings)
    names = [read_complaint(name, finder=finder) for name in causes]
    said, named = ([[each.term for each in text.terms] for text in texts] for texts in (queries, names))
    source = MemoryPostings(
        [{"complaint": terms, "cause": named[at]} for terms, at in zip(said, cause.tolist(), strict=True)]
    )
    vectors = [query.vector for query in queries if query.vector is not None]
    space = MeaningSpace.of([np.stack(vectors)], np.ones(len(vectors), np.bool_)) if vectors else None
    signs = FaultSigns(cases.met(len(devices)), maker.for_names.rows(names), devices, maker, finder)
    corpus = Corpus(cases=cases, source=source, space=space, signs=lambda: signs)
    usable = np.ones(size, np.bool_)
    return History(corpus=corpus, queries=dict(enumerate(queries)), names=maker.rows(names), usable=usable)


def _codes(values: Sequence[str]) -> tuple[IntArray, list[str]]:
    """Return the code of each value, -1 for "", and the sorted names of the codes."""
    names, codes = np.unique(["", *values], return_inverse=True)
    return codes[1:] - 1, names[1:].tolist()


def read_labelled_csv(path: Path, said: Mapping[str, str]) -> list[Row]:
    """Read a labelled CSV file; rows without a complaint or a cause are left out.

    said: the column of each value; if none is given, one whose name an import would know.
    Raises: BenchloreError.
    """
    known = guess_mapping(read_header(path), {_FIELD[name]: column for name, column in said.items()})
    columns = {name: known[field] for name, field in _FIELD.items() if field in known}
    for needed in ("complaint", "cause"):
        if needed not in columns:
            raise BenchloreError(f"{path.name}:1: no column of {needed}s; name it with --{needed} COL")
    rows = [{name: cell.strip() for name, cell in row.items()} for _, row in read_columns(path, columns)]
    return [row for row in rows if row["complaint"] and row["cause"]]


def read_columns(path: Path, columns: Mapping[str, str]) -> list[tuple[str, dict[str, str]]]:
    """Return the place ("list.csv:12") and the values by name of each row. Raises: BenchloreError."""
    with open_table(path) as table:
        if missing := [column for column in columns.values() if column not in table.header]:
            known = ", ".join(table.header)
            raise BenchloreError(f"{path.name}:1: no column {missing[0]!r}; the columns are {known}")
        places = {name: table.header.index(column) for name, column in columns.items()}
        rows = list(table.rows)
    for row in rows:
        if row.reason:
            raise BenchloreError(f"{path.name}:{row.line}: {row.reason}")
    return [
        (f"{path.name}:{row.line}", {name: "".join(row.cells[at : at + 1]) for name, at in places.items()})
        for row in rows
    ]
