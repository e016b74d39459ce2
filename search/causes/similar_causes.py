"""Find causes that may be one cause spelled in two ways. They are offered, never merged silently."""

from collections import defaultdict
from collections.abc import Sequence
from functools import lru_cache
from itertools import combinations
from typing import NamedTuple

import numpy as np
from rapidfuzz import fuzz

from search.index.case_table import CaseTable
from search.reading.plain_form import says_something
from search.reading.text import tokenise
from search.stats.arrays import IntArray

# Chosen by us; test_similar_causes notices a pair that is missed or wrongly found.
_ALIKE = 88.0  # per cent, of the sorted stems
_WORD_ALIKE = 72.0  # per cent, of the stems that differ: one letter in four may be another
_MOST_OFFERED = 50
_NOTES_COMPARED = 4  # newest cases of each cause
# These words tell no causes apart, as "left", "right" and "off" do.
_SAY_NOTHING = frozenset(["a", "an", "the", "of", "in", "is", "was"])


class CausePair(NamedTuple):
    """Two causes that may be one: the commoner name, the other, and the cases of each. alike: per cent."""

    keep: str
    other: str
    keep_cases: int
    other_cases: int
    alike: float


def similar_causes(table: CaseTable) -> list[CausePair]:
    """Return pairs of causes that somebody should look at for merging, the most alike first.

    Two causes are similar when their sorted stems have nearly the same letters ("MOSFET shorted", "mosfets
    shorted"), or when one says all the other does and a little more ("LED strip open", "LED strip open
    circuit"). Names that differ by a digit ("C801 leaky", "C802 leaky") are not. Ties: by name.
    """
    names = table.cause_names
    counts = np.bincount(table.cause[table.cause >= 0], minlength=len(names)).tolist()
    pairs = []
    for pair in _alike(names):
        keep, other = sorted(pair, key=lambda code: (-counts[code], names[code]))
        alike = round(fuzz.token_sort_ratio(names[keep].lower(), names[other].lower()), 1)
        pairs.append(CausePair(names[keep], names[other], counts[keep], counts[other], alike))
    pairs.sort(key=lambda pair: (-pair.alike, -pair.keep_cases - pair.other_cases, pair.keep, pair.other))
    return pairs[:_MOST_OFFERED]


def pool_causes(table: CaseTable, codes: Sequence[int]) -> list[tuple[int, ...]]:
    """Group causes that look like one cause in several spellings, in the order of their first members.

    Two causes look like one when their names are similar (see similar_causes), they were met in the same
    device, and neither boards nor checks and parts speak against it. A cause joins the first group whose
    members all look like it: "fan seized" of a receiver and of a hob stay two. codes: the most important
    first.
    """
    earlier: dict[int, set[int]] = defaultdict(set)
    for one, other in _alike([table.cause_names[code] for code in codes]):
        earlier[other].add(one)
    groups: list[list[int]] = []
    for place, code in enumerate(codes):
        near = earlier[place]
        for group in groups if near else ():
            if near.issuperset(group) and all(_same_fault(table, codes[other], code) for other in group):
                group.append(place)
                break
        else:
            groups.append([place])
    return [tuple(codes[place] for place in group) for group in groups]


def other_spellings(table: CaseTable, code: int) -> list[int]:
    """Return the causes that look like one cause (see pool_causes)."""
    names = table.cause_names
    alike = [other for other in range(len(names)) if other != code and _are_alike(names[code], names[other])]
    return [other for other in alike if _same_fault(table, code, other)]


def _same_fault(table: CaseTable, one: int, other: int) -> bool:
    """Tell whether two causes share a device, and board, checks and parts do not set them apart."""
    rows = [np.flatnonzero(table.cause == code) for code in (one, other)]
    if not np.intersect1d(table.device[rows[0]], table.device[rows[1]]).size:
        return False
    boards = [set(table.board[each][table.board[each] >= 0].tolist()) for each in rows]
    work = [_words_of_work(table, each) for each in rows]
    return not any(all(told) and told[0].isdisjoint(told[1]) for told in (boards, work))


def _words_of_work(table: CaseTable, rows: IntArray) -> set[str]:
    """Return the stems of the checks and parts of the newest cases."""
    newest = rows[np.argsort(-table.date_days[rows], kind="stable")[:_NOTES_COMPARED]]
    notes = [table.note(row) for row in newest.tolist()]
    texts = " . ".join(text for note in notes for text in (note.check, *note.parts))
    words = [token for token in tokenise(texts) if says_something(token.text, token.stem)]
    return {word.stem for word in words if word.stem.isalpha()}


def _alike(names: Sequence[str]) -> set[tuple[int, int]]:
    """Return the places of each two names that may be one cause and share a stem, the earlier first."""
    holding: dict[str, list[int]] = defaultdict(list)
    for place, name in enumerate(names):
        for stem in _stems(name):
            holding[stem].append(place)
    pairs = (pair for places in holding.values() for pair in combinations(places, 2))  # never all at once
    return {(one, other) for one, other in pairs if _are_alike(names[one], names[other])}


@lru_cache(maxsize=50_000)  # the likeliest causes of one answer make some hundred pairs
def _are_alike(one: str, other: str) -> bool:
    shorter, longer = sorted((_stems(one), _stems(other)), key=len)
    less, more = _spelled(shorter - longer), _spelled(longer - shorter)
    if not shorter or any(map(str.isdigit, less + more)):
        return False
    if not less:
        # "fuse" in "T-con fuse open" is another fault; but two or three words and one more may be the same.
        return len(shorter) >= 2 and len(longer) - len(shorter) <= 1
    if fuzz.ratio(less, more) < _WORD_ALIKE:
        return False
    return bool(fuzz.token_set_ratio(_spelled(shorter), _spelled(longer)) >= _ALIKE)


def _spelled(stems: frozenset[str]) -> str:
    return " ".join(sorted(stems))


@lru_cache(maxsize=10_000)
def _stems(name: str) -> frozenset[str]:
    return frozenset(token.stem for token in tokenise(name) if token.text not in _SAY_NOTHING)
