"""Find the words of what is said to be in order: "it heats fine" tells of no fault in heating."""

from __future__ import annotations

from collections.abc import Sequence

from search.reading.text import Token
from search.reading.word_lists import word_sets

_LONGEST = (
    4  # words before the praise that may be what is praised: "other three zones work fine"; chosen by us
)
_WORDS = word_sets("in_order")


def places_in_order(tokens: Sequence[Token], text: str) -> set[int]:
    """Return the places of words that only say what works: "[it heats] fine", "[the other three] ok".

    Praise that holds for a while only, "fine for ten minutes", is none, nor is "not ok".
    """
    praised: set[int] = set()
    for place, token in enumerate(tokens):
        follower = tokens[place + 1] if place + 1 < len(tokens) else None
        limited = follower is not None and not follower.after_break and follower.text in _WORDS["limits"]
        if token.text not in _WORDS["praise"] or limited:
            continue
        start = place
        while start and place - start < _LONGEST and not _parted(tokens, start, text):
            start -= 1
        if not any(each.text in _WORDS["nots"] for each in tokens[start:place]):
            praised.update(range(start, place))
    return praised


def _parted(tokens: Sequence[Token], place: int, text: str) -> bool:
    """Tell whether a clause begins with a word."""
    before = tokens[place - 1]
    mark = tokens[place].after_break or "," in text[before.end : tokens[place].start]
    return mark or before.text in _WORDS["joints"]
