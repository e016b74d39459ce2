"""Find what a few words of a clause say of others: what works, what only compares, what is dangerous."""

import itertools
import tomllib
from collections import defaultdict
from collections.abc import Iterator, Sequence
from pathlib import Path

from search.reading.text import Span, Token
from search.reading.word_lists import word_sets

_ORDER, _COMPARING = word_sets("in_order"), word_sets("comparing")
_TABLES = tomllib.loads(Path(__file__).with_name("dangers.toml").read_text(encoding="utf-8"))
_COMMON, _DANGERS = _TABLES["common"], _TABLES["danger"]
_OWNERS = frozenset(_COMMON["owners"].split())
_ENDS = [
    frozenset(f"{_COMMON['ends']} {each.get('ends', '')}".split()).difference(each.get("passes", "").split())
    for each in _DANGERS
]
_LISTED: dict[str, list[tuple[int, str]]] = {}  # by a word, the dangers that list it, and in which list
for _number, _danger in enumerate(_DANGERS):
    for _name in _danger.keys() - {"idea", "past_commas", "ends", "passes"}:
        for _word in _danger[_name].split():
            _LISTED.setdefault(_word, []).append((_number, _name))
# All in words, chosen by us.
_TO_PRAISE = 5  # after a thing
_LONGEST_PRAISED = 4  # before praise: "other three zones work fine"
_TO_TOLD, _TO_THING = 9, 8  # from the plug to what is said of it, and from that to the plug
_TO_BESIDE = 7  # from either to what must be beside them, or must not
_LONGEST_PHRASE = 3  # that a danger is told by
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
    told_of: dict[int, dict[str, set[int]]] = {}
    for place, token in enumerate(tokens):
        run = itertools.takewhile(lambda each: not each.parted, tokens[place + 1 : place + _LONGEST_PHRASE])
        for phrase in itertools.accumulate((each.text for each in (token, *run)), "{}_{}".format):
            for number, name in _LISTED.get(phrase, ()):
                told_of.setdefault(number, defaultdict(set))[name].add(place)
    for number, at in sorted(told_of.items()):
        danger, before = _DANGERS[number], {place: tokens[place - 1].text for place in at["owned"] - {0}}
        # "Her leg", "my son's leg"
        owned = {place for place, word in before.items() if word in _OWNERS or word.endswith("'s")}
        no_danger = {place - 1 for place in at["not_before"]}
        things, told = (at["things"] | owned) - no_danger, at["told"] - no_danger
        past_commas = "past_commas" in danger
        ways = (things, told | at["told_after"], _TO_TOLD), (told, things | at["things_after"], _TO_THING)
        for starts, wanted, within in ways:
            for place in starts:
                clause = _clause(tokens, place + 1, within, _ENDS[number], past_commas=past_commas)
                end = next((end for end, _ in clause if end in wanted), -1)
                beside = range(place - _TO_BESIDE, end + _TO_BESIDE)
                needed = "beside" not in danger or not at["beside"].isdisjoint(beside)
                if end > 0 and needed and at["not_beside"].isdisjoint(beside):
                    yield danger["idea"], (place, end + 1)


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
