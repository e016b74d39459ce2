"""Learn from a notebook while it changes, before an answer or beside it."""

import logging
import threading
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from pathlib import Path
from typing import Any, TypeVar

from search.answering.asked import read_said
from search.answering.knowledge import Knowledge
from search.causes.notebook_causes import NotebookCauses
from search.causes.odds import CauseOdds
from search.causes.training import Progress
from search.reading.reading import Reading

Result = TypeVar("Result")
_LOG = logging.getLogger(__name__)
STILL_LEARNING = "The program is still learning from the newest notes, so probabilities may shift."
_ASKED_KEPT = 8  # complaints asked last, 2 MB each of 100,000 notes; chosen by us


@dataclass(frozen=True, kw_only=True, eq=False)
class Learned:
    """One state to answer from. refreshes: requests that it includes. complete: all of it is learned."""

    known: Knowledge
    causes: NotebookCauses
    refreshes: int
    complete: bool = True

    def read(self, text: str, **said: Any) -> Reading:
        """Return what is said (see read_said); a device that signs speak against is not read into it."""
        reading = read_said(self.known, text, **said)
        if not self.causes.doubts_device(reading):
            return reading
        return replace(read_said(self.known, text, **said, doubted=reading.device), may_be=())

    @cached_property
    def understand(self) -> Callable[..., tuple[Reading, CauseOdds]]:
        """Reads a complaint and gives its odds; presses on its page ask the same again."""
        state = replace(self)  # a copy, so that none keeps itself from being freed

        @lru_cache(maxsize=_ASKED_KEPT)
        def understand(text: str, **said: Any) -> tuple[Reading, CauseOdds]:
            reading = state.read(text, **said)
            return reading, state.causes.odds(reading)

        return understand


class Learner:
    """Keep one learned state of a notebook. Safe between threads.

    refreshes: number of requests so far to have every change in the answers. beside: learn in a thread, and
    never let an answer wait for it.
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
        """Return a state to answer from; it never lacks a requested refresh.

        While another request prepares the next state, it is the state before. While a thread learns, it is
        the newest notes with what was learned before.
        """
        learned = self._learned
        if learned is not None and learned.known is self._know():
            return learned
        wait = learned is None or learned.refreshes < self.refreshes
        if not self._lock.acquire(blocking=wait):
            assert learned is not None
            return learned
        try:
            if self._learned is None or self._learned.known is not self._know():
                self._learned = self._next()
                if self._thread is not None and not self._thread.is_alive():
                    self._thread = None  # it failed; other notes are another try
            if not self._learned.complete and self._thread is None:
                self._thread = threading.Thread(target=self._keep_learning, name="learning", daemon=True)
                self._thread.start()
            return self._learned
        finally:
            self._lock.release()

    def learn_after(self, work: Callable[[], Result]) -> Result:
        """Do some work on the index, and learn everything again."""
        with self._lock:
            result = work()
            self._learned = self._learn(afresh=True)
            return result

    def forget(self) -> None:
        """Drop what was learned in memory."""
        with self._lock:
            self._learned = None

    def _next(self) -> Learned:
        """Return the newest state, as well learned as it can be without making an answer of `beside` wait."""
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
        return Learned(known=known, causes=causes, refreshes=refreshes, complete=causes.complete)

    def _keep_learning(self) -> None:
        """Learn until nothing is left to learn; notes that change meanwhile are learned from next."""
        try:
            while True:
                learned = self._learn()
                with self._lock:
                    if self._know() is learned.known:
                        self._learned, self._thread = learned, None
                        return
        except Exception:
            # Answers go on with what was learned before.
            _LOG.exception("learning from past repairs failed")
