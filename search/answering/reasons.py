"""Why a cause is likely, and what speaks against it: one short line each, counted in its cases."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from kb.notes.blinks import BlinkPattern
from search.answering.suspects import Suspect
from search.answering.term_counts import TermCounts
from search.index.case_table import CaseTable, code_of, counts_by_name
from search.reading.complaint import Reading, WeightedTerm
from search.reading.concepts import CONCEPT_MARK
from search.stats.arrays import IntArray

# All chosen by us.
TERMS_NAMED, PATTERNS_NAMED = 3, 3  # more would not be read
TELLS_SOMETHING = 1.25  # a word must be so many times as common in the cause's cases as in all cases
SHOWN_BY_MANY = 0.5  # what half of a cause's cases show speaks against it when it is denied


@dataclass(frozen=True, kw_only=True, eq=False)
class Reasons:
    """Give reasons for one complaint."""

    table: CaseTable
    reading: Reading
    counts: TermCounts

    def why(self, suspect: Suspect) -> str:
        """Return what a cause rests on: words, blinks, and how common it is in the set's family."""
        shown = (self._terms_shown(suspect), self._blinks_shown(suspect), self._habit(suspect))
        parts = [each for each in shown if each]
        if parts:
            return "; ".join(parts)
        return f"how often such sets have it: {_cases(len(suspect.rows))} in this notebook"

    def against(self, suspect: Suspect) -> str:
        """Return what speaks against a cause: a denied symptom, another blink count, another set, no fix."""
        table, rows = self.table, suspect.rows
        parts = [*self._denied(suspect), *self._other_blinks(suspect)]
        if suspect.other_device:
            parts.append(
                f"met only in another set: {_named(_distinct(table.device_names, table.device[rows]))}"
            )
        if self.reading.family and not parts:
            family = code_of(table.family_names, self.reading.family)
            if family >= 0 and not np.any(table.family[rows] == family):
                parts.append(f"never met in {self.reading.family}")
        if not np.any(table.fixed[rows]):
            parts.append(f"never fixed in {_cases(len(rows))}")
        return "; ".join(parts)

    def _terms_shown(self, suspect: Suspect) -> str:
        """Return the searched words and ideas that are much commoner in its cases than in all."""
        count, total = len(suspect.rows), float(self.counts.cases.sum())
        found: list[tuple[float, int, WeightedTerm]] = []
        for term in self._evidence_terms():
            shown = self._shown(term.term, suspect)
            lift = shown / count / max(float(self.counts.of(term.term).sum()) / total, 1e-9) if shown else 0.0
            if lift >= TELLS_SOMETHING:
                found.append((term.weight * shown / count * np.log(lift), shown, term))
        found.sort(key=lambda each: -each[0])
        named: list[tuple[str, int]] = []
        words_said: set[str] = set()
        for _, shown, term in sorted(found, key=lambda each: not each[2].term.startswith(CONCEPT_MARK)):
            words = {*term.said.split(), *_spoken(term).split()}
            if words & words_said:
                continue  # "clicks" and "click", "blinking light" and "light" are one observation
            words_said |= words
            named.append((_spoken(term), shown))
        return _counted(named[:TERMS_NAMED], count)

    def _evidence_terms(self) -> Iterable[WeightedTerm]:
        left_out = self.reading.device_terms
        return (term for term in self.reading.terms if term.term not in left_out)

    def _shown(self, term: str, suspect: Suspect) -> int:
        return int(self.counts.of(term)[list(suspect.codes)].sum())

    def _blinks_shown(self, suspect: Suspect) -> str:
        """Return in how many of its cases a blink count that was said is noted."""
        if self.reading.blinks is None:
            return ""
        fits = [code for code, each in enumerate(self.table.blink_patterns) if self._agrees(each)]
        noted = int(np.isin(self.table.blink_code[suspect.rows], fits).sum())
        return (
            f"blinks {self.reading.blinks} noted in {noted} of {_cases(len(suspect.rows))}" if noted else ""
        )

    def _other_blinks(self, suspect: Suspect) -> Iterable[str]:
        """Yield the counts its cases note, where none of them agrees with what was said."""
        codes = self.table.blink_code[suspect.rows]
        names = [str(pattern) for pattern in self.table.blink_patterns]
        met = np.unique(codes[codes >= 0]).tolist()
        if self.reading.blinks is None or not met:
            return
        if not any(self._agrees(self.table.blink_patterns[code]) for code in met):
            noted = [name for name, _ in counts_by_name(codes, names)]
            more = ["others"] if len(noted) > PATTERNS_NAMED else []
            listed = _named([*noted[:PATTERNS_NAMED], *more])
            yield f"blinks {listed} noted in {_cases(int(np.count_nonzero(codes >= 0)))}"

    def _agrees(self, pattern: BlinkPattern) -> bool:
        said = self.reading.blinks
        return said is not None and bool(set(said.alternatives) & set(pattern.alternatives))

    def _habit(self, suspect: Suspect) -> str:
        """Return how common the cause is in the family that was said, "" without one."""
        family = code_of(self.table.family_names, self.reading.family)
        if family < 0:
            return ""
        own = int(np.count_nonzero(self.table.family[suspect.rows] == family))
        return f"{own} of {self._family_cases} {self.reading.family} repairs" if own else ""

    @cached_property
    def _family_cases(self) -> int:
        family = code_of(self.table.family_names, self.reading.family)
        return int(np.count_nonzero((self.table.family == family) & (self.table.cause >= 0)))

    def _denied(self, suspect: Suspect) -> Iterable[str]:
        """Yield the denied symptom that most of its cases show."""
        count = len(suspect.rows)
        for term in self.reading.denied_terms:
            shown = self._shown(term.term, suspect)
            if shown and shown >= SHOWN_BY_MANY * count:
                yield f"'{_spoken(term)}' is denied, and {shown} of its {_cases(count)} had it"
                return


def _spoken(term: WeightedTerm) -> str:
    """Return an idea by its name, a word as it was said."""
    return term.term.removeprefix(CONCEPT_MARK) if term.term.startswith(CONCEPT_MARK) else term.said


def _counted(named: Sequence[tuple[str, int]], count: int) -> str:
    """Return "'clicks' in 6, 'no power' in 4 of its 8 cases"; equal counts are said once."""
    by_count: dict[int, list[str]] = {}
    for name, shown in named:
        by_count.setdefault(shown, []).append(f"'{name}'")
    said = [f"{_named(names)} in {shown}" for shown, names in by_count.items()]
    if not said:
        return ""
    if count == 1:
        return f"{_named([name for names in by_count.values() for name in names])} in its only case"
    return f"{', '.join(said)} of its {count} cases"


def _named(names: Sequence[str]) -> str:
    """Return names as a list in words."""
    return " and ".join(filter(None, (", ".join(names[:-1]), names[-1]))) if names else ""


def _distinct(names: Sequence[str], codes: IntArray) -> list[str]:
    return [names[code] for code in np.unique(codes[codes >= 0]).tolist()]


def _cases(count: int) -> str:
    return f"{count} {'case' if count == 1 else 'cases'}"
