"""The odds of the causes for one state of a notebook: learned from it and kept beside its index."""

from collections.abc import Iterable, Sequence
from copy import copy
from dataclasses import replace
from functools import cached_property
from pathlib import Path
from typing import Self

import numpy as np

from kb.notes.case import CaseNote
from kb.notes.family import FamilyNote
from search.causes.context import Corpus
from search.causes.fault_signs import FaultSigns
from search.causes.known_faults import read_plainly
from search.causes.model_store import KEPT_FILE, CauseModel, LearnedFrom, keep, read_kept
from search.causes.odds import CauseOdds
from search.causes.past_cases import PastCases
from search.causes.query_features import NEVER_MET, QueryMaker
from search.causes.training import History, Progress, fit_model
from search.index.case_table import code_of
from search.index.snapshot import Snapshot
from search.reading.complaint import Reading, read_complaint
from search.reading.concepts import ConceptFinder
from search.reading.sentences import WIDTH, load_sentences
from search.reading.vectors import load_meaning
from search.scoring.bm25f import Collection
from search.scoring.features import sketch_width
from search.scoring.similarity import MeaningSpace
from search.stats.arrays import BoolArray, FloatArray

_MOST_LEARNED = 20_000  # rows, the newest of each cause first; more only takes longer; chosen by us
# Share of the odds of signs below which a device told by another thing's name is doubted. Of 107 such
# devices, 91 of 92 right ones have more, and 15 of 15 wrong ones less.
_DEVICE_DOUBTED = 0.2
# How many times as likely another device must be before a device's own name is doubted. Of 84 such names
# without a case, 8 wrong ones were above it; the highest right one was at 180.
_NAME_DOUBTED = 300.0


class NotebookCauses:
    """Give the odds of every cause of a notebook for a complaint. Safe between threads once made."""

    def __init__(
        self,
        state: Snapshot,
        finder: ConceptFinder,
        families: Iterable[FamilyNote] = (),
        *,
        words_alone: bool = False,
        before: Self | None = None,
    ) -> None:
        """Take one state of the index, and the family notes for what service sheets say of blinks.

        words_alone: leave meaning out even if it is installed. before: the same for an earlier state, so that
        only what is new is worked out.
        """
        self.table, self.generation, self._lexicon = state.table, state.generation, state.lexicon
        self.finder = finder
        cases = PastCases.from_table(state.table)
        self.usable: BoolArray = cases.cause >= 0
        vectors = None if words_alone else state.vectors
        self.meaning = None if vectors is None else load_meaning()
        earlier = None if before is None else before.corpus.space
        space = None if vectors is None else MeaningSpace.of(vectors, self.usable, before=earlier)
        maker = QueryMaker(
            width=sketch_width(int(self.usable.sum())),
            meaning=self.meaning,
            sentences=load_sentences() if vectors and vectors[0].shape[1] == WIDTH else None,
            families=self.table.family_names,
            makes=self.table.make_names,
            devices=self.table.device_names,
        )
        self._names_before: tuple[Sequence[str], FloatArray] = (
            [],
            np.zeros((0, maker.for_names.columns), np.float32),
        )
        self._signs_before: FaultSigns | None = None
        if before is not None and (before.finder, before.maker.columns) == (finder, maker.columns):
            self._names_before = before.table.cause_names, before.names
            self._signs_before = before.signs
        self.maker: QueryMaker = maker.with_sheets(families, finder)
        self.corpus: Corpus = Corpus(
            cases=cases, source=state.source, space=space, names=lambda: self.names, signs=lambda: self.signs
        )
        self.model, self.complete = CauseModel.unlearned(), True

    @classmethod
    def learn(
        cls,
        state: Snapshot,
        finder: ConceptFinder,
        families: Iterable[FamilyNote] = (),
        *,
        folder: Path | None = None,
        afresh: bool = False,
        wait: bool = True,
        before: Self | None = None,
        progress: Progress = lambda done, total: None,
    ) -> Self:
        """Return a notebook's odds, learned now or earlier.

        folder: where what was learned is kept. Kept for this state, it is used as it is. Kept for another
        state, it still gives the tuning, and in a large notebook the linear models of the causes it knows.
        Damaged or of another format, it is learned again. afresh: learn everything again, as after a rebuild.
        wait: False to learn nothing now. Then the odds of the state before serve if they were learned, else
        what is kept, else the defaults; `complete` tells whether nothing is left to learn.
        """
        causes = cls(state, finder, families, before=before)
        count, width = int(causes.usable.sum()), causes.maker.columns
        now, kept = LearnedFrom(state.generation, state.table.cause_keys, count, width), None
        if before is not None and before.model.linear:  # else what is kept may be better than defaults
            kept = before.model
        elif folder is not None and not afresh:
            kept = read_kept(folder / KEPT_FILE, now)
        model = None if kept is None else kept.for_state(now)
        causes.complete = wait or model is not None
        if model is None and wait:
            tuning = None if kept is None else kept.tuning_for(now)
            model = replace(fit_model(causes.history(), tuning=tuning, progress=progress), source=now)
            if folder is not None:
                keep(folder / KEPT_FILE, model)
        causes.model = model or (kept and kept.carried_to(now)) or causes.model
        return causes

    def with_families(self, families: Iterable[FamilyNote]) -> Self:
        """Return the same odds with other family notes, which leave the cases as they are."""
        causes = copy(self)
        causes.maker = self.maker.with_sheets(families, self.finder)
        return causes

    @cached_property
    def names(self) -> FloatArray:
        """Return the features of the causes' names, (n_causes, width); no name is read twice."""
        names, (before, rows) = self.table.cause_names, self._names_before
        if names == before:
            return rows
        known = dict(zip(before, rows, strict=True))
        fresh = [name for name in names if name not in known]
        read = self.maker.for_names.rows([read_plainly(name, self.finder) for name in fresh])
        known |= zip(fresh, read, strict=True)
        return np.array([known[name] for name in names]).reshape(len(names), self.maker.for_names.columns)

    @cached_property
    def signs(self) -> FaultSigns:
        """Return the known faults, matched to the causes."""
        before, devices = self._signs_before, self.table.device_names
        met = self.corpus.cases.met(len(devices))
        signs = FaultSigns(met, self.names, devices, self.maker, self.finder, before)
        return before if before is not None and signs.same_as(before) else signs

    @property
    def words(self) -> Collection:
        """Return the words of the cases that the odds come from."""
        return self.corpus.usable_cases(self.usable).collection

    def odds(self, complaint: Reading) -> CauseOdds:
        """Return the odds for a complaint."""
        (query,) = self.maker.queries([complaint])
        return self.model.odds(self.corpus, query, self.usable)

    def doubts_device(self, complaint: Reading) -> bool:
        """Tell whether signs speak against the device that was read.

        A word that only hints at a device is doubted easily: "rings" may be a hob's, but not where all other
        words are of a telephone. A device's name or use is doubted only if no case is of one, and another is
        far likelier: "knocked the kettle, and now the mixer only goes on speed six".
        """
        by_name = complaint.device_by != "other"
        met = by_name and code_of(self.table.device_names, complaint.device) != NEVER_MET
        if complaint.family or not complaint.device or met:
            return False
        (query,) = self.maker.queries([replace(complaint, device="")])
        if by_name:
            return self.signs.likelier_than(query, complaint.device) > _NAME_DOUBTED
        return self.signs.share_of_device(query, complaint.device) < _DEVICE_DOUBTED

    def history(self) -> History:
        """Return what to learn from: readable cases with a cause, each as its owner told it."""
        chosen = self._most_telling()
        queries = self.maker.queries([self._as_told(self.table.note(row)) for row in chosen])
        by_row = dict(zip(chosen, queries, strict=True))
        names = self.maker.rows([read_plainly(name, self.finder) for name in self.table.cause_names])
        return History(corpus=self.corpus, queries=by_row, names=names, usable=self.usable)

    def _as_told(self, note: CaseNote) -> Reading:
        """Return a case as a complaint: the owner's words, else the symptoms, and the set."""
        words = note.complaint or ".\n".join(note.symptom)
        said = read_complaint(words, finder=self.finder, lexicon=self._lexicon)
        return replace(
            said, family=note.chassis_family, make=note.make, device=note.device, blinks=note.blinks
        )

    def _most_telling(self) -> list[int]:
        """Return the rows to learn from: all, or in a very large notebook the newest of each cause."""
        rows, cause = np.flatnonzero(self.usable), self.table.cause
        if len(rows) > _MOST_LEARNED:
            rows = rows[np.lexsort((-self.table.date_days[rows], cause[rows]))]
            begins = np.flatnonzero(np.diff(cause[rows], prepend=-1))
            place = np.arange(len(rows)) - np.repeat(begins, np.diff(begins, append=len(rows)))
            rows = np.sort(rows[np.argsort(place, kind="stable")[:_MOST_LEARNED]])
        return rows.tolist()
