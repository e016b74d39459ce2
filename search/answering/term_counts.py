"""In how many cases of each cause a word or an idea of the complaint stands."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property

import numpy as np

from search.index.case_table import CaseTable
from search.index.postings import PostingSource
from search.reading.concepts import CONCEPT_MARK
from search.stats.arrays import FloatArray, IntArray

FIELD = "complaint"  # what came in: the owner's words and the symptoms


class TermCounts:
    """Count the cases of each cause that hold a term in complaint or symptoms."""

    def __init__(self, table: CaseTable, source: PostingSource) -> None:
        """Take one state of the index."""
        self._table = table
        self._source = source
        self._of_concept: dict[str, FloatArray] = {}
        self._matrix: tuple[tuple[str, ...], FloatArray] | None = None

    @cached_property
    def cases(self) -> FloatArray:
        """Number of cases of each cause; shape (n_causes,)."""
        return self._counted(np.arange(self._table.size))

    def of(self, term: str) -> FloatArray:
        """Return the number of cases of each cause with a stem or a concept; shape (n_causes,)."""
        if term not in self._of_concept:
            rows, _ = self._source.postings(FIELD, term)
            counted = self._counted(rows)
            if not term.startswith(CONCEPT_MARK):
                return counted
            self._of_concept[term] = counted  # a vocabulary is bounded, the words of a language are not
        return self._of_concept[term]

    def matrix(self, concepts: Sequence[str]) -> FloatArray:
        """Return the number of cases of each cause with each concept; shape (concepts, n_causes)."""
        key = tuple(concepts)
        if self._matrix is None or self._matrix[0] != key:
            rows = [self.of(CONCEPT_MARK + concept) for concept in key]
            self._matrix = key, np.array(rows).reshape(len(key), len(self._table.cause_names))
        return self._matrix[1]

    def share(self, term: str) -> float:
        """Return the share of all cases with a term, within (0, 1): half a case is added to each side."""
        return (float(self.of(term).sum()) + 0.5) / (float(self.cases.sum()) + 1)

    def _counted(self, rows: IntArray) -> FloatArray:
        causes = self._table.cause[rows]
        return np.bincount(causes[causes >= 0], minlength=len(self._table.cause_names)).astype(np.float64)
