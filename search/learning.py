"""Learn from a notebook while it changes: before an answer, or in a thread beside answers."""

import logging
import threading
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache, partial
from pathlib import Path
from time import sleep
from typing import Any, TypeVar

from search.answering.advice import MILD, hazards_said
from search.answering.asked import read_said
from search.answering.danger_heard import DangerModel, danger_model
from search.answering.knowledge import Knowledge
from search.causes.notebook_causes import NotebookCauses
from search.causes.odds import CauseOdds
from search.causes.training import Progress
from search.index.documents import MOST_SENTENCES
from search.reading.reading import Reading
from search.reading.sentences import load_sentences

Result = TypeVar("Result")
_LOG = logging.getLogger(__name__)
STILL_LEARNING = "The program is still learning from the newest notes, so probabilities may shift."
# Answers take longer while a thread learns, and people often ask right after a save. Chosen by us.
WAIT_AFTER_SAVE_S = 5.0
_ASKED_KEPT = 8  # complaints asked last, 2 MB each with 100,000 notes; chosen by us


@dataclass(frozen=True, kw_only=True, eq=False)
class Learned:
    """A state to answer from. refreshes: requests whose changes it has. complete: all is learned.

    dangers: hears those that no rule does; None without sentence vectors, and until it is made.
    """

    known: Knowledge
    causes: NotebookCauses
    refreshes: int
    complete: bool = True
    dangers: DangerModel | None = None

    def read(self, text: str, **said: Any) -> Reading:
        """Read a complaint (see read_said), without a device that signs speak against.

        A danger that nothing else tells is heard in the complaint as a whole, in its first 128 word pieces.
        """
        reading = read_said(self.known, text, **said)
        if self.causes.doubts_device(reading):
            reading = read_said(self.known, text, **said, doubted=reading.device)
        if self.dangers is None or not MILD.issuperset(hazards_said(self.known, reading)):
            return reading
        return replace(reading, danger_heard=self.dangers.heard(reading.evidence_text))

    @cached_property
    def understand(self) -> Callable[..., tuple[Reading, CauseOdds]]:
        """Reads a complaint and gives its odds. Both are kept, as presses on a page ask the same again."""
        state = replace(self)  # a copy, as a state that refers to itself is freed late

        @lru_cache(maxsize=_ASKED_KEPT)
        def understand(text: str, **said: Any) -> tuple[Reading, CauseOdds]:
            reading = state.read(text, **said)
            return reading, state.causes.odds(reading)

        return understand


class Learner:
    """Keep one learned state of a notebook. Safe between threads.

    refreshes: number of requests so far that wanted their changes in answers. beside: learn in a thread; no
    answer waits for it.
    """

    def __init__(
        self, know: Callable[[], Knowledge], folder: Path, *, beside: bool, progress: Progress
    ) -> None:
        """Prepare to learn from what `know` returns, the newest state, and to keep it in a folder."""
        self.refreshes = 0
        self._know, self._folder, self.beside, self._progress = know, folder, beside, progress
        self._lock = threading.Lock()
        self._learned: Learned | None = None
        self._thread: threading.Thread | None = None

    def state(self) -> Learned:
        """Return a state to answer from, which has the changes of every request that wanted them.

        While another request prepares the next state, it is the one before. While a thread learns, it has the
        newest notes with what was learned before.
        """
        learned = self._learned
        if learned is not None and learned.known is self._know():
            return learned
        wait = learned is None or learned.refreshes < self.refreshes
        if not self._lock.acquire(blocking=wait):
            assert learned is not None
            return learned
        try:
            wait_s = 0.0 if self._learned is None else WAIT_AFTER_SAVE_S
            if self._learned is None or self._learned.known is not self._know():
                self._learned = self._next()
                if self._thread is not None and not self._thread.is_alive():
                    self._thread = None  # it failed; with other notes it is tried again
            if not self._learned.complete and self._thread is None:
                learn = partial(self._keep_learning, wait_s)
                self._thread = threading.Thread(target=learn, name="learning", daemon=True)
                self._thread.start()
            return self._learned
        finally:
            self._lock.release()

    def learn_after(self, work: Callable[[], Result]) -> Result:
        """Do some work on the index, then learn everything again."""
        with self._lock:
            result = work()
            self._learned = self._learn(afresh=True)
            return result

    def forget(self) -> None:
        """Drop what was learned in memory."""
        with self._lock:
            self._learned = None

    def _next(self) -> Learned:
        """Return the newest state. With `beside` it has only what can be learned without waiting."""
        refreshes, known, before = self.refreshes, self._know(), self._learned
        if before is not None and before.known.snapshot.generation == known.snapshot.generation:
            causes = before.causes.with_families(known.families.values())  # the cases say the same
            return replace(before, known=known, causes=causes, refreshes=refreshes)
        return self._learn(before=None if before is None else before.causes, wait=not self.beside)

    def _learn(
        self, *, before: NotebookCauses | None = None, wait: bool = True, afresh: bool = False
    ) -> Learned:
        refreshes, known = self.refreshes, self._know()
        causes = NotebookCauses.learn(
            known.snapshot,
            known.finder,
            known.families.values(),
            folder=self._folder,
            before=before,
            wait=wait,
            afresh=afresh,
            progress=self._progress,
        )
        sentences = load_sentences() if known.table.size <= MOST_SENTENCES else None
        dangers = None if sentences is None else danger_model(sentences, wait=wait)
        complete = causes.complete and (sentences is None or dangers is not None)
        return Learned(known=known, causes=causes, refreshes=refreshes, complete=complete, dangers=dangers)

    def _keep_learning(self, wait_s: float) -> None:
        """Learn until nothing is left to learn; notes that change meanwhile are learned from next.

        wait_s: seconds to wait first, as answers take longer while a thread learns.
        """
        try:
            while True:
                sleep(wait_s)
                wait_s = WAIT_AFTER_SAVE_S
                learned = self._learn()
                with self._lock:
                    if self._know() is learned.known:
                        self._learned, self._thread = learned, None
                        return
        except Exception:
            # Answers go on with what was learned before.
            _LOG.exception("learning from past repairs failed")
