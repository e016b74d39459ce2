"""Offer causes that may be one cause spelled in two ways. Nothing is ever merged silently."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from rapidfuzz import fuzz, process

from search.index.case_table import CaseTable
from search.reading.text import tokenise

# Chosen by us; tests/search/test_merging.py notices when a pair of either kind is missed or made up.
_ALIKE = 88.0  # per cent, of the sorted stems
_WORD_ALIKE = 72.0  # per cent, of the stems in which two causes differ: one letter in four
_MOST_OFFERED = 50
_SAY_NOTHING = frozenset(
    ("a", "an", "the", "of", "in", "is", "was")
)  # "left", "right", "off" tell causes apart
_CHUNK = 512  # rows of the comparison at a time, 6 MB with 3,000 causes


@dataclass(frozen=True, kw_only=True)
class CausePair:
    """Two causes that may be one: the commoner first, the cases of each, and how alike they are, per cent."""

    keep: str
    other: str
    keep_cases: int
    other_cases: int
    alike: float


def similar_causes(table: CaseTable, *, limit: int = _MOST_OFFERED) -> list[CausePair]:
    """Return pairs of causes of a table to be looked at for merging, the most alike first.

    Two causes are offered when their sorted stems are nearly the same letters ("MOSFET shorted", "mosfets
    shorted"), or one says all the other does and a little more ("LED strip open", "LED strip open
    circuit"). Not offered: names that differ by a digit ("C801 leaky", "C802 leaky"), or say nothing.
    Ties: by name.
    """
    counts = np.bincount(table.cause[table.cause >= 0], minlength=len(table.cause_names))
    stems = [_stems(name) for name in table.cause_names]
    spelled = [" ".join(sorted(each)) for each in stems]
    pairs: list[CausePair] = []
    for start in range(0, len(spelled), _CHUNK):
        likeness = process.cdist(
            spelled[start : start + _CHUNK], spelled, scorer=fuzz.token_set_ratio, score_cutoff=_ALIKE
        )
        for at, other in np.argwhere(likeness >= _ALIKE).tolist():
            one = start + at
            if one < other and _may_be_one(stems[one], stems[other]):
                pairs.append(_pair(table.cause_names, counts.tolist(), one, other))
    pairs.sort(key=lambda pair: (-pair.alike, -pair.keep_cases - pair.other_cases, pair.keep, pair.other))
    return pairs[:limit]


def _stems(name: str) -> frozenset[str]:
    return frozenset(token.stem for token in tokenise(name) if token.text not in _SAY_NOTHING)


def _may_be_one(one: frozenset[str], other: frozenset[str]) -> bool:
    shorter, longer = sorted((one, other), key=len)
    if not shorter or any(any(letter.isdigit() for letter in stem) for stem in one ^ other):
        return False
    if shorter <= longer:
        # "fuse" within "T-con fuse open" is another fault; one word more than two or three may be the same.
        return len(shorter) >= 2 and len(longer) - len(shorter) <= 1
    left, right = " ".join(sorted(one - other)), " ".join(sorted(other - one))
    return bool(fuzz.ratio(left, right) >= _WORD_ALIKE)


def _pair(names: Sequence[str], counts: Sequence[int], one: int, other: int) -> CausePair:
    first, second = sorted((one, other), key=lambda code: (-counts[code], names[code]))
    return CausePair(
        keep=names[first],
        other=names[second],
        keep_cases=counts[first],
        other_cases=counts[second],
        alike=round(fuzz.token_sort_ratio(names[first].lower(), names[second].lower()), 1),
    )
