"""Sentences on what was not understood of a complaint, and on what the notebook lacks for it."""

import numpy as np

from kb.errors import quoted
from search.answering.knowledge import Knowledge, Ruling
from search.index.case_table import code_of
from search.reading.complaint import LONGEST_COMPLAINT, Reading


def notices_for(reading: Reading, knowledge: Knowledge, ruling: Ruling, *, found: bool) -> list[str]:
    """Return the sentences to show beside an answer. found: whether any past case is shown."""
    notices = [
        f"No case has the cause {quoted(cause)}; nothing was ruled out by it." for cause in ruling.unknown
    ]
    if len(reading.text) > LONGEST_COMPLAINT:
        notices.append(f"Only the first {LONGEST_COMPLAINT:,} characters of the complaint were read.")
    if reading.family and reading.family not in (*knowledge.families, *knowledge.table.family_names):
        notices.append(
            f"The notebook knows no family or model {quoted(reading.family)}; "
            "the answer is taken from all others."
        )
    has_cases = bool(np.any(knowledge.basis.readable))
    if not reading.terms and reading.blinks is None and not reading.family:
        notices.append(
            "Nothing in the complaint says what is wrong; these are the notebook's most common causes. "
            "Try what it does or does not do, a blink count, or a family."
        )
    elif not found and has_cases:
        notices.append(
            "No past case resembles this complaint; the causes are only those this notebook sees most. "
            "Try other words, a blink count, or a family."
        )
    elif reading.device and not reading.family and not reading.tells_fault:
        notices.append(
            f"Of the complaint only the set was understood ({reading.device}); the order below is what such "
            "sets mostly have. Say what it does or does not do in other words."
        )
    if blinks := _unmet_blinks(reading, knowledge):
        notices.append(f"No repair here has noted {blinks}.")
    if not has_cases:
        notices.append("The notebook has no readable case yet; write up the first repair.")
    return notices


def _unmet_blinks(reading: Reading, knowledge: Knowledge) -> str:
    """Return the blink count that was said if no case and no service sheet notes it, else "".

    Those of the family that was said, of all families where none was.
    """
    if reading.blinks is None:
        return ""
    table, family = knowledge.table, reading.family
    in_scope = knowledge.basis.readable & (table.blink_code >= 0)
    if family:
        in_scope &= table.family == code_of(table.family_names, family)
    noted = [table.blink_patterns[code] for code in np.unique(table.blink_code[in_scope]).tolist()]
    notes = [note for name, note in knowledge.families.items() if family in ("", name)]
    noted += [pattern for note in notes for pattern, _ in note.blink_meaning]
    return "" if any(map(reading.blinks.shares_count, noted)) else str(reading.blinks)
