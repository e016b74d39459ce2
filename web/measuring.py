"""How sure the answers have proved to be on this notebook: worked out aside, one measurement at a time."""

from __future__ import annotations

import threading
from dataclasses import dataclass

from search.bench import Bench
from search.evaluation import Evaluation, evaluate_notebook


@dataclass(frozen=True, kw_only=True)
class Measured:
    """What was measured, on which state of the index; error: why it could not be."""

    generation: str
    evaluation: Evaluation | None = None
    error: str = ""


class Measuring:
    """Measure a notebook in a thread of its own, one at a time."""

    def __init__(self, bench: Bench) -> None:
        """Prepare to measure; nothing is done until somebody asks."""
        self._bench = bench
        self._lock = threading.Lock()
        self._at_work = False
        self._last: Measured | None = None

    @property
    def at_work(self) -> bool:
        """Tell whether a measurement is being made."""
        return self._at_work

    @property
    def last(self) -> Measured | None:
        """Return the last measurement, perhaps of an earlier state of the notebook."""
        return self._last

    @property
    def up_to_date(self) -> bool:
        """Tell whether the last measurement was made on the notebook as it is now."""
        return self._last is not None and self._last.generation == self._bench.snapshot.generation

    def start(self) -> None:
        """Begin to measure, unless that is being done."""
        with self._lock:
            if self._at_work:
                return
            self._at_work = True
        threading.Thread(target=self.measure, name="measuring", daemon=True).start()

    def measure(self) -> None:
        """Measure now, and keep what came out."""
        generation = ""
        try:
            snapshot = self._bench.snapshot
            generation = snapshot.generation
            evaluation = evaluate_notebook(snapshot, self._bench.finder)
            self._last = Measured(generation=generation, evaluation=evaluation)
        except Exception as error:
            # Whatever it was must not end the server's thread in silence; the page says it.
            self._last = Measured(generation=generation, error=str(error) or type(error).__name__)
        finally:
            self._at_work = False
