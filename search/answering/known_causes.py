"""What a notebook calls its causes, and which parts point to them."""

from collections import Counter, defaultdict
from functools import lru_cache

import numpy as np

from search.index.case_table import CaseTable
from search.reading.job_note import KnownCauses

NOTES_READ = 2_000  # newest cases looked at for their parts; chosen by us: a tenth of a second
_AGREE = 0.75  # of a part's cases that must share a cause; chosen by us (test_known_causes)


@lru_cache(maxsize=1)  # a table that is no longer asked takes up much memory
def known_causes(table: CaseTable) -> KnownCauses:
    """Return the causes of a table, with the parts whose cases agree on one."""
    counts: defaultdict[tuple[str, str], Counter[str]] = defaultdict(Counter)
    rows = np.flatnonzero(table.alive & table.readable & (table.cause >= 0))
    for row in rows[np.argsort(-table.date_days[rows], kind="stable")[:NOTES_READ]].tolist():
        note = table.note(row)
        for part in note.parts:
            counts[note.chassis_family, part.split()[0]][table.cause_names[table.cause[row]]] += 1
    by_part = {
        part: causes.most_common(1)[0][0]
        for part, causes in counts.items()
        if causes.most_common(1)[0][1] >= _AGREE * causes.total()
    }
    return KnownCauses(names=tuple(table.cause_names), by_part=by_part)
