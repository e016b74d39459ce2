"""Read a labelled list of complaints, and make it a history to learn from."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from search.causes.context import Corpus
from search.causes.cross_validation import History
from search.causes.fault_signs import match_faults
from search.causes.past_cases import PastCases
from search.causes.query_features import QueryMaker
from search.evaluation.csv_columns import read_columns
from search.index.postings import MemoryPostings
from search.reading.complaint import read_complaint
from search.reading.concepts import default_finder
from search.reading.vectors import Meaning
from search.scoring.features import sketch_width
from search.scoring.similarity import MeaningSpace
from search.stats.arrays import IntArray


@dataclass(frozen=True, kw_only=True, eq=False)
class LabelledList:
    """Hold a list of complaints with their causes; families and devices are "" where there is none."""

    cases: PastCases
    texts: Sequence[str]
    cause_names: Sequence[str]
    families: Sequence[str]
    devices: Sequence[str]

    def history(self, *, meaning: Meaning | None) -> History:
        """Return every row as a past case and as a complaint, read the way complaints are read.

        Family and device are those of the list, if any.
        """
        finder = default_finder()
        readings = [
            replace(read_complaint(text, finder=finder), family=family, make="", device=device)
            for text, family, device in zip(self.texts, self.families, self.devices, strict=True)
        ]
        maker = QueryMaker(
            width=sketch_width(len(self.texts)),
            meaning=meaning,
            families=_codes(self.families)[1],
            devices=_codes(self.devices)[1],
        )
        queries = maker.queries(readings)
        names = [read_complaint(name, finder=finder) for name in self.cause_names]
        source = MemoryPostings(
            [
                {
                    "complaint": [each.term for each in query.terms],
                    "cause": [each.term for each in names[cause].terms],
                }
                for query, cause in zip(queries, self.cases.cause.tolist(), strict=True)
            ]
        )
        space = None
        if meaning is not None:
            vectors = np.stack([query.vector for query in queries if query.vector is not None])
            space = MeaningSpace.of(vectors, np.ones(len(vectors), np.bool_))
        rows, devices = maker.rows(names), _codes(self.devices)[1]
        signs = match_faults(self.cases, rows, devices, maker, finder)
        return History(
            corpus=Corpus(cases=self.cases, source=source, space=space, signs=lambda: signs),
            queries=dict(enumerate(queries)),
            names=rows,
            usable=np.ones(self.cases.size, np.bool_),
        )


def _codes(values: Sequence[str]) -> tuple[IntArray, list[str]]:
    names = sorted({value for value in values if value})
    place = {name: code for code, name in enumerate(names)}
    return np.array([place.get(value, -1) for value in values], np.int64), names


def read_labelled_csv(path: Path, columns: Mapping[str, str]) -> LabelledList:
    """Read a labelled CSV file; rows without a complaint or a cause are left out.

    Args:
        path: the file.
        columns: its column for each of "complaint" and "cause", and where there are such of "family" and
            "device".

    Raises:
        BenchloreError: see read_columns.
    """
    stripped = ({name: said.strip() for name, said in row.items()} for _, row in read_columns(path, columns))
    rows = [row for row in stripped if row["complaint"] and row["cause"]]
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
