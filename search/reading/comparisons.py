"""Find the words that only compare: an owner's "like gravel in a cement mixer" is about no mixer."""

from collections.abc import Sequence

from search.reading.text import Token
from search.reading.word_lists import word_sets

_LONGEST = {"like": 7, "as": 4}  # words of a comparison with its cue: "clean as a whistle"; chosen by us
_WORDS = word_sets("comparing")


def compared_places(tokens: Sequence[Token]) -> set[int]:
    """Return the places of words that only compare: "like [gravel in a mixer]", "clean as [a whistle]"."""
    compared: set[int] = set()
    for cue, token in enumerate(tokens[:-1]):
        if token.text not in _LONGEST:
            continue
        after, before = tokens[cue + 1].text, tokens[cue - 1].text if cue else ""
        # "Looks like a blown fuse" and "like when it runs" compare nothing.
        claims = after in _WORDS["clauses"] or before in _WORDS["claiming"]
        if claims if token.text == "like" else after not in ("a", "an"):
            continue
        for place in range(cue + 2, min(cue + _LONGEST[token.text], len(tokens))):
            if tokens[place].parted or tokens[place].text in _WORDS["ends"]:
                break
            compared.add(place)
    return compared
