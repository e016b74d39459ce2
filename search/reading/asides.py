"""Find what a few words of a clause say of others: what works, what only compares, what is dangerous."""

import tomllib
from collections import defaultdict
from collections.abc import Iterator, Sequence
from pathlib import Path

from search.reading.text import Span, Token
from search.reading.word_lists import word_sets

_ORDER, _COMPARING = word_sets("in_order"), word_sets("comparing")
_TABLES = tomllib.loads(Path(__file__).with_name("dangers.toml").read_text(encoding="utf-8"))
_OWNERS, _ENDS = (frozenset(_TABLES["common"][name].split()) for name in ("owners", "ends"))
_DANGERS = [
    (
        each["idea"],
        defaultdict(frozenset[str], {name: frozenset(words.split()) for name, words in each.items()}),
    )
    for each in _TABLES["danger"]
]
_BURNED = {name: frozenset(words.split()) for name, words in _TABLES["burned"].items()}
# All in words, chosen by us.
_TO_PRAISE = 5  # after a thing
_LONGEST_PRAISED = 4  # before praise: "other three zones work fine"
_TO_TOLD, _TO_THING = 9, 8  # from the plug to what is said of it, and from that to the plug
_TO_HURT = 8  # from a person to what befell them
_LONGEST_COMPARISON = {"like": 7, "as": 4}  # with its cue: "clean as a whistle"


def places_in_order(tokens: Sequence[Token]) -> set[int]:
    """Return the places of words that only say what works: "[it heats] fine", "[the other three] ok".

    Praise that holds for a while only, "fine for ten minutes", is none, nor is "not ok".
    """
    praised: set[int] = set()
    for place, token in enumerate(tokens):
        if token.text in _ORDER["always_good"] and not _is_limited(tokens, place):
            start = place
            while start > max(place - _LONGEST_PRAISED, 0) and not (
                tokens[start].parted or tokens[start - 1].text in _ORDER["ends"]
            ):
                start -= 1
            praised.update(range(start, place))
    return praised


def is_praised(tokens: Sequence[Token], after: int) -> bool:
    """Tell whether the thing before a place is in order: "the fuse in the plug is good", "fuse good"."""
    verb = False
    for place, word in _clause(tokens, after, _TO_PRAISE, _ORDER["ends"]):
        if word in _ORDER["good"] and (verb or place == after):
            return not _is_limited(tokens, place)
        verb = verb or word in _ORDER["verbs"]
    return False


def compared_places(tokens: Sequence[Token]) -> set[int]:
    """Return the places of words that only compare: "like [gravel in a mixer]", "clean as [a whistle]"."""
    compared: set[int] = set()
    for cue, token in enumerate(tokens[:-1]):
        if token.text not in _LONGEST_COMPARISON:
            continue
        after, before = tokens[cue + 1].text, tokens[cue - 1].text if cue else ""
        # "Looks like a blown fuse" and "like when it runs" compare nothing.
        claims = after in _COMPARING["clauses"] or before in _COMPARING["claiming"]
        if (not claims) if token.text == "like" else after in ("a", "an"):
            most = _LONGEST_COMPARISON[token.text] - 2
            compared.update(place for place, _ in _clause(tokens, cue + 2, most, _COMPARING["ends"]))
    return compared


def dangers_told(tokens: Sequence[Token]) -> Iterator[tuple[str, Span]]:
    """Yield what "plug of the kettle is hot" and "burned my leg" tell of, with its places, end exclusive."""
    said = [token.text for token in tokens]
    for idea, words in _DANGERS:
        told, told_after = _places(said, words["told"]), _places(said, words["told_after"])
        if not told and not told_after:
            continue
        things, owned = _places(said, words["things"]), _places(said, words["owned"]) - {0}
        # "Her leg", "my son's leg"
        things |= {at for at in owned if said[at - 1] in _OWNERS or said[at - 1].endswith("'s")}
        no_danger = {place - 1 for place in _places(said, words["not_before"])}
        things, told = things - no_danger, told - no_danger
        befell = things | _places(said, words["things_after"])
        ends, past_commas = words["ends"] | _ENDS, bool(words["past_commas"])
        for starts, wanted, within in ((things, told | told_after, _TO_TOLD), (told, befell, _TO_THING)):
            for place in starts:
                clause = _clause(tokens, place + 1, within, ends, past_commas=past_commas)
                yield from [(idea, (place, end + 1)) for end, _ in clause if end in wanted][:1]
    for place in _places(said, _BURNED["persons"]):
        passed, clause = _BURNED["between"], _clause(tokens, place + 1, _TO_HURT, _ENDS)
        end = next((at for at, word in clause if word not in passed and not word.endswith("ly")), place)
        behind = {each.text for each in tokens[end + 1 : end + 2] if not each.parted}
        if said[end] in _BURNED["hurt"] and behind <= _BURNED["after"]:
            yield "somebody burned", (place, end + 1)


def _places(said: Sequence[str], words: frozenset[str]) -> set[int]:
    return {place for place, text in enumerate(said) if text in words}


def _clause(
    tokens: Sequence[Token], start: int, most: int, ends: frozenset[str], *, past_commas: bool = False
) -> Iterator[tuple[int, str]]:
    """Yield the words from a place to the end of its clause with their places, at most so many."""
    for place in range(start, min(start + most, len(tokens))):
        token = tokens[place]
        if token.after_break or (token.parted and not past_commas) or token.text in ends:
            return
        yield place, token.text


def _is_limited(tokens: Sequence[Token], place: int) -> bool:
    """Tell whether praise holds only for a while or on a condition."""
    after = tokens[place + 1 : place + 2]
    return any(not each.after_break and each.text in _ORDER["limits"] for each in after)
