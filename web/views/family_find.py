"""Find families by what somebody types: a model off the label, a make, a device, a name with a typo in it."""

import re
from collections.abc import Mapping, Sequence

from rapidfuzz import process
from rapidfuzz.distance import OSA

from kb.notes.family import FamilyNote
from kb.notes.models import find_family, squeeze
from search.families.family_figures import FamilySummary

# Typos forgiven in a word, as in a complaint: none below four letters, one from four, two from eight.
ONE_TYPO_FROM, TWO_TYPOS_FROM = 4, 8


def find(
    said: str, families: Sequence[FamilySummary], notes: Mapping[str, FamilyNote]
) -> list[FamilySummary]:
    """Return the families that fit what was typed, the one whose model it is first; all for nothing.

    Every typed word has to begin a word of the family, or be one or two typos away from one. The others keep
    the order given.
    """
    if not said.strip():
        return list(families)
    match = find_family(said, list(notes.values()))
    meant = match.family.chassis_family if match else None
    wanted = _words(said)

    def fits(family: FamilySummary) -> bool:
        texts = [family.chassis_family, family.make, family.device, *family.models]
        known = {word for text in texts for word in (*_words(text), squeeze(text)) if word}
        return _fits(squeeze(said), known) or all(_fits(word, known) for word in wanted)

    found = [family for family in families if family.chassis_family == meant or (wanted and fits(family))]
    return sorted(found, key=lambda family: family.chassis_family != meant)


def nearest(said: str, names: Sequence[str], *, limit: int = 3) -> list[str]:
    """Return the names most like what was typed, nearest first, ties in the order given; none unlike it."""
    found = process.extract(
        said, names, processor=squeeze, scorer=OSA.normalized_distance, score_cutoff=0.5, limit=limit
    )
    return [name for name, _, _ in found]


def _words(text: str) -> list[str]:
    return re.findall(r"[^\W_]+", text.casefold())


def _fits(word: str, known: set[str]) -> bool:
    typos = 2 if len(word) >= TWO_TYPOS_FROM else 1 if len(word) >= ONE_TYPO_FROM else 0
    # The end of a word may not be typed yet, so its beginning may match with a typo, too.
    return any(
        each.startswith(word) or (typos and OSA.distance(word, form, score_cutoff=typos) <= typos)
        for each in known
        for form in (each, each[: len(word)])
    )
