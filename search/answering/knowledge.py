"""What answers need to know of one state of the notebook, worked out once."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from kb.notes.case import CaseNote, Outcome
from kb.notes.family import FamilyNote
from kb.terms import Vocabulary
from search.causes.odds import CauseOdds
from search.families.notebook_statistics import NotebookBasis, basis_of
from search.index.case_table import CaseTable
from search.index.documents import cause_key
from search.reading.concepts import ConceptFinder
from search.stats.arrays import BoolArray, FloatArray, IntArray

# All chosen by us.
NOTES_PER_PROFILE = 12  # newest notes of a cause to take its usual check, parts and proof from
PARTS_LISTED, PROOFS_LISTED = 6, 3


@dataclass(frozen=True, kw_only=True)
class CauseProfile:
    """What the newest notes of one cause say of its check, board, parts and proof."""

    check: str
    board: str
    parts: tuple[str, ...]
    proof: tuple[str, ...]
    caution: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Ruling:
    """What the technician has already checked, as causes of the table: codes, and the names said."""

    codes: IntArray
    names: tuple[str, ...]
    unknown: tuple[str, ...]


class Knowledge:
    """One state of the notebook with all that answers need of it worked out once."""

    def __init__(
        self, table: CaseTable, families: dict[str, FamilyNote], vocabulary: Vocabulary, finder: ConceptFinder
    ) -> None:
        """Take one state of the index and the family notes beside it."""
        self.table = table
        self.families = families
        self.vocabulary = vocabulary
        self.finder = finder
        self._profiles: dict[tuple[int, int], CauseProfile] = {}

    @cached_property
    def basis(self) -> NotebookBasis:
        """Return the figures of the whole notebook that answers and family pages share."""
        return basis_of(self.table)

    @cached_property
    def fixed(self) -> BoolArray:
        """Tell which rows are cases that were fixed; shape (size,)."""
        names = self.table.outcome_names
        if Outcome.FIXED not in names:
            return np.zeros(self.table.size, np.bool_)
        mask: BoolArray = self.table.outcome == names.index(Outcome.FIXED)
        return mask

    @cached_property
    def _by_cause(self) -> tuple[IntArray, IntArray]:
        order = np.argsort(self.table.cause, kind="stable")
        edges = np.searchsorted(self.table.cause[order], np.arange(len(self.table.cause_names) + 1))
        return order, edges

    def rows_of_cause(self, cause: int) -> IntArray:
        """Return the rows of the cases with a cause."""
        order, edges = self._by_cause
        rows: IntArray = order[edges[cause] : edges[cause + 1]]
        return rows

    def fix_times(self, cause: int) -> FloatArray:
        """Return the fix times of a cause, minutes: of the repairs that were fixed, else of all tries."""
        rows = self.rows_of_cause(cause)
        fixed = rows[self.fixed[rows]]
        times: FloatArray = self.table.fix_time_min[fixed if fixed.size else rows]
        return times[~np.isnan(times)]

    def profile(self, cause: int, family: int) -> CauseProfile:
        """Return what notes of a cause say: those of a family (a code, -1 for none) first, then the newest.

        A reference such as Q801 names another part in another family.
        """
        if (cause, family) not in self._profiles:
            rows = self.rows_of_cause(cause)
            order = np.lexsort((-self.table.date_days[rows], self.table.family[rows] != family))
            notes = [self.table.note(row) for row in rows[order[:NOTES_PER_PROFILE]].tolist()]
            own = [note for note in notes if note.chassis_family == notes[0].chassis_family]
            fixed = [note for note in own if note.outcome is Outcome.FIXED]
            self._profiles[cause, family] = CauseProfile(
                check=_first_text(note.check for note in own) or _borrowed_check(notes),
                board=_commonest(note.board for note in own) or _commonest(note.board for note in notes),
                parts=_most_used(part for note in fixed for part in note.parts)[:PARTS_LISTED],
                proof=tuple(dict.fromkeys(note.proof for note in fixed if note.proof))[:PROOFS_LISTED],
                caution=tuple(dict.fromkeys(kind for note in own for kind in note.caution)),
            )
        return self._profiles[cause, family]

    def family_code(self, family: str) -> int:
        """Return the code of a family by its name, -1 when no case is of it."""
        names = self.table.family_names
        return names.index(family) if family in names else -1

    def profiles(self, causes: Sequence[int], odds: CauseOdds, family: str) -> dict[int, CauseProfile]:
        """Return the profile of each cause in the family said, else in that of its weightiest case."""
        said = self.family_code(family)
        found = {}
        for cause in causes:
            rows = self.rows_of_cause(cause)
            near = said if said >= 0 else int(self.table.family[rows[np.argmax(odds.case_weight[rows])]])
            found[cause] = self.profile(cause, near)
        return found

    def ruling(self, said: Sequence[str]) -> Ruling:
        """Find the causes that were ruled out, by any spelling that compares equal."""
        place = {key: code for code, key in enumerate(self.table.cause_keys)}
        codes, names, unknown = [], [], []
        for cause in dict.fromkeys(said):
            code = place.get(cause_key(cause, self.finder))
            if code is None:
                unknown.append(cause)
            elif code not in codes:
                codes.append(code)
                names.append(self.table.cause_names[code])
        return Ruling(codes=np.array(codes, np.int64), names=tuple(names), unknown=tuple(unknown))


def _borrowed_check(notes: Sequence[CaseNote]) -> str:
    """Return the check of another family, and say whose it is: its references may name other parts here."""
    return next((f"{note.check} (as in {note.chassis_family})" for note in notes if note.check), "")


def _first_text(texts: Iterable[str]) -> str:
    return next((text for text in texts if text), "")


def _commonest(texts: Iterable[str]) -> str:
    return next(iter(_most_used(texts)), "")


def _most_used(texts: Iterable[str]) -> tuple[str, ...]:
    """Return texts by how often they occur; ties: the one met first."""
    return tuple(text for text, _ in Counter(text for text in texts if text).most_common())
