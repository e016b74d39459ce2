"""What the cases of one cause say of it, whatever the complaint: check, parts, proof, times, families."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np

from kb.notes.case import Outcome
from search.families.case_group import CaseGroup
from search.planning.checks import Check
from search.stats.arrays import IntArray

Codes = tuple[int, ...]  # the codes that the table gives one cause, one for each way it is spelled
# All chosen by us.
NOTES_PER_PROFILE = 12  # newest notes of a cause to take its usual check, parts and proof from
PARTS_LISTED, PROOFS_LISTED = 6, 3


@dataclass(frozen=True, kw_only=True)
class CauseProfile:
    """What the cases of one cause say.

    rows: its cases; fixed: how many of them were fixed. check: what tells whether it is the fault, with
    probability 0. board, parts, proof, caution: of the newest notes. fix_time_min: median of the repairs that
    were fixed, else of all; None where no time is recorded. by_family: families in which it was met with the
    number of cases of each, most first; ties by name.
    """

    rows: IntArray = field(compare=False)
    fixed: int
    check: Check
    board: str
    parts: tuple[str, ...]
    proof: tuple[str, ...]
    caution: tuple[str, ...]
    fix_time_min: float | None
    by_family: tuple[tuple[str, int], ...]

    @property
    def cases(self) -> int:
        """The number of its cases."""
        return len(self.rows)


def cause_profile(cases: CaseGroup, cause: int, family: int) -> CauseProfile:
    """Return what the cases of a cause say, given its code in the table.

    The notes of `family` come first (a code, negative for none): Q801 is another part in another family.
    """
    table, rows, times = cases.table, cases.rows, cases.fix_minutes()
    order = np.lexsort((-table.date_days[rows], table.family[rows] != family))
    notes = [table.note(row) for row in rows[order[:NOTES_PER_PROFILE]].tolist()]
    own = [note for note in notes if note.chassis_family == notes[0].chassis_family]
    fixed = [note for note in own if note.outcome is Outcome.FIXED]
    # The longest says how it is done, and safely; a short one often says only what was found.
    says = max((note.check for note in own), key=len)
    # Of another family it says whose it is: its references may name other parts here.
    borrowed = (f"{note.check} (as in {note.chassis_family})" for note in notes if note.check)
    says = says or next(borrowed, "")
    board = _commonest(note.board for note in own) or _commonest(note.board for note in notes)
    parts = _most_used(part for note in fixed for part in note.parts)[:PARTS_LISTED]
    return CauseProfile(
        rows=rows,
        fixed=int(cases.fixed.size),
        check=cases.check(cause, 0.0, says=says, board=board, parts=parts, note=_check_note(cases)),
        board=board,
        parts=parts,
        proof=tuple(dict.fromkeys(note.proof for note in fixed if note.proof))[:PROOFS_LISTED],
        caution=tuple(dict.fromkeys(kind for note in own for kind in note.caution)),
        fix_time_min=float(np.median(times)) if times.size else None,
        by_family=cases.counts("family"),
    )


def _check_note(cases: CaseGroup) -> str:
    """Return what to know before trusting a check: that no case of its cause was ever fixed; else ""."""
    outcomes = {*cases.named("outcome")}
    if not outcomes <= {Outcome.NOT_FIXED, Outcome.NOT_ECONOMIC}:
        return ""
    count, fixed = len(cases.rows), "worth fixing" if outcomes == {Outcome.NOT_ECONOMIC} else "fixed"
    return f"the only case was not {fixed}" if count == 1 else f"none of its {count} cases was {fixed}"


def _commonest(texts: Iterable[str]) -> str:
    return next(iter(_most_used(texts)), "")


def _most_used(texts: Iterable[str]) -> tuple[str, ...]:
    """Return texts by how often they occur; ties: the one met first."""
    return tuple(text for text, _ in Counter(text for text in texts if text).most_common())
