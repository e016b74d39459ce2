"""In how many cases of each cause a word or an idea of the complaint stands."""

from functools import cached_property

import numpy as np

from search.index.case_table import CaseTable
from search.index.postings import PostingCache, PostingSource
from search.planning.questions import QUESTIONS
from search.reading.concepts import CONCEPT_MARK
from search.stats.arrays import FloatArray, IntArray

FIELD = "complaint"  # what came in: the owner's words and the symptoms


class TermCounts:
    """Count the cases of each cause that hold a term in complaint or symptoms."""

    def __init__(self, table: CaseTable, source: PostingSource) -> None:
        """Take one state of the index."""
        self._table = table
        self._source = source
        self._kept: PostingCache[str, tuple[FloatArray]] = PostingCache(source.cache_mb / 12)

    @cached_property
    def cases(self) -> FloatArray:
        """Number of cases of each cause; shape (n_causes,)."""
        return self._counted(np.arange(self._table.size))

    def of(self, term: str) -> FloatArray:
        """Return the number of cases of each cause with a stem or a concept; shape (n_causes,)."""
        return self._kept.fetch(term, lambda: (self._counted(self._source.postings(FIELD, term)[0]),))[0]

    @cached_property
    def of_questions(self) -> tuple[FloatArray, FloatArray]:
        """The counts of each idea that one can ask for, and its share of all cases, within (0, 1).

        Shapes (questions, n_causes) and (questions,). Half a case is added to each side of a share.
        """
        counts = np.array([self.of(CONCEPT_MARK + concept) for concept in QUESTIONS])
        return counts, (counts.sum(axis=1) + 0.5) / (float(self.cases.sum()) + 1)

    def _counted(self, rows: IntArray) -> FloatArray:
        causes = self._table.cause[rows]
        return np.bincount(causes[causes >= 0], minlength=len(self._table.cause_names)).astype(np.float64)
