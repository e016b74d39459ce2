"""What blink patterns mean in a family: by its service sheet, and by what they turned out to be."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from kb.notes.blinks import BlinkPattern
from kb.notes.family import FamilyNote
from search.families.case_group import CaseGroup
from search.index.case_table import CaseTable, code_of
from search.records import FiguresRecord
from search.stats.intervals import MedianInterval, Share


@dataclass(frozen=True, kw_only=True)
class BlinkFigures(FiguresRecord):
    """One blink pattern: what the service sheet says, and what it turned out to be, most cases first."""

    pattern: str
    service_sheet: str
    cases: int
    causes: tuple[tuple[str, Share], ...]
    fix_time: MedianInterval | None

    def as_json(self) -> dict[str, Any]:
        causes = [
            {"root_cause": cause, "cases": share.count, **share.as_json("share")}
            for cause, share in self.causes
        ]
        return {**super().as_json(), "causes": causes}


def _figures(pattern: str, service_sheet: str, own: CaseGroup) -> BlinkFigures:
    cases = int(own.rows.size)
    return BlinkFigures(
        pattern=pattern, service_sheet=service_sheet, cases=cases,
        causes=tuple((cause, Share(count=count, total=cases)) for cause, count in own.counts("cause")),
        fix_time=own.fix_time(),
    )  # fmt: skip


def blinks_of(cases: CaseGroup, note: FamilyNote) -> tuple[BlinkFigures, ...]:
    """Return a line for each pattern that was seen or stands in the service sheet, by its counts."""
    table = cases.table
    sheet = {str(pattern): meaning for pattern, meaning in note.blink_meaning}
    seen = dict(cases.split(table.blink_code, list(map(str, table.blink_patterns))))
    nothing = CaseGroup(table, cases.rows[:0])
    # "3" before "3 or 4" before "12".
    patterns = sorted({**sheet, **seen}, key=lambda each: ([*map(int, re.findall(r"\d+", each))], each))
    return tuple(_figures(each, sheet.get(each, ""), seen.get(each, nothing)) for each in patterns)


def blinks_said(
    table: CaseTable, families: Mapping[str, FamilyNote], said: BlinkPattern | None, family: str
) -> tuple[BlinkFigures, ...]:
    """Return a line for each count that was said of a known family, in the order of the pattern.

    Its cases are those whose recorded pattern allows the count; none where nothing is known of it.
    """
    if said is None or not family:
        return ()
    sheet = families[family].blink_meaning if family in families else ()
    of_family = np.flatnonzero(table.family == code_of(table.family_names, family))
    lines = []
    for count in said.alternatives:
        fits = [code for code, each in enumerate(table.blink_patterns) if count in each.alternatives]
        own = CaseGroup(table, of_family[np.isin(table.blink_code[of_family], fits)])
        meanings = [says for pattern, says in sheet if count in pattern.alternatives]
        if meanings or own.rows.size:
            lines.append(_figures(str(BlinkPattern(alternatives=(count,))), "; ".join(meanings), own))
    return tuple(lines)
