"""The open notebook: kept in step with its files, and asked for answers by pages, JSON and terminal."""

import contextlib
import threading
import time
from collections.abc import Callable, Collection, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from functools import partial

from kb.attention import Attention
from kb.errors import NotebookError
from kb.notebook import Notebook
from search.answering.answer import Answer
from search.answering.asked import notices_for
from search.answering.build_answer import build_answer
from search.answering.hits import past_cases
from search.answering.knowledge import Knowledge
from search.causes.notebook_causes import NotebookCauses
from search.index.case_index import CaseIndex, RefreshReport
from search.index.integrity import tried_again
from search.index.postings import USUAL_CACHE_MB
from search.learning import STILL_LEARNING, Learner
from search.reading.complaint import Reading

Progress = Callable[[str, int, int], None]

# Least seconds between two looks for changed notes, and the least multiple of what a look takes: looking at
# 100,000 files takes longer than an answer. Both chosen by us.
LOOK_AGAIN_S = 1.0
LOOKING_SHARE = 20
LONG_LOOK_S = 0.1  # a longer look runs beside the request; chosen by us
STILL_LOOKING = "The program is still looking for notes that were changed while it was off."
_USUAL = "dead"  # a complaint whose answer prepares what all answers need


class Bench:
    """Answer complaints from one notebook. Safe to use from several threads."""

    def __init__(
        self,
        notebook: Notebook,
        *,
        look_again_s: float = LOOK_AGAIN_S,
        progress: Progress | None = None,
        learn_beside: bool = False,
        cache_mb: int = USUAL_CACHE_MB,
    ) -> None:
        """Open the index of a notebook. Learning waits for the first answer.

        look_again_s: least seconds between two looks for changed notes, 0 to look at every refresh. progress:
        called with what is being done, how much is done, and how much there is. learn_beside: learn in a
        thread (see Learner); meanwhile answers come from the newest notes, and say so. cache_mb: most memory
        for posting lists and scores.
        """
        self.notebook = notebook
        self.attention = Attention(notebook)
        self._progress = progress or (lambda what, done, total: None)
        self._look_again_s = look_again_s
        self._refresh_lock, self._known_lock = threading.Lock(), threading.Lock()
        self._looking, self._looked = threading.Lock(), True
        self._known: Knowledge | None = None
        reads = partial(self._progress, "Reading notes")
        learning = partial(self._progress, "Learning from past repairs")
        folder = notebook.state_dir
        self._learner = Learner(lambda: self.knowledge, folder, beside=learn_beside, progress=learning)
        # Answers queue, first come, first served; a semaphore, which keeps no order, doubles the longest
        # wait.
        self._turns = ThreadPoolExecutor(2, "answers")  # two: a slow one holds up nobody; chosen by us
        self._looked_at = time.monotonic()
        self._index = CaseIndex(
            notebook, progress=reads, meanwhile=self._answer_from, look_later=learn_beside, cache_mb=cache_mb
        )
        self._look_took = min(time.monotonic() - self._looked_at, LONG_LOOK_S)
        self._looked = self._index.looked
        if not self._looked:
            self._look_beside()

    def _answer_from(self, index: CaseIndex) -> None:
        """Answer from a state of the index; prepare what every answer needs before anybody waits."""
        self._index = index
        if self._learner.beside:
            self.answer(_USUAL)

    def refresh(self, *, only: Collection[str] | None = None) -> RefreshReport:
        """Take in notes that were added, changed or removed, unless that was done a moment ago.

        only: paths of notes just saved: look at these alone, and now.
        """
        if only is not None or not self._look_again_s:
            return self._take_in(partial(self._index.refresh, only=only), wanted=True)
        soonest = self._looked_at + max(self._look_again_s, LOOKING_SHARE * self._look_took)
        if time.monotonic() < soonest:
            return RefreshReport()
        if self._look_took < LONG_LOOK_S:
            return self._look()
        self._look_beside()
        return RefreshReport()

    def _look_beside(self) -> None:
        def look() -> None:
            with contextlib.suppress(NotebookError):
                self._look()

        self._look_took = 0.0  # stays 0 if looking fails; then the next request looks and gets the error
        threading.Thread(target=look, name="looking", daemon=True).start()

    def _look(self) -> RefreshReport:
        """Look at all notes, while others may save, unless another request is doing so."""
        if not self._looking.acquire(blocking=False):
            return RefreshReport()
        try:
            started = time.monotonic()
            stamps = self._index.look()
            report = self._take_in(partial(self._index.refresh, scan=lambda: stamps), wanted=False)
            self._looked = True
            self._looked_at = time.monotonic()
            self._look_took = 0.0 if report else self._looked_at - started
            return report
        finally:
            self._looking.release()

    def _take_in(self, refresh: Callable[[], RefreshReport], *, wanted: bool) -> RefreshReport:
        """Take in what changed. refresh: CaseIndex.refresh with arguments. wanted: a request waits."""
        with self._refresh_lock:
            report = refresh()
            if report:
                self._answer_from(self._index)  # meanwhile others are answered from the state before
            self._learner.refreshes += wanted
            return report

    def rebuild(self) -> RefreshReport:
        """Build the index from the notes again, and learn everything again."""
        with self._refresh_lock:
            return self._learner.learn_after(self._index.rebuild)

    def distrust(self) -> bool:
        """Build the index again if it was read from disk. Returns: True when another try is worth it."""
        if not self._index.distrust():
            return False
        self._learner.forget()
        return True

    @property
    def warning(self) -> str:
        """Return why the index is not kept on disk, in a sentence; "" when it is."""
        return self._index.warning

    @property
    def knowledge(self) -> Knowledge:
        """Return what answers need of the notebook, from the newest state of its index."""
        snapshot, families = self._index.snapshot(), self.notebook.families()
        with self._known_lock:
            known = self._known
            if known is None or known.snapshot is not snapshot or known.families != families:
                self._known = known = Knowledge(snapshot, families, self.notebook.vocabulary(), known)
            return known

    @property
    def causes(self) -> NotebookCauses:
        """Return the odds of the causes, learned from the newest state if that is possible at once."""
        return self._learner.state().causes

    def read(self, text: str, *, family: str = "", blinks: str = "") -> Reading:
        """Return the reading of a complaint; family, blinks: see answer(). Raises: BlinksError."""
        return self._learner.state().read(text, family=family, blinks=blinks)

    @tried_again
    def answer(
        self,
        text: str,
        *,
        family: str = "",
        blinks: str = "",
        rule_out: Sequence[str] = (),
        limit: int = 20,
        literal: bool = False,
        yes: Sequence[str] = (),
        no: Sequence[str] = (),
    ) -> Answer:
        """Answer a complaint in anybody's words, or none. Raises: BlinksError if `blinks` is no pattern.

        family, blinks: count instead of what the text says; family may be a model. rule_out: root causes
        found not to be it, in any spelling. limit: most past cases to show. literal: take every word as
        affirmed, nothing as denied or past. yes, no: symptoms that the owner affirmed or denied when asked,
        as kb/terms.toml names them.
        """
        started, learned = time.perf_counter(), self._learner.state()
        known = learned.known

        def work() -> Answer:
            said = {"family": family, "blinks": blinks, "literal": literal}
            reading, odds = learned.understand(text, **said, yes=tuple(yes), no=tuple(no))
            ruling = known.ruling(rule_out)
            cases = past_cases(reading, known.snapshot, odds, learned.causes.words, limit, ruling.codes)
            notices = notices_for(reading, known, ruling, found=any(case.note for case in cases))
            notices += filter(None, [self._index.warning, "" if learned.complete else STILL_LEARNING])
            notices += [] if self._looked else [STILL_LOOKING]
            return build_answer(known, reading, odds, ruling=ruling, cases=cases, notices=notices)

        answer = self._turns.submit(work).result()
        return replace(answer, took_ms=(time.perf_counter() - started) * 1000)
