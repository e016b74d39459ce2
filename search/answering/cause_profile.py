"""What the cases of one cause say of it, whatever the complaint: check, parts, proof, times, families."""

from collections import Counter
from collections.abc import Iterable

import numpy as np

from kb.notes.case import Outcome
from search.answering.answer import CauseAnswer, Codes
from search.families.case_group import CaseGroup

# All chosen by us.
NOTES_PER_PROFILE = 12  # newest notes of a cause to take its usual check, parts and proof from
PARTS_LISTED, PROOFS_LISTED = 6, 3


def cause_profile(cases: CaseGroup, codes: Codes, family: int) -> CauseAnswer:
    """Return what the cases of a cause say, for no complaint yet.

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
    boards = (*_most_used(note.board for note in own), *_most_used(note.board for note in notes), "")
    parts = _most_used(part for note in fixed for part in note.parts)[:PARTS_LISTED]
    name, *spellings = (table.cause_names[code] for code in codes)
    return CauseAnswer(
        codes=codes,
        root_cause=name,
        spellings=tuple(spellings),
        rows=rows,
        fixed=int(cases.fixed.size),
        check=cases.check(codes[0], 0.0, says=says, board=boards[0], parts=parts, note=_check_note(cases)),
        board=boards[0],
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


def _most_used(texts: Iterable[str]) -> tuple[str, ...]:
    """Return texts by how often they occur, "" left out; ties: the one met first."""
    return tuple(text for text, _ in Counter(filter(None, texts)).most_common())
