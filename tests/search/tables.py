"""Tables of cases that are in no index."""

from collections.abc import Sequence

from kb.notes.case import CaseNote
from kb.terms import Vocabulary
from search.index.case_table import CaseTable
from search.index.documents import case_documents
from search.index.rows import NoteRow, rows_of
from search.reading.concepts import default_finder, finder_for
from search.reading.reading import WeightedTerm


def table_of(documents: Sequence[NoteRow]) -> CaseTable:
    """Return a table of notes that were analysed before, in their order."""
    return CaseTable([rows_of(documents)])


def table_from_cases(cases: Sequence[CaseNote], *, vocabulary: Vocabulary | None = None) -> CaseTable:
    """Return a table of cases; vocabulary: what causes are compared by, default the built-in one."""
    return table_of(documents_from_cases(cases, vocabulary=vocabulary))


def documents_from_cases(cases: Sequence[CaseNote], *, vocabulary: Vocabulary | None = None) -> list[NoteRow]:
    """Return what an index would keep of cases; `terms` of each feeds MemoryPostings."""
    finder = default_finder() if vocabulary is None else finder_for(vocabulary)
    return case_documents(cases, finder)


def word(term: str, weight: float = 1.0) -> WeightedTerm:
    """Return a stem to search, as if it had been typed."""
    return WeightedTerm(term, weight, term)
