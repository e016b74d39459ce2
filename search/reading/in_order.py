"""Find the words of what is said to be in order: "it heats fine" tells of no fault in heating."""

from collections.abc import Sequence

from search.reading.concepts import ConceptHit
from search.reading.text import Token
from search.reading.word_lists import word_sets

# Both chosen by us.
_WITHIN = 5  # words after a thing in which it may be praised
_LONGEST = 4  # words before praise that may be praised: "other three zones work fine"
_WORDS = word_sets("in_order")


def places_in_order(tokens: Sequence[Token]) -> set[int]:
    """Return the places of words that only say what works: "[it heats] fine", "[the other three] ok".

    Praise that holds for a while only, "fine for ten minutes", is none, nor is "not ok".
    """
    praised: set[int] = set()
    for place, token in enumerate(tokens):
        if token.text not in _WORDS["always_good"] or _is_limited(tokens, place):
            continue
        start = place
        while (
            start
            and place - start < _LONGEST
            and not (tokens[start].parted or tokens[start - 1].text in _WORDS["ends"])
        ):
            start -= 1
        praised.update(range(start, place))
    return praised


def is_praised(hit: ConceptHit, tokens: Sequence[Token]) -> bool:
    """Tell whether a thing is said to be in order: "the fuse in the plug is good", "fuse good"."""
    verb = False
    for place in range(hit.end_token, min(hit.end_token + _WITHIN, len(tokens))):
        word = tokens[place].text
        if tokens[place].parted or word in _WORDS["ends"]:
            return False
        if word in _WORDS["good"] and (verb or place == hit.end_token):
            return not _is_limited(tokens, place)
        verb = verb or word in _WORDS["verbs"]
    return False


def _is_limited(tokens: Sequence[Token], place: int) -> bool:
    """Tell whether praise holds only for a while or on a condition."""
    follower = tokens[place + 1] if place + 1 < len(tokens) else None
    return follower is not None and not follower.after_break and follower.text in _WORDS["limits"]
