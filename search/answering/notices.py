"""Sentences on what was not understood of a complaint, and on what the notebook lacks for it."""

from __future__ import annotations

import numpy as np

from kb.errors import quoted
from search.answering.knowledge import Knowledge, Ruling
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
    if not has_cases:
        notices.append("The notebook has no readable case yet; write up the first repair.")
    return notices
