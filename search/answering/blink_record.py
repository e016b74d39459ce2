"""What a blink count is said to mean in a family, and what it turned out to be."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from kb.notes.blinks import BlinkPattern
from kb.notes.family import FamilyNote
from search.index.case_table import CaseTable, code_of, counts_by_name
from search.reading.complaint import Reading

CAUSES_LISTED = 3  # chosen by us: more would not narrow anything


@dataclass(frozen=True, kw_only=True)
class BlinkRecord:
    """One count that was said, and what it meant in this family.

    Attributes:
        service_sheet: its meaning there, "" where the family's note lists none.
        cases: past cases of the family whose recorded pattern allows this count.
        causes: the commonest of their causes with the number of cases of each; ties by name.
    """

    pattern: str
    service_sheet: str
    cases: int
    causes: tuple[tuple[str, int], ...]

    def as_json(self) -> dict[str, Any]:
        """Return the record as it stands in the JSON answer."""
        return {
            "pattern": self.pattern,
            "service_sheet": self.service_sheet,
            "cases": self.cases,
            "causes": [{"root_cause": cause, "cases": count} for cause, count in self.causes],
        }


def blink_records(
    table: CaseTable, families: Mapping[str, FamilyNote], reading: Reading
) -> tuple[BlinkRecord, ...]:
    """Return a record for each count that was said of a known family, in the order of the pattern."""
    if reading.blinks is None or not reading.family:
        return ()
    note = families.get(reading.family)
    family = code_of(table.family_names, reading.family)
    rows = np.flatnonzero((table.family == family) & (table.blink_code >= 0))
    records = []
    for groups in reading.blinks.alternatives:
        meanings = [
            says for pattern, says in (note.blink_meaning if note else ()) if groups in pattern.alternatives
        ]
        fits = np.array([groups in pattern.alternatives for pattern in table.blink_patterns], np.bool_)
        causes = table.cause[rows[fits[table.blink_code[rows]]]] if rows.size else rows
        counted = counts_by_name(causes, table.cause_names)
        if meanings or counted:
            records.append(
                BlinkRecord(
                    pattern=str(BlinkPattern(alternatives=(groups,))),
                    service_sheet="; ".join(meanings),
                    cases=len(causes),
                    causes=counted[:CAUSES_LISTED],
                )
            )
    return tuple(records)
