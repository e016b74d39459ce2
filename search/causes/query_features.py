"""The features of a complaint, made from its reading alone, whether asked, past, or from a labelled list."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from typing import Self

from kb.notes.blinks import BlinkPattern
from kb.notes.family import FamilyNote
from search.index.case_table import code_of
from search.reading.complaint import Reading, WeightedTerm, read_complaint
from search.reading.concepts import ConceptFinder
from search.reading.sentences import WIDTH as SENTENCE_WIDTH
from search.reading.sentences import SentenceModel
from search.reading.vectors import Meaning
from search.scoring.features import MEANING_LENGTH, SENTENCE_LENGTH, feature_rows
from search.stats.arrays import FloatArray

NOT_SAID, NEVER_MET = -1, -2
_SHEETS_KEPT = 256  # service sheets used last, a few kilobytes each; chosen by us

Sheet = Sequence[tuple[BlinkPattern, FloatArray]]


@dataclass(frozen=True, kw_only=True, eq=False)
class QueryFeatures:
    """Hold one complaint in numbers.

    terms, denied_terms: what is searched, and what is denied. row: (columns,) for the linear models; its
    first part is like the features of a name. vector: compared with past cases by meaning, None for words
    alone. family, make, device: codes of the notebook's names, NOT_SAID, or NEVER_MET for a name of no case.
    sheet: the patterns of the family's service sheet, each with the features of its meaning.
    """

    terms: Sequence[WeightedTerm]
    row: FloatArray
    vector: FloatArray | None = None
    denied_terms: Sequence[WeightedTerm] = ()
    family: int = NOT_SAID
    make: int = NOT_SAID
    device: int = NOT_SAID
    blinks: BlinkPattern | None = None
    sheet: Sheet = ()

    def words_alone(self) -> "QueryFeatures":
        """Return the complaint without the set and its blinks, as often on the telephone."""
        denied = self.denied_terms
        return QueryFeatures(terms=self.terms, row=self.row, vector=self.vector, denied_terms=denied)


@dataclass(frozen=True, kw_only=True, eq=False)
class QueryMaker:
    """Makes features of readings, with the names of one notebook.

    width: hash buckets of a row's word parts. meaning: static vectors, None for words alone. sentences:
    sentence vectors, None for none. families, makes, devices: names; their places are the codes. sheet:
    returns what the service sheet of a family says.
    """

    width: int
    meaning: Meaning | None
    sentences: SentenceModel | None = None
    families: Sequence[str] = ()
    makes: Sequence[str] = ()
    devices: Sequence[str] = ()
    sheet: Callable[[str], Sheet] = lambda family: ()

    @property
    def columns(self) -> int:
        """Return the number of features in a row."""
        static = 0 if self.meaning is None else self.meaning.token_vectors.shape[1]
        return self.width + static + (0 if self.sentences is None else SENTENCE_WIDTH)

    @cached_property
    def for_names(self) -> Self:
        """Return a maker for names and signs, without sentence vectors, which take 4 ms each."""
        return replace(self, sentences=None)

    def with_sheets(self, families: Iterable[FamilyNote], finder: ConceptFinder) -> Self:
        """Return this maker with the service sheets of family notes, each read when first needed."""
        notes = {note.chassis_family.casefold(): note for note in families}

        def read(family: str) -> Sheet:
            note = notes.get(family)
            pairs = () if note is None else note.blink_meaning
            rows = self.for_names.rows(
                [read_complaint(text, finder=finder, literal=True) for _, text in pairs]
            )
            return [(pattern, row) for (pattern, _), row in zip(pairs, rows, strict=True)]

        return replace(self, sheet=lru_cache(maxsize=_SHEETS_KEPT)(read))

    def rows(self, readings: Sequence[Reading]) -> FloatArray:
        """Return the features for the linear models, (len(readings), columns)."""
        return feature_rows(readings, width=self.width, meaning=self.meaning, sentences=self.sentences)

    def queries(self, readings: Sequence[Reading]) -> list[QueryFeatures]:
        """Return the features of complaints, without the words for a device that is known."""
        start, length = self.width, MEANING_LENGTH
        if self.sentences is not None:
            start, length = -SENTENCE_WIDTH, SENTENCE_LENGTH
        told = [reading.without_device if reading.device else reading for reading in readings]
        return [
            QueryFeatures(
                terms=each.terms,
                denied_terms=each.denied_terms,
                row=row,
                vector=row[start:] / length if self.meaning else None,
                family=_code(self.families, each.family),
                make=_code(self.makes, each.make),
                device=_code(self.devices, each.device),
                blinks=each.blinks,
                sheet=self.sheet(each.family.casefold()),
            )
            for each, row in zip(told, self.rows(told), strict=True)
        ]


def _code(names: Sequence[str], said: str) -> int:
    """Return the code of a name. In a notebook without such names no name can be missing: NOT_SAID."""
    return code_of(names, said) if said and names else NOT_SAID  # code_of gives NEVER_MET for others
