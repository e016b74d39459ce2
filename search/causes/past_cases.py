"""Past cases as columns of numbers, from which the odds of the causes are worked out."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Self

import numpy as np
from numpy.typing import NDArray

from kb.notes.blinks import BlinkPattern
from search.index.case_table import CaseTable
from search.stats.arrays import BoolArray, FloatArray, IntArray

EVIDENCE_NOT_FIXED = 0.5  # the cause of a case that was not fixed is only suspected; chosen by us


@dataclass(frozen=True, kw_only=True, eq=False)
class PastCases:
    """Hold what the odds need of past cases; every array has the shape (size,).

    cause: codes 0 .. n_causes - 1, -1 for none. family, make, device, blink_code: codes, -1 where not said.
    evidence: how much a case says of its cause, 0 to 1.
    """

    cause: IntArray
    n_causes: int
    family: IntArray
    make: IntArray
    device: IntArray
    blink_code: IntArray
    blink_patterns: Sequence[BlinkPattern]
    evidence: FloatArray

    @property
    def size(self) -> int:
        """Count the rows."""
        return len(self.cause)

    @classmethod
    def from_table(cls, table: CaseTable) -> Self:
        """Take the columns of a case table. Deleted and unreadable rows have no cause and never count."""
        columns = ("cause", "family", "make", "device", "blink_code", "blink_patterns")
        evidence = np.where(table.fixed, np.float32(1), np.float32(EVIDENCE_NOT_FIXED))
        same = {name: getattr(table, name) for name in columns}
        return cls(n_causes=len(table.cause_names), evidence=evidence, **same)

    @cached_property
    def bucket(self) -> NDArray[np.intp]:
        """Return the cause of each row, n_causes for none; (size,)."""
        return np.where(self.cause < 0, self.n_causes, self.cause).astype(np.intp)

    def met(self, devices: int) -> FloatArray:
        """Return 1 where a cause was met in a device, else 0; (n_causes, devices)."""
        met = np.zeros((self.n_causes + 1, devices + 1), np.float32)
        met[self.cause, self.device] = 1  # -1, for none, is the last row and column, cut off below
        return met[:-1, :-1]

    def sums(self, values: FloatArray | BoolArray) -> FloatArray:
        """Return the sum of a value over the cases of each cause; values: (size,); shape (n_causes,)."""
        return np.bincount(self.bucket, values, self.n_causes + 1)[:-1].astype(np.float64, copy=False)
