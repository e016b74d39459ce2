"""Find words that change what others mean: this works, this only compares, this is dangerous."""

import itertools
import re
from collections import defaultdict
from collections.abc import Iterator, Sequence
from functools import cache, lru_cache

from kb.files import own_toml
from search.reading.text import Span, Token
from search.reading.word_lists import word_lists

_TABLES = own_toml(__file__, "dangers.toml")
_COMMON, _DANGERS = _TABLES["common"], _TABLES["danger"]
_OWNERS = frozenset(_COMMON["owners"].split())
_ENDS = [
    frozenset(f"{_COMMON['ends']} {each.get('ends', '')}".split()).difference(each.get("passes", "").split())
    for each in _DANGERS
]
_LISTED: dict[str, list[tuple[int, str]]] = {}  # by word: the dangers that list it, and the list
for _number, _danger in enumerate(_DANGERS):
    for _name in _danger.keys() - {"idea", "past_commas", "ends", "passes"}:
        _words = re.sub(r"@(\w+)", lambda shared: _TABLES["lists"][shared[1]], _danger[_name])
        for _word in _words.split():
            _LISTED.setdefault(_word, []).append((_number, _name))
MAY_END, _ENDED = (frozenset(names.split(", ")) for names in word_lists()["ended"].values())
# All in words, chosen by us.
_TO_TOLD = 9  # between the thing and what is said of it, in either order
_TO_BESIDE = 7  # from either to what must, or must not, stand beside them
_LONGEST_PHRASE = 3  # of a danger's lists


def is_praised(tokens: Sequence[Token], after: int) -> bool:
    """Tell whether the thing before a place is said to be in order: "the fuse in the plug is good"."""
    return any(after - 1 in places for places in places_of("in_order", tokens))


def has_ended(span: Span, tokens: Sequence[Token]) -> bool:
    """Tell whether a denial says that something has ended: "no longer [smells of gas]"."""
    denied = next((place for place, token in enumerate(tokens) if token.end > span[0]), len(tokens))
    ends = (place for place, token in enumerate(tokens) if token.parted and place > denied)
    start = max((place for place, token in enumerate(tokens[: denied + 1]) if token.parted), default=0)
    clause = tokens[start : next(ends, len(tokens))]
    said = f" {' '.join(token.text for token in clause)} "
    return any(f" {cue} " in said for cue in _ENDED)


def compared_places(tokens: Sequence[Token]) -> set[int]:
    """Return the places of words in comparisons: "like a [wasp in a jar]", "clean as a [whistle]"."""
    if not any(token.text in ("like", "as") for token in tokens):
        return set()
    return set().union(*places_of("comparing", tokens))


def places_of(kind: str, tokens: Sequence[Token]) -> tuple[range, ...]:
    """Return the places of words that match the pattern of a section of words.toml."""
    marks = ("." if token.after_break else "," if token.parted else "" for token in tokens)
    words = (mark + token.text.replace(" ", "_") for mark, token in zip(marks, tokens, strict=True))
    return _places(kind, " ".join(words))


@lru_cache(maxsize=16)  # asked again for every thing in a text
def _places(kind: str, said: str) -> tuple[range, ...]:
    names = ((match, match.lastgroup) for match in _pattern(kind).finditer(said))
    spans = ((said.count(" ", 0, match.start(name)), match[name].count(" ")) for match, name in names if name)
    return tuple(range(first, first + spaces + 1) for first, spaces in spans)


@cache
def _pattern(kind: str) -> re.Pattern[str]:
    lists = word_lists()[kind]
    return re.compile(re.sub("[A-Z]{2,}", lambda name: lists[name[0].lower()], lists["pattern"]), re.VERBOSE)


def dangers_told(tokens: Sequence[Token]) -> Iterator[tuple[str, Span]]:
    """Yield the concept and the places of each danger told: "plug of the kettle is hot", "burned my leg"."""
    told_of: dict[int, dict[str, set[int]]] = {}
    for place, token in enumerate(tokens):
        run = itertools.takewhile(lambda each: not each.parted, tokens[place + 1 : place + _LONGEST_PHRASE])
        said = (each.text.removesuffix("'s") for each in (token, *run))  # "the plug's hot"
        for phrase in itertools.accumulate(said, "{}_{}".format):
            for number, name in _LISTED.get(phrase, ()):
                told_of.setdefault(number, defaultdict(set))[name].add(place)
    for number, at in sorted(told_of.items()):
        danger, before = _DANGERS[number], {place: tokens[place - 1].text for place in at["owned"] - {0}}
        # "Her leg", "my son's leg"
        owned = {place for place, word in before.items() if word in _OWNERS or word.endswith("'s")}
        no_danger = {place - 1 for place in at["not_before"]}
        things, told = (at["things"] | owned) - no_danger, at["told"] - no_danger
        past_commas = "past_commas" in danger
        if "anywhere" in danger and not at["anywhere"]:
            continue
        for starts, wanted in (things, told | at["told_after"]), (told, things | at["things_after"]):
            for place in starts:
                clause = _clause(tokens, place + 1, _TO_TOLD, _ENDS[number], past_commas=past_commas)
                end = next((end for end, _ in clause if end in wanted), -1)
                beside = range(place - _TO_BESIDE, end + _TO_BESIDE)
                needed = "beside" not in danger or not at["beside"].isdisjoint(beside)
                if end > 0 and needed and at["not_beside"].isdisjoint(beside):
                    yield danger["idea"], (place, end + 1)


def _clause(
    tokens: Sequence[Token], start: int, most: int, ends: frozenset[str], *, past_commas: bool = False
) -> Iterator[tuple[int, str]]:
    """Yield the places and words from a place to the end of its clause, at most `most` of them."""
    for place in range(start, min(start + most, len(tokens))):
        token = tokens[place]
        if token.after_break or (token.parted and not past_commas) or token.text in ends:
            return
        yield place, token.text
