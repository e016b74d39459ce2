"""Choose the past cases to show for a complaint."""

from __future__ import annotations

import numpy as np

from search.causes.blink_likelihood import blink_likelihoods
from search.causes.odds import CauseOdds
from search.index.snapshot import Snapshot
from search.reading.complaint import Reading
from search.scoring.bm25f import bm25f, top
from search.stats.arrays import BoolArray, IntArray

# A past case that shares no word is still shown when its meaning or its blinks are this near; chosen by us.
NEAR_IN_LIKENESS = 0.15
NEAR_IN_BLINKS = 0.3


def rows_to_show(
    reading: Reading, snapshot: Snapshot, odds: CauseOdds, limit: int
) -> tuple[IntArray, IntArray]:
    """Return the rows of past cases that have something in common with the complaint, and of bad notes.

    A row is shown for a word, for a meaning, for its blinks or for its family; a complaint that says nothing
    shows the newest of the notebook. Best first; ties: newest date, then case id.
    """
    table = snapshot.table
    words = bm25f(reading.terms, snapshot.source)
    common: BoolArray = words > 0
    if reading.blinks is not None:
        recorded = table.blink_code >= 0
        near = blink_likelihoods(table.blink_code, table.blink_patterns, reading.blinks) >= NEAR_IN_BLINKS
        common |= recorded & near
    if reading.family in table.family_names:
        common |= table.family == table.family_names.index(reading.family)
    for names, codes, said in (
        (table.make_names, table.make, reading.make),
        (table.device_names, table.device, reading.device),
    ):
        if said in names and not reading.terms and reading.blinks is None and not reading.family:
            common |= codes == names.index(said)
    if reading.terms:
        common |= odds.likeness >= NEAR_IN_LIKENESS
    elif reading.blinks is None and not reading.family:
        common |= not common.any()
    hits = top(np.where(common, odds.case_weight, 0.0), table.date_days, table.ids, limit)
    bad = np.where(table.alive & ~table.readable, words, 0.0)
    return hits, top(bad, table.date_days, table.paths, limit)
