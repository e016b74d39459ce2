"""What requests work on: the notebook, its bench, how good answers are, and what saves notes."""

import threading
from typing import cast

import numpy as np
from flask import current_app, flash, request

from search.bench import Bench
from search.causes.notebook_causes import NotebookCauses
from search.evaluation.evaluate import Evaluation, evaluate_notebook
from web.server.note_service import NoteService

QUICK_CASES = 300  # measured in about 3 s; chosen by us
LONGEST_WAIT_S = 0.5  # then the page is shown, and asks again by itself; chosen by us


class Measuring:
    """Measures how good answers are, in a thread, one at a time. error: why `evaluation` is missing."""

    def __init__(self, bench: Bench) -> None:
        self.evaluation: Evaluation | None = None
        self.error = ""
        self._bench, self._lock, self._thread = bench, threading.Lock(), threading.Thread()
        self._generation = ""  # of the index that was measured

    @property
    def at_work(self) -> bool:
        """Tell whether a measurement is running."""
        return self._thread.is_alive()

    @property
    def up_to_date(self) -> bool:
        """Tell whether the notebook is as it was at the last measurement."""
        return self._generation == self._bench.knowledge.snapshot.generation

    def start(self) -> None:
        """Start to measure, unless one is running."""
        with self._lock:
            if not self.at_work:
                self._thread = threading.Thread(target=self.measure, name="measuring", daemon=True)
                self._thread.start()

    def measure_if_quick(self) -> None:
        """Measure a small notebook, if it was not measured yet, and wait for the result."""
        readable = np.count_nonzero(self._bench.knowledge.basis.readable)
        if self.evaluation is None and not self.error and readable <= QUICK_CASES:
            self.start()
            self._thread.join(LONGEST_WAIT_S)

    def measure(self) -> None:
        """Measure now, and keep the result."""
        try:
            known = self._bench.knowledge
            causes = NotebookCauses(known.snapshot, known.finder, known.families.values())
            self.evaluation, self.error = evaluate_notebook(causes), ""
            self._generation = known.snapshot.generation
        except Exception as failed:
            # No error may end the thread in silence: the page shows it.
            self.evaluation, self.error = None, str(failed) or type(failed).__name__


class Desk:
    """What belongs to one application: notebook, bench, saving, measuring. git: see NoteService."""

    def __init__(self, bench: Bench, *, git: bool) -> None:
        self.bench, self.notebook, self.measuring = bench, bench.notebook, Measuring(bench)
        self.notes = NoteService(
            bench.notebook, git=git, warn=_warn, refresh=lambda paths: bench.refresh(only=paths)
        )


def _warn(warning: str) -> None:
    current_app.logger.warning("%s", warning)
    if not request.path.startswith("/api/"):
        flash(warning)


def desk() -> Desk:
    """Return the desk of the application that answers this request."""
    return cast(Desk, current_app.extensions["desk"])
