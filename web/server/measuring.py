"""Measure in the background how good the answers are on this notebook."""

import threading
from dataclasses import dataclass

import numpy as np

from search.bench import Bench
from search.causes.notebook_causes import NotebookCauses
from search.evaluation.evaluate import Evaluation, evaluate_notebook

QUICK_CASES = 300  # so many are measured in about 3 s; chosen by us
LONGEST_WAIT_S = 0.5  # from then on the page shows, and looks again by itself; chosen by us


@dataclass(frozen=True, kw_only=True)
class Measured:
    """What was measured, or why it could not be."""

    generation: str  # of the index that it was measured on
    evaluation: Evaluation | None = None
    error: str = ""


class Measuring:
    """Measure a notebook in a thread of its own, one at a time."""

    def __init__(self, bench: Bench) -> None:
        """Prepare to measure; nothing is done until somebody asks."""
        self._bench = bench
        self._lock = threading.Lock()
        self._thread: threading.Thread | None = None
        self.last: Measured | None = None  # perhaps of an earlier state of the notebook

    @property
    def at_work(self) -> bool:
        """Tell whether a measurement is being made."""
        return self._thread is not None and self._thread.is_alive()

    @property
    def up_to_date(self) -> bool:
        """Tell whether the last measurement was made on the notebook as it is now."""
        return self.last is not None and self.last.generation == self._bench.snapshot.generation

    def start(self) -> None:
        """Begin to measure, unless that is being done."""
        with self._lock:
            if not self.at_work:
                self._thread = threading.Thread(target=self.measure, name="measuring", daemon=True)
                self._thread.start()

    def measure_if_quick(self) -> None:
        """Measure a small notebook that was not measured yet, and wait for the result."""
        known = self._bench.knowledge.basis.readable
        if self.last is None and int(np.count_nonzero(known)) <= QUICK_CASES:
            self.start()
            if self._thread is not None:
                self._thread.join(LONGEST_WAIT_S)

    def measure(self) -> None:
        """Measure now, and keep what came out."""
        generation = ""
        try:
            snapshot, families = self._bench.snapshot, self._bench.knowledge.families.values()
            generation = snapshot.generation
            evaluation = evaluate_notebook(NotebookCauses(snapshot, self._bench.finder, families))
            self.last = Measured(generation=generation, evaluation=evaluation)
        except Exception as error:
            # Whatever it was must not end the server's thread in silence; the page says it.
            self.last = Measured(generation=generation, error=str(error) or type(error).__name__)
