"""The causes' odds for one state of a notebook: learned from it, kept beside its index, and asked."""

from __future__ import annotations

from collections.abc import Iterable
from copy import copy
from dataclasses import replace
from functools import cached_property
from pathlib import Path

import numpy as np

from kb.notes.case import CaseNote
from kb.notes.family import FamilyNote
from search.causes.context import Corpus
from search.causes.cross_validation import History, Progress
from search.causes.fault_signs import FaultSigns, match_faults, read_plainly
from search.causes.model_store import KEPT_FILE, Kept, LearnedFrom, keep, read_kept
from search.causes.odds import CauseOdds
from search.causes.past_cases import PastCases
from search.causes.query_features import QueryMaker
from search.causes.training import CauseModel, fit_model
from search.index.snapshot import Snapshot
from search.reading.complaint import Reading, read_complaint
from search.reading.concepts import ConceptFinder
from search.reading.vectors import load_meaning
from search.scoring.features import sketch_width
from search.scoring.similarity import MeaningSpace
from search.stats.arrays import BoolArray, FloatArray

_MOST_LEARNED = 20_000  # newest rows of each cause first; more would only take longer; chosen by us


def owners_words(note: CaseNote) -> str:
    """Return what an owner said of the fault; the symptoms where that was not noted."""
    return note.complaint or ".\n".join(note.symptom)


class NotebookCauses:
    """Give the odds of every cause of a notebook for a complaint. Safe between threads once made."""

    def __init__(
        self,
        state: Snapshot,
        finder: ConceptFinder,
        families: Iterable[FamilyNote] = (),
        *,
        words_alone: bool = False,
        before: NotebookCauses | None = None,
    ) -> None:
        """Take one state of the index and the family notes, for what their service sheets say of blinks.

        words_alone: leave meaning out even where it is installed.
        before: the odds of an earlier state, to work out only what is new.
        """
        self.table, self.generation, self._lexicon = state.table, state.generation, state.lexicon
        self.finder = finder
        cases = PastCases.from_table(state.table)
        self.usable: BoolArray = state.table.alive & state.table.readable & (cases.cause >= 0)
        vectors = None if words_alone else state.vectors
        self.meaning = None if vectors is None else load_meaning()
        earlier = None if before is None else before.corpus.space
        space = None if vectors is None else MeaningSpace.of(vectors, self.usable, before=earlier)
        maker = QueryMaker(
            width=sketch_width(int(self.usable.sum())),
            meaning=self.meaning,
            families=self.table.family_names,
            makes=self.table.make_names,
            devices=self.table.device_names,
        )
        same = before is not None and (before.finder, before.maker.width) == (finder, maker.width)
        self._name_rows: dict[str, FloatArray] = before._name_rows if before is not None and same else {}
        self.maker: QueryMaker = maker.with_sheets(families, finder)
        self.corpus: Corpus = Corpus(
            cases=cases, source=state.source, space=space, names=lambda: self.names, signs=lambda: self.signs
        )
        self.model = CauseModel.unlearned()

    @classmethod
    def learn(
        cls,
        state: Snapshot,
        finder: ConceptFinder,
        families: Iterable[FamilyNote] = (),
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
        causes = cls(state, finder, families)
        now = causes.learned_from
        kept = None if afresh or folder is None else read_kept(folder / KEPT_FILE, now)
        model = None if kept is None else kept.model_for(now)
        if model is None:
            tuning = None if kept is None else kept.tuning_for(now)
            model = fit_model(causes.history(), tuning=tuning, progress=progress)
            if folder is not None:
                keep(folder / KEPT_FILE, Kept(source=now, model=model))
        causes.model = model
        return causes

    @classmethod
    def at_once(
        cls,
        state: Snapshot,
        finder: ConceptFinder,
        families: Iterable[FamilyNote] = (),
        *,
        folder: Path,
        before: NotebookCauses | None,
    ) -> tuple[NotebookCauses, bool]:
        """Return a notebook's odds without learning anything, and whether there is something to learn.

        before: the odds of the state before this one. Without it, what is kept in the folder serves, and
        without that the defaults.
        """
        causes = cls(state, finder, families, before=before)
        now = causes.learned_from
        if before is not None and before.model.linear:  # else what is kept may know more than the defaults
            kept: Kept | None = Kept(source=before.learned_from, model=before.model)
        else:
            kept = read_kept(folder / KEPT_FILE, now)
        model = None if kept is None else kept.model_for(now)
        causes.model = model or (kept and kept.carried_to(now)) or causes.model
        return causes, model is None

    def with_families(self, families: Iterable[FamilyNote]) -> NotebookCauses:
        """Return the same odds with other family notes: the cases say the same."""
        causes = copy(self)
        causes.maker = self.maker.with_sheets(families, self.finder)
        return causes

    @cached_property
    def names(self) -> FloatArray:
        """Return the features of the causes' names, (n_causes, width); no name is read twice."""
        names = self.table.cause_names
        fresh = [name for name in names if name not in self._name_rows]
        rows = self.maker.rows([read_plainly(name, self.finder) for name in fresh])
        self._name_rows.update(zip(fresh, rows, strict=True))
        return np.array([self._name_rows[name] for name in names]).reshape(len(names), self.maker.columns)

    @cached_property
    def signs(self) -> FaultSigns:
        """Return the faults that the causes are generally known as."""
        return match_faults(self.corpus.cases, self.names, self.table.device_names, self.maker, self.finder)

    @property
    def learned_from(self) -> LearnedFrom:
        """Return what a model learned now is learned from."""
        return LearnedFrom(
            generation=self.generation,
            cause_keys=self.table.cause_keys,
            cases=int(self.usable.sum()),
            width=self.maker.columns,
        )

    def odds(self, complaint: Reading) -> CauseOdds:
        """Return the odds for a complaint."""
        (query,) = self.maker.queries([complaint])
        return self.model.odds(self.corpus, query, self.usable)

    def history(self) -> History:
        """Return what is learned from: readable cases with a cause, each as its owner told it."""
        chosen = self._most_telling()
        queries = self.maker.queries([self._case_as_told(row) for row in chosen])
        return History(
            corpus=self.corpus,
            queries=dict(zip(chosen, queries, strict=True)),
            names=self.names,
            usable=self.usable,
        )

    def _case_as_told(self, row: int) -> Reading:
        """Return the reading of a past case: the owner's words, and what the note says of the set."""
        note = self.table.note(row)
        said = read_complaint(owners_words(note), finder=self.finder, lexicon=self._lexicon)
        return replace(
            said, family=note.chassis_family, make=note.make, device=note.device, blinks=note.blinks
        )

    def _most_telling(self) -> list[int]:
        """Return the rows to learn from: all, or of a very large notebook the newest of each cause."""
        rows, cases = np.flatnonzero(self.usable), self.corpus.cases
        if len(rows) > _MOST_LEARNED:
            rows = rows[np.lexsort((-cases.date_days[rows], cases.cause[rows]))]
            begins = np.flatnonzero(np.diff(cases.cause[rows], prepend=-1))
            place = np.arange(len(rows)) - np.repeat(begins, np.diff(begins, append=len(rows)))
            rows = np.sort(rows[np.argsort(place, kind="stable")[:_MOST_LEARNED]])
        return rows.tolist()
