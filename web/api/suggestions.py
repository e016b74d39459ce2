"""Suggest what a field may say from what the notebook says, so that one thing keeps one name."""

from collections import Counter
from functools import lru_cache

import numpy as np
from rapidfuzz import fuzz, process, utils

from search.bench import Bench
from search.index.case_table import CaseTable, counts_by_name

# Fields with a column of their own in the table, and its name there.
COLUMNS = {"chassis_family": "family", "root_cause": "cause"} | {
    name: name for name in ("make", "device", "model", "board")
}
OF_FAMILY = {"model": "models", "board": "boards"}  # fields that family notes list under another name
NOTE_FIELDS = ("symptom", "parts", "check", "fix", "tech")
SENTENCES = frozenset(("check", "fix"))  # sentences share many words, so only their beginnings are matched
SEARCHED = ("chassis_family", "model", "root_cause")  # what the field "search" suggests
FIELDS = frozenset((*COLUMNS, *NOTE_FIELDS, "search"))

# Chosen by us: enough for every name in use at a bench, and quick to count again after each save.
NOTES_READ = 2000
MOST = 8
LONGEST_TYPED = 200  # characters; more is not the beginning of a name (tests/web/hostile)
ALIKE = 72.0  # per cent; tests/web/api/test_suggestions.py would notice


def suggest(bench: Bench, field: str, text: str) -> list[str]:
    """Return up to MOST suggestions for a field of FIELDS: the best match first, then the most used."""
    counts = known_texts(bench, field)
    typed = " ".join(text[:LONGEST_TYPED].casefold().split())
    if not typed:
        return [said for said, _ in counts.most_common(MOST)]
    ranked = sorted((closeness(typed, said.casefold()), -count, said) for said, count in counts.items())
    found = [said for rank, _, said in ranked[:MOST] if rank < 3]
    if len(found) < MOST and len(typed) > 2 and field not in SENTENCES | {"search"}:
        near = process.extract(
            typed, list(counts), scorer=fuzz.WRatio, processor=utils.default_process, limit=MOST,
            score_cutoff=ALIKE,
        )  # fmt: skip
        found += [said for said, _, _ in near if said not in found]
    return found[:MOST]


def closeness(typed: str, said: str) -> int:
    """Return 0 if `said` starts with what was typed, 1 if a word of it does, 2 if it contains it, else 3."""
    return (not said.startswith(typed)) + (f" {typed}" not in f" {said}") + (typed not in said)


def known_texts(bench: Bench, field: str) -> Counter[str]:
    """Count what the notebook says in one field."""
    if field == "search":
        return sum((known_texts(bench, each) for each in SEARCHED), Counter[str]())
    families = bench.notebook.families().values()
    noted = (listed(getattr(family, OF_FAMILY.get(field, field), ())) for family in families)
    known = [said for names in noted for said in names if "*" not in said]
    if field == "symptom":
        known = [term.concept for term in bench.notebook.vocabulary().of_kind("symptom")]
    return table_texts(bench.knowledge.table, field) + Counter(dict.fromkeys(known, 1))


def listed(value: str | tuple[str, ...]) -> tuple[str, ...]:
    """Return the names in a field, which may be one text or a list."""
    return value if isinstance(value, tuple) else tuple(filter(None, [value]))


@lru_cache(maxsize=32)
def table_texts(table: CaseTable, field: str) -> Counter[str]:
    """Count what cases say in a field; without a column for it, only the newest cases are counted."""
    if field in COLUMNS:
        codes, names = getattr(table, COLUMNS[field]), getattr(table, f"{COLUMNS[field]}_names")
        return Counter(dict(counts_by_name(codes[table.alive], names)))
    rows = np.flatnonzero(table.alive & table.readable)
    newest = rows[np.argsort(table.date_days[rows], kind="stable")[::-1][:NOTES_READ]]
    return Counter(said for row in newest.tolist() for said in listed(getattr(table.note(row), field)))
