"""The likeliest causes of an answer: why each is likely, and what speaks against it."""

from collections.abc import Sequence
from functools import partial

import numpy as np

from kb.errors import say_count
from search.answering.answer import CauseAnswer
from search.answering.knowledge import Knowledge
from search.causes.odds import CauseOdds
from search.causes.similar_causes import pool_causes
from search.index.case_table import code_of, counts_by_name
from search.reading.complaint import Reading, WeightedTerm
from search.reading.plain_form import CONCEPT_MARK
from search.reading.word_lists import is_common
from search.stats.arrays import BoolArray, IntArray

# All chosen by us.
CAUSES_LISTED = 20  # nobody reads more; the rest is summed up as "other causes"
EVIDENCE_LISTED = 50  # case ids named for one cause
CAUSES_POOLED = 120  # causes whose spellings are joined; three times as many cost 2 ms
TERMS_NAMED, PATTERNS_NAMED = 3, 3  # nobody reads more
TELLS_SOMETHING = 1.5  # a word is named if it raises the cause's probability by at least this factor
KAPPA = 2.0  # average cases of the whole notebook added to each cause's own
SHOWN_BY_MANY = 0.5  # share of a cause's cases from which a symptom is typical of it
LIKELY = 0.1  # probability from which a cause without other reasons names its most similar case


def suspects_of(knowledge: Knowledge, reading: Reading, odds: CauseOdds) -> list[CauseAnswer]:
    """Return the likeliest causes, those of other devices last; ties: the smaller code."""
    chance, met = odds.probability, _met(knowledge, reading)
    least = np.partition(chance, -CAUSES_POOLED)[-CAUSES_POOLED] if len(chance) > CAUSES_POOLED else 0.0
    likely = np.flatnonzero((chance >= least) & (chance > 0))
    likely = likely[np.argsort(-chance[likely], kind="stable")][:CAUSES_POOLED]
    groups = pool_causes(knowledge.table, likely.tolist())
    is_met, shares = met.tolist(), chance.tolist()
    other = {codes: not any(is_met[code] for code in codes) for codes in groups}
    groups.sort(key=lambda codes: (other[codes], -sum(shares[code] for code in codes)))
    telling = _Telling(knowledge, reading, odds)
    return [telling.suspect(codes, other[codes]) for codes in groups[:CAUSES_LISTED]]


def _met(knowledge: Knowledge, reading: Reading) -> BoolArray:
    """Tell which causes were met in the device that was said, if any was; (n_causes,)."""
    table, causes = knowledge.table, np.arange(len(knowledge.table.cause_names))
    if not reading.device:
        return causes >= 0
    return np.isin(causes, table.cause[np.isin(table.device, knowledge.device_codes(reading.device))])


class _Telling:
    """Tells of the causes of one complaint, with reasons in short lines.

    of_family: the cases of the family that was said, (table.size,). terms: what was said of the fault.
    by_cause: cases of each cause with each term, (terms, n_causes). share: share of all cases, (terms,).
    """

    def __init__(self, knowledge: Knowledge, reading: Reading, odds: CauseOdds) -> None:
        self.knowledge, self.reading, self.odds, table = knowledge, reading, odds, knowledge.table
        self.family = code_of(table.family_names, reading.family)
        self.of_family: BoolArray = (table.family == self.family) & (table.cause >= 0)
        self.terms = [term for term in reading.terms if term.term not in reading.device_terms]
        by_cause = np.array([knowledge.cases_with(term.term) for term in self.terms])
        self.by_cause = by_cause.reshape(len(self.terms), len(table.cause_names))
        self.share = self.by_cause.sum(axis=1) / max(knowledge.cases_of_cause.sum(), 1)

    def suspect(self, pooled: Sequence[int], other_device: bool) -> CauseAnswer:
        """Describe a cause as in the family that was said, else as in the family of its weightiest case."""
        table, cases = self.knowledge.table, self.knowledge.cases_of_cause
        codes = tuple(sorted(pooled, key=lambda code: (-cases[code], code)))
        rows = self.knowledge.rows_of(codes)
        weightiest = self._weightiest(rows)
        family = self.family if self.family >= 0 else int(table.family[weightiest[0]])
        name, *spellings = (table.cause_names[code] for code in codes)
        return CauseAnswer(
            codes=codes, root_cause=name, spellings=tuple(spellings), rows=rows, other_device=other_device,
            probability=float(self.odds.probability[list(codes)].sum()),
            evidence=tuple(table.ids[row] for row in weightiest.tolist()),
            describe=partial(self.knowledge.profile, codes, family), explain=self._reasons,
        )  # fmt: skip

    def _weightiest(self, rows: IntArray) -> IntArray:
        """Return at most EVIDENCE_LISTED rows, the weightiest first; ties: the newest."""
        weight = self.odds.case_weight[rows]
        if len(rows) > EVIDENCE_LISTED:
            least = np.partition(weight, -EVIDENCE_LISTED)[-EVIDENCE_LISTED]
            rows, weight = rows[weight >= least], weight[weight >= least]
        newest = -self.knowledge.table.date_days[rows]
        order: IntArray = np.lexsort((newest, -weight))[:EVIDENCE_LISTED]
        return rows[order]

    def _reasons(self, suspect: CauseAnswer) -> tuple[str, str]:
        """Return why a cause is likely, and what speaks against it."""
        table, family = self.knowledge.table, self.reading.family
        agreeing, others = self._blinks(suspect)
        own = int(np.count_nonzero(self.of_family[suspect.rows]))
        habit = f"{own} of {np.count_nonzero(self.of_family)} {family} repairs" if own else ""
        sign = self.odds.sign_that_tells(suspect.codes[0])
        known = f"known in general: '{sign}'" if sign else ""
        why = "; ".join(filter(None, (self._terms_shown(suspect), agreeing, habit, known)))
        against = [*filter(None, (self._denied(suspect), others))]
        if suspect.other_device:
            met = counts_by_name(table.device[suspect.rows], table.device_names)
            against.append(f"met only in another set: {_named(sorted(name for name, _ in met))}")
        if not against and not own and self.family >= 0:
            against = [f"never met in {family}"]
        return why or self._at_least(suspect, sign), "; ".join(against)

    def _at_least(self, suspect: CauseAnswer, sign: str | None) -> str:
        """Return a reason for a cause that has no better one. sign: see CauseOdds.sign_that_tells."""
        if sign == "":
            return "what is known in general of such faults"
        if suspect.probability >= LIKELY and self.reading.terms:
            return f"most like past repair {suspect.evidence[0]}"
        return f"{say_count(suspect.cases, 'case')} of such sets in this notebook"

    def _terms_shown(self, suspect: CauseAnswer) -> str:
        """Return the concepts, then the words, that make it likelier, the most telling first."""
        terms, count = self.terms, suspect.cases
        shown = self.by_cause[:, list(suspect.codes)].sum(axis=1)
        lift = (shown / np.maximum(self.share, 1e-9) + KAPPA) / (count + KAPPA)
        found = [
            (terms[at].weight * shown[at] / count * np.log(lift[at]), int(shown[at]), terms[at])
            for at in np.flatnonzero((shown > 0) & (lift >= TELLS_SOMETHING)).tolist()
            if shown[at] >= _cases_needed(terms[at], count)
        ]
        found.sort(key=lambda each: (not each[2].term.startswith(CONCEPT_MARK), -each[0]))
        named: list[tuple[str, int]] = []
        words_said: set[str] = set()
        for _, times, term in found:
            words = {*term.said.split(), *_spoken(term).split()}
            # "clicks" and "click", or "blinking light" and "light", are one observation.
            if words.isdisjoint(words_said):
                named.append((_spoken(term), times))
                words_said |= words
        return _counted(named[:TERMS_NAMED], count)

    def _blinks(self, suspect: CauseAnswer) -> tuple[str, str]:
        """Return in how many of its cases the said blinks are noted; else which others are."""
        said, patterns = self.reading.blinks, self.knowledge.table.blink_patterns
        codes = self.knowledge.table.blink_code[suspect.rows]
        if said is None or codes.max() < 0:
            return "", ""
        met, counts = np.unique(codes[codes >= 0], return_counts=True)
        noted = [(patterns[code], count) for code, count in zip(met.tolist(), counts.tolist(), strict=True)]
        if agree := sum(count for pattern, count in noted if said.shares_count(pattern)):
            return f"blinks {said} noted in {agree} of {say_count(suspect.cases, 'case')}", ""
        names = [name for _, name in sorted((-count, str(pattern)) for pattern, count in noted)]
        listed = _named([*names[:PATTERNS_NAMED], *(["others"] if len(names) > PATTERNS_NAMED else [])])
        return "", f"blinks {listed} noted in {say_count(int(counts.sum()), 'case')}"

    def _denied(self, suspect: CauseAnswer) -> str:
        """Return the denied symptom that most of its cases show, "" for none."""
        for term in self.reading.denied_terms:
            shown = int(self.knowledge.cases_with(term.term)[list(suspect.codes)].sum())
            if shown and shown >= SHOWN_BY_MANY * suspect.cases:
                cases = f"{shown} of its {suspect.cases} cases" if suspect.cases > 1 else "its only case"
                return f"'{_spoken(term)}' is denied, and {cases} had it"
        return ""


def _cases_needed(term: WeightedTerm, count: int) -> float:
    """Return how many of a cause's cases must have a term to name it: a word may be there by chance."""
    if term.term.startswith(CONCEPT_MARK):
        return 1
    return max(2, SHOWN_BY_MANY * count) if is_common(term.said) else min(2, SHOWN_BY_MANY * count)


def _spoken(term: WeightedTerm) -> str:
    """Return a concept by its name, a word as it was said."""
    return term.term.removeprefix(CONCEPT_MARK) if term.term.startswith(CONCEPT_MARK) else term.said


def _counted(named: Sequence[tuple[str, int]], count: int) -> str:
    """Return "'clicks' in 6, 'no power' in 4 of its 8 cases"; terms with equal counts stand together."""
    by_count: dict[int, list[str]] = {}
    for name, shown in named:
        by_count.setdefault(shown, []).append(f"'{name}'")
    if named and count == 1:
        return f"{_named(by_count[1])} in its only case"
    said = ", ".join(f"{_named(names)} in {shown}" for shown, names in by_count.items())
    return f"{said} of its {count} cases" if said else ""


def _named(names: Sequence[str]) -> str:
    """Return names as a list in words."""
    return " and ".join(filter(None, (", ".join(names[:-1]), names[-1]))) if names else ""
