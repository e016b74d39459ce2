"""Read a labelled list of complaints, and ask each of them of the others."""

from __future__ import annotations

import csv
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from kb.errors import BenchloreError
from search.causes.past_cases import Asked, PastCases
from search.causes.training import PlainTerm
from search.causes.word_scores import word_scores
from search.index.postings import MemoryPostings
from search.reading.concepts import ConceptFinder, index_terms
from search.reading.vectors import Meaning
from search.scoring.features import sketch_width, text_rows
from search.scoring.similarity import MeaningSpace, likeness_and_telling
from search.stats.arrays import BoolArray, IntArray


@dataclass(frozen=True, kw_only=True, eq=False)
class LabelledList:
    """Hold a list of complaints with their causes, ready to be asked."""

    cases: PastCases
    texts: Sequence[str]
    cause_names: Sequence[str]


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
    nothing = np.full(len(rows), -1, np.int64)
    cases = PastCases(
        cause=cause,
        n_causes=len(cause_names),
        family=_codes([row.get("family", "") for row in rows])[0],
        make=nothing,
        device=_codes([row.get("device", "") for row in rows])[0],
        blink_code=nothing,
        blink_patterns=(),
        date_days=np.zeros(len(rows), np.int64),
        evidence=np.ones(len(rows)),
    )
    return LabelledList(cases=cases, texts=[row["complaint"] for row in rows], cause_names=cause_names)


class ListAsker:
    """Ask complaints of a labelled list of the rows under a mask."""

    def __init__(self, listed: LabelledList, finder: ConceptFinder, meaning: Meaning | None) -> None:
        self.cases = listed.cases
        self.terms = [[PlainTerm(term, 1.0) for term in index_terms(text, finder)] for text in listed.texts]
        causes = [index_terms(name, finder) for name in listed.cause_names]
        self.source = MemoryPostings(
            [
                {"complaint": [each.term for each in terms], "cause": causes[cause]}
                for terms, cause in zip(self.terms, listed.cases.cause.tolist(), strict=True)
            ]
        )
        self.vectors = None if meaning is None else meaning.vectors(listed.texts)
        width = sketch_width(len(listed.texts))
        self.rows = text_rows(listed.texts, finder, width=width, meaning=meaning, vectors=self.vectors)
        self.names = text_rows(listed.cause_names, finder, width=width, meaning=meaning)
        self._space: tuple[bytes, MeaningSpace] | None = None

    def asked(self, row: int, mask: BoolArray) -> Asked:
        """Return the complaint of a row against the rows under a mask, without scores."""
        words, telling = likeness_and_telling(self.terms[row], self.source, mask)
        meaning = None
        if self.vectors is not None:
            meaning = self._space_of(mask).likeness(self.vectors[row])
        return Asked(
            words=words,
            meaning=meaning,
            scores=np.zeros((2, self.cases.n_causes)),
            word_scores=word_scores(self.terms[row], self.source, self.cases, mask),
            family=int(self.cases.family[row]),
            device=int(self.cases.device[row]),
            telling=telling,
        )

    def _space_of(self, mask: BoolArray) -> MeaningSpace:
        assert self.vectors is not None
        key = mask.tobytes()
        if self._space is None or self._space[0] != key:
            self._space = key, MeaningSpace.of(self.vectors, mask)
        return self._space[1]
