"""Read a labelled list of complaints, and ask each of them of the others."""

from __future__ import annotations

import csv
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from kb.errors import BenchloreError
from search.causes.context import Corpus
from search.causes.cross_validation import History
from search.causes.past_cases import PastCases
from search.causes.query_features import QueryMaker
from search.index.postings import MemoryPostings
from search.reading.complaint import read_complaint
from search.reading.concepts import ConceptFinder
from search.reading.vectors import Meaning
from search.scoring.features import sketch_width
from search.scoring.similarity import MeaningSpace
from search.stats.arrays import BoolArray, IntArray


@dataclass(frozen=True, kw_only=True, eq=False)
class LabelledList:
    """Hold a list of complaints with their causes; families and devices are "" where there is none."""

    cases: PastCases
    texts: Sequence[str]
    cause_names: Sequence[str]
    families: Sequence[str]
    devices: Sequence[str]


def _codes(values: Sequence[str]) -> tuple[IntArray, list[str]]:
    names = sorted({value for value in values if value})
    place = {name: code for code, name in enumerate(names)}
    return np.array([place.get(value, -1) for value in values], np.int64), names


def read_labelled_csv(path: Path, columns: Mapping[str, str]) -> LabelledList:
    """Read a labelled CSV file; rows without a complaint or a cause are left out.

    columns: the file's column for each of "complaint" and "cause", and where there are such of "family" and
    "device". Raises: BenchloreError that names the file and the column.
    """
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            reader = csv.DictReader(file)
            names = reader.fieldnames or []
            for column in columns.values():
                if column not in names:
                    raise BenchloreError(
                        f"{path.name}:1: no column {column!r}; the columns are {', '.join(names)}"
                    )
            rows = [{key: (row[column] or "").strip() for key, column in columns.items()} for row in reader]
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise BenchloreError(f"{path.name}: cannot be read as a CSV file in UTF-8: {error}") from error
    rows = [row for row in rows if row["complaint"] and row["cause"]]
    cause, cause_names = _codes([row["cause"] for row in rows])
    families, devices = ([row.get(name, "") for row in rows] for name in ("family", "device"))
    nothing = np.full(len(rows), -1, np.int64)
    cases = PastCases(
        cause=cause,
        n_causes=len(cause_names),
        family=_codes(families)[0],
        make=nothing,
        device=_codes(devices)[0],
        blink_code=nothing,
        blink_patterns=(),
        date_days=np.zeros(len(rows), np.int64),
        evidence=np.ones(len(rows)),
    )
    return LabelledList(
        cases=cases,
        texts=[row["complaint"] for row in rows],
        cause_names=cause_names,
        families=families,
        devices=devices,
    )


class ListCorpus:
    """Make a labelled list into a corpus, and each of its rows into a complaint."""

    def __init__(self, listed: LabelledList, finder: ConceptFinder, meaning: Meaning | None) -> None:
        """Read every row the way a complaint is read; family and device are those of the list, if any."""
        readings = [
            replace(read_complaint(text, finder=finder), family=family, make="", device=device)
            for text, family, device in zip(listed.texts, listed.families, listed.devices, strict=True)
        ]
        maker = QueryMaker(
            width=sketch_width(len(listed.texts)),
            meaning=meaning,
            families=_codes(listed.families)[1],
            devices=_codes(listed.devices)[1],
        )
        self.queries = maker.queries(readings)
        names = [read_complaint(name, finder=finder) for name in listed.cause_names]
        self.names = maker.rows(names)
        source = MemoryPostings(
            [
                {
                    "complaint": [each.term for each in query.terms],
                    "cause": [each.term for each in names[cause].terms],
                }
                for query, cause in zip(self.queries, listed.cases.cause.tolist(), strict=True)
            ]
        )
        space = None
        if meaning is not None:
            vectors = np.stack([query.vector for query in self.queries if query.vector is not None])
            space = MeaningSpace.of(vectors, np.ones(len(vectors), np.bool_))
        self.corpus = Corpus(cases=listed.cases, source=source, space=space)

    def history(self, usable: BoolArray) -> History:
        """Return what is learned from the usable rows. usable: (size,)."""
        return History(
            corpus=self.corpus,
            queries=dict(enumerate(self.queries)),
            names=self.names,
            usable=usable,
        )
