"""Read a labelled list of complaints, and make it a history to learn from."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from kb.errors import BenchloreError
from kb.exchange.tables import open_table
from search.causes.context import Corpus
from search.causes.fault_signs import match_faults
from search.causes.past_cases import PastCases
from search.causes.query_features import QueryMaker
from search.causes.training import History
from search.index.postings import MemoryPostings
from search.reading.complaint import read_complaint
from search.reading.concepts import default_finder
from search.reading.vectors import Meaning
from search.scoring.features import sketch_width
from search.scoring.similarity import MeaningSpace
from search.stats.arrays import IntArray


@dataclass(frozen=True, kw_only=True, eq=False)
class LabelledList:
    """A list of complaints with their causes; families and devices are "" where there is none."""

    texts: Sequence[str]
    causes: Sequence[str]
    families: Sequence[str]
    devices: Sequence[str]

    def history(self, *, meaning: Meaning | None) -> History:
        """Return every row as a past case and as a complaint, read the way complaints are read.

        Family and device are those of the list, if any.
        """
        size, finder = len(self.texts), default_finder()
        (cause, causes), (family, families), (device, devices) = map(
            _codes, (self.causes, self.families, self.devices)
        )
        nothing = np.full(size, -1, np.int64)
        cases = PastCases(
            cause=cause, n_causes=len(causes), family=family, make=nothing, device=device, blink_code=nothing,
            blink_patterns=(), evidence=np.ones(size),
        )  # fmt: skip
        readings = [
            replace(read_complaint(text, finder=finder), family=its_family, make="", device=its_device)
            for text, its_family, its_device in zip(self.texts, self.families, self.devices, strict=True)
        ]
        maker = QueryMaker(width=sketch_width(size), meaning=meaning, families=families, devices=devices)
        queries = maker.queries(readings)
        names = [read_complaint(name, finder=finder) for name in causes]
        terms = [[each.term for each in name.terms] for name in names]
        rows_of = zip(queries, cause.tolist(), strict=True)
        source = MemoryPostings(
            [{"complaint": [each.term for each in query.terms], "cause": terms[at]} for query, at in rows_of]
        )
        space = None
        if meaning is not None:
            vectors = np.stack([query.vector for query in queries if query.vector is not None])
            space = MeaningSpace.of([vectors], np.ones(len(vectors), np.bool_))
        rows = maker.rows(names)
        signs = match_faults(cases, rows, devices, maker, finder)
        return History(
            corpus=Corpus(cases=cases, source=source, space=space, signs=lambda: signs),
            queries=dict(enumerate(queries)),
            names=rows,
            usable=np.ones(size, np.bool_),
        )


def _codes(values: Sequence[str]) -> tuple[IntArray, list[str]]:
    """Return the code of each value, -1 for "", and the names that codes stand for, sorted."""
    names = sorted({*values} - {""})
    place = {name: code for code, name in enumerate(names)}
    return np.array([place.get(value, -1) for value in values], np.int64), names


def read_labelled_csv(path: Path, columns: Mapping[str, str]) -> LabelledList:
    """Read a labelled CSV file; rows without a complaint or a cause are left out.

    columns: of "complaint" and "cause", and if there are such of "family" and "device"; see read_columns.
    """
    read = [row for _, row in read_columns(path, columns)]
    rows = [row for row in read if row["complaint"].strip() and row["cause"].strip()]
    texts, causes, families, devices = (
        [row.get(name, "").strip() for row in rows] for name in ("complaint", "cause", "family", "device")
    )
    return LabelledList(texts=texts, causes=causes, families=families, devices=devices)


def read_columns(path: Path, columns: Mapping[str, str]) -> list[tuple[str, dict[str, str]]]:
    """Return the place of each row of a table ("list.csv:12"), and its values.

    columns: the file's column for each name of a value. Raises: BenchloreError, where the file cannot be read
    or lacks a column; it names the place and the remedy.
    """
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
