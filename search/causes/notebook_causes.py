"""The causes' odds for one state of a notebook: learned from it, kept beside its index, and asked."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property
from pathlib import Path
from typing import Protocol

import numpy as np

from kb.notes.case import CaseNote
from search.causes.fitting import LinearModel
from search.causes.model_store import KEPT_FILE, Kept, LearnedFrom, keep, read_kept
from search.causes.odds import CauseOdds, cause_odds
from search.causes.opinions import Tuning
from search.causes.past_cases import Asked, PastCases
from search.causes.training import CauseModel, History, PlainTerm, Progress, fit_model
from search.causes.word_scores import word_scores
from search.index.case_table import CaseTable, code_of
from search.index.postings import PostingSource
from search.reading.complaint import Reading
from search.reading.concepts import ConceptFinder, index_terms
from search.reading.text import tokenise
from search.reading.vectors import load_meaning
from search.scoring.features import sketch_width, text_rows
from search.scoring.similarity import MeaningSpace, likeness_and_telling
from search.stats.arrays import BoolArray, FloatArray, IntArray

_MOST_LEARNED = 20_000  # newest rows of each cause first; more would only take longer; chosen by us


class State(Protocol):
    """What is needed of a state of the index, such as search.index.Snapshot."""

    @property
    def source(self) -> PostingSource:
        """The posting lists."""
        ...

    @property
    def table(self) -> CaseTable:
        """The columns."""
        ...

    @property
    def generation(self) -> str:
        """A text that changes with the index."""
        ...

    @property
    def vectors(self) -> FloatArray | None:
        """The meaning vector of each row, or None."""
        ...


def complaint_text(note: CaseNote) -> str:
    """Return what a note says of the fault as it came in: complaint and symptoms."""
    return ".\n".join(text for text in (note.complaint, *note.symptom) if text)


def owners_words(note: CaseNote) -> str:
    """Return what an owner said of the fault; the symptoms where that was not noted."""
    return note.complaint or ".\n".join(note.symptom)


def without_device(text: str, finder: ConceptFinder) -> str:
    """Return a text without the words that name a device: once that is known, they tell nothing more."""
    tokens = tokenise(text)
    kept = text
    for hit in reversed(finder.find(tokens)):
        if hit.kind == "device":
            start, end = tokens[hit.start_token].start, tokens[hit.end_token - 1].end
            kept = f"{kept[:start]} {kept[end:]}"
    return kept


class NotebookCauses:
    """Give the odds of every cause of a notebook for a complaint. Safe between threads once made."""

    def __init__(self, state: State, finder: ConceptFinder, *, words_alone: bool = False) -> None:
        """Take one state of the index. words_alone: leave meaning out even where it is installed."""
        self.table, self.source, self.generation = state.table, state.source, state.generation
        self.finder = finder
        self.cases = PastCases.from_table(state.table)
        self.usable: BoolArray = state.table.alive & state.table.readable & (self.cases.cause >= 0)
        self._vectors = None if words_alone else state.vectors
        self.meaning = None if self._vectors is None else load_meaning()
        self.width = sketch_width(int(self.usable.sum()))
        self._asked_texts: dict[int, str] = {}
        self._asked_vectors: dict[int, FloatArray] = {}
        self.model = self._nothing_learned()

    @classmethod
    def learn(
        cls,
        state: State,
        finder: ConceptFinder,
        *,
        folder: Path | None = None,
        afresh: bool = False,
        progress: Progress | None = None,
    ) -> NotebookCauses:
        """Return a notebook's odds, learned from it or taken up from what is kept in a folder.

        What is kept for this very state is used as it is. What is kept for another state still gives its
        tuning, and in a large notebook its linear opinion for the causes it knows. What is damaged or of
        another format is learned again. afresh: learn everything again, as after a rebuild.
        """
        causes = cls(state, finder)
        kept = None if afresh or folder is None else read_kept(folder / KEPT_FILE)
        now = causes.learned_from
        model = None if kept is None else kept.model_for(now)
        if model is None:
            tuning = None if kept is None else kept.tuning_for(now)
            model = fit_model(causes.history(), tuning=tuning, progress=progress)
            if folder is not None:
                keep(folder / KEPT_FILE, Kept(source=now, model=model))
        causes.model = model
        return causes

    @property
    def learned_from(self) -> LearnedFrom:
        """Return what a model learned now is learned from."""
        return LearnedFrom(
            generation=self.generation,
            cause_keys=self.table.cause_keys,
            cases=int(self.usable.sum()),
            width=self.names.shape[1],
        )

    def odds(self, complaint: Reading, *, usable: BoolArray | None = None) -> CauseOdds:
        """Return the odds for a complaint. usable: (size,) rows to answer from, default all readable ones."""
        mask = self.usable if usable is None else usable & self.usable
        text, terms = complaint.text, complaint.terms
        if complaint.device:
            text = without_device(text, self.finder)
            left = set(index_terms(text, self.finder))
            named = set(index_terms(complaint.text, self.finder)) - left
            terms = tuple(term for term in terms if term.term not in named)
        vector = None if self.meaning is None else self.meaning.vectors([text])
        row = text_rows([text], self.finder, width=self.width, meaning=self.meaning, vectors=vector)[0]
        words, telling = likeness_and_telling(terms, self.source, mask)
        asked = Asked(
            words=words,
            meaning=None if vector is None else self._space.likeness(vector[0]),
            scores=self.model.scores(row),
            word_scores=word_scores(terms, self.source, self.cases, mask),
            family=_code(self.table.family_names, complaint.family),
            make=_code(self.table.make_names, complaint.make),
            device=_code(self.table.device_names, complaint.device),
            blinks=complaint.blinks,
            spoken=bool(terms),
            telling=telling,
        )
        return cause_odds(self.cases, asked, self.model.tuning, usable=mask)

    def history(self, usable: BoolArray | None = None) -> History:
        """Return what is learned from. usable: (size,) rows that may be looked at, default all readable."""
        mask = self.usable if usable is None else usable & self.usable
        chosen = self._most_telling(mask)
        rows = np.zeros((self.table.size, self.names.shape[1]), np.float32)
        rows[chosen] = self.features(chosen)
        learnable = np.zeros(self.table.size, np.bool_)
        learnable[chosen] = True
        return History(
            cases=self.cases, rows=rows, usable=mask, asked=self.asked, names=self.names,
            asks=self.ask_features, learnable=learnable,
        )  # fmt: skip

    def ask_features(self, rows: IntArray) -> FloatArray:
        """Return the features of past complaints as their owners told them, one row each."""
        texts = [self._asked_text(row) for row in rows.tolist()]
        vectors = self._ask_vectors(rows)
        return text_rows(texts, self.finder, width=self.width, meaning=self.meaning, vectors=vectors)

    def _ask_vectors(self, rows: IntArray) -> FloatArray | None:
        """Return the meaning of rows as complaints, (len(rows), width); kept for `asked`."""
        if self.meaning is None:
            return None
        new = [row for row in rows.tolist() if row not in self._asked_vectors]
        if new:
            found = self.meaning.vectors([self._asked_text(row) for row in new]).astype(np.float32)
            self._asked_vectors.update(zip(new, found, strict=True))
        return np.stack([self._asked_vectors[row] for row in rows.tolist()]) if len(rows) else None

    @cached_property
    def names(self) -> FloatArray:
        """Return the features of the causes' names, shape (causes, width)."""
        return text_rows(self.table.cause_names, self.finder, width=self.width, meaning=self.meaning)

    def features(self, rows: IntArray) -> FloatArray:
        """Return the features of past complaints, one row each."""
        texts = [self._text(row) for row in rows.tolist()]
        vectors = None if self._vectors is None else self._vectors[rows].astype(np.float32)
        return text_rows(texts, self.finder, width=self.width, meaning=self.meaning, vectors=vectors)

    def asked(self, row: int, mask: BoolArray) -> Asked:
        """Return a past case as its owner told it, against the rows under a mask, without scores."""
        cases = self.cases
        terms = [PlainTerm(term, 1.0) for term in index_terms(self._asked_text(row), self.finder)]
        vectors = self._ask_vectors(np.array([row]))
        code = int(cases.blink_code[row])
        words, telling = likeness_and_telling(terms, self.source, mask)
        return Asked(
            words=words,
            meaning=None if vectors is None else self._space.likeness(vectors[0]),
            scores=np.zeros((2, cases.n_causes)),
            word_scores=word_scores(terms, self.source, cases, mask),
            family=int(cases.family[row]),
            make=int(cases.make[row]),
            device=int(cases.device[row]),
            blinks=cases.blink_patterns[code] if code >= 0 else None,
            spoken=bool(terms),
            telling=telling,
        )

    def _asked_text(self, row: int) -> str:
        text = self._asked_texts.get(row)
        if text is None:
            text = owners_words(self.table.note(row))
            if self.cases.device[row] >= 0:
                text = without_device(text, self.finder)
            self._asked_texts[row] = text
        return text

    def _text(self, row: int) -> str:
        return complaint_text(self.table.note(row))

    @cached_property
    def _space(self) -> MeaningSpace:
        assert self._vectors is not None
        return MeaningSpace.of(self._vectors, self.usable)

    def _most_telling(self, mask: BoolArray) -> IntArray:
        """Return the rows to learn from: all, or of a very large notebook the newest of each cause."""
        rows = np.flatnonzero(mask & (self.cases.cause >= 0))
        if len(rows) <= _MOST_LEARNED:
            return rows
        rows = rows[np.lexsort((-self.cases.date_days[rows], self.cases.cause[rows]))]
        cause = self.cases.cause[rows]
        begins = np.flatnonzero(np.diff(cause, prepend=-1))
        place = np.arange(len(rows)) - np.repeat(begins, np.diff(begins, append=len(rows)))
        return np.sort(rows[np.argsort(place, kind="stable")[:_MOST_LEARNED]])

    def _nothing_learned(self) -> CauseModel:
        width, count = self.names.shape[1], len(self.table.cause_names)
        nothing = LinearModel(weights=np.zeros((width, count), np.float32), offset=np.zeros(count))
        return CauseModel(tuning=Tuning(), logistic=None, means=nothing)


def _code(names: Sequence[str], said: str) -> int:
    """Return the code of a name, -1 when nothing was said, -2 when the notebook does not know it."""
    if not said:
        return -1
    return code_of(names, said)
