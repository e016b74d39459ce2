"""Cut what an owner says about a blinking light into items, and match rules of blinks.toml to their kinds.

Items are numbers, blinks, pauses, doubts and the rest. A rule is a regular expression over kinds; each kind
is one letter.
"""

import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import cache, reduce
from itertools import groupby, pairwise
from typing import NamedTuple

from kb.files import own_toml
from kb.notes.blinks import COLOURS, MOST_BLINKS, NUMBER_WORDS
from search.reading.spelling import Guess
from search.reading.text import is_stop_word, stem
from search.reading.word_lists import word_lists

_TABLES = own_toml(__file__, "blinks.toml")
_NAME = re.compile(r"[a-z]+")

KIND_OF: dict[str, str] = {word: kind for kind, words in _TABLES["kinds"].items() for word in words.split()}
_KINDS = (*_TABLES["kinds"], *_TABLES["others"]["kinds"].split())
_LETTER_OF = {kind: chr(256 + place) for place, kind in enumerate(_KINDS)}


def letters(kinds: Iterable[str]) -> str:
    """Return a string with one letter for each kind."""
    return "".join(map(_LETTER_OF.__getitem__, kinds))


def _spread(kinds: str) -> str:
    """Return the letters of a kind; some names stand for several kinds."""
    return "".join(_LETTER_OF.get(kind) or _spread(_TABLES["together"][kind]) for kind in kinds.split())


def _compiled(*rules: str) -> re.Pattern[str]:
    return re.compile(_NAME.sub(lambda name: f"[{_spread(name[0])}]", "|".join(rules)), re.VERBOSE)


@cache
def rule(name: str) -> re.Pattern[str]:
    """Return the rules of a name as one expression; the name of a kind is a rule, too."""
    rules = _TABLES["rules"].get(name, name)
    return _compiled(*([rules] if isinstance(rules, str) else rules))


def fits(name: str, kinds: str) -> bool:
    """Tell whether a rule of a name matches somewhere in a string of kinds."""
    return rule(name).search(kinds) is not None


# How numbers are joined, what the pattern must have for that, and what stands between them.
JOINS = [(joiner, needs, _compiled(between)) for joiner, needs, between in _TABLES["rules"]["between"]]


class Item(NamedTuple):
    """Hold one word or mark. kind: as in blinks.toml. number: the count that it is, else 0.

    start, end: offsets in the text. vague: the number is a loose one ("a couple").
    """

    kind: str
    text: str
    start: int
    end: int
    number: int = 0
    vague: bool = False


_COUNTS = dict(NUMBER_WORDS) | {"couple": 2, "pair": 2}
_COUNTS |= {f"{word}s": count for word, count in _COUNTS.items() if 1 < count < 13}  # "in threes"
_COUNTS |= {"single": 1, "double": 2, "triple": 3}
_SOUNDS_LIKE = {said: meant for meant, words in word_lists()["sounds_like"].items() for said in words.split()}
_PACES = frozenset(("slow", "quick", "fast", "rapid"))
_BLINK_STEMS = frozenset(stem(word) for word, kind in KIND_OF.items() if kind in ("blink", "flash"))

_SPELLED = _TABLES["spelled"] | {"COUNTS": "|".join(_COUNTS)}
_SPELLED |= {"AFTER_ONE": str(MOST_BLINKS - 1), "AFTER_TWO": str(MOST_BLINKS - 2)}
_PATTERN = reduce(lambda pattern, each: pattern.replace(*each), _SPELLED.items(), _TABLES["items"]["pattern"])
_ITEM = re.compile(_PATTERN, re.VERBOSE | re.IGNORECASE)
_MARKS = {"+": "plus", "&": "and", "~": "near", "?": "question"} | dict.fromkeys(",():", "comma")
_MARKS |= dict.fromkeys(".;!\n", "stop") | dict.fromkeys("-\u2010\u2011\u2012\u2013\u2014/", "dash")


def blink_items(text: str, guesses: Callable[[str], Sequence[Guess]]) -> list[Item]:
    """Return the items of a text in order. guesses: returns what a misspelt word may mean."""
    items = [item for match in _ITEM.finditer(text) for item in _items(match, guesses)]
    if len({item.kind for item in items} & {"long", "short"}) == 1:  # "three quick flashes"
        items = [item._replace(kind="small") if item.text in _PACES else item for item in items]
    return _with_unsaid_ones(_sounding_counts(items))


def _items(match: re.Match[str], guesses: Callable[[str], Sequence[Guess]]) -> Iterator[Item]:
    said = match.group().lower().replace("\u2019", "'")
    start, end = match.span()
    match match.lastgroup:
        case "dozen":
            yield Item("count", "dozen", start, end, 6 if "half" in said else 12)
        case "told":  # "flash flash flash"
            once = match["once"].lower()
            yield Item("count", once, start, start, said.count(once))
            yield Item("blink", once, start, end)
        case "lengths":  # "short, short, short, long"
            spelled = re.sub("o+", "o", re.sub("dot|dit", "short", re.sub("dash|dah", "long", said)))
            for length, run in groupby(re.findall(r"long|short", spelled)):
                yield Item("count", said, start, end, len(list(run)))
                yield Item(length, length, end, end)
        case "times" | "number" as kind:
            count = int(re.sub(r"\D", "", said)[:6])
            is_count = 1 <= count <= MOST_BLINKS
            yield Item("count" if is_count else "word", said, start, end, count if is_count else 0)
            if kind == "times":
                yield Item("times", "x", end, end)
        case "mark":
            yield Item(_MARKS[said], said, start, end)
        case "word":
            yield from _worded(said, start, end, guesses)
        case kind:
            yield Item("word" if kind == "other" else str(kind), said, start, end)


def _worded(said: str, start: int, end: int, guesses: Callable[[str], Sequence[Guess]]) -> Iterator[Item]:
    if said not in KIND_OF and said not in _COUNTS:
        near = (guess.word for guess in guesses(said))
        said = next((word for word in near if word in KIND_OF or word in _COUNTS), said)
    kind = KIND_OF.get(said, "small" if is_stop_word(said) else "word")
    if said in _COUNTS:
        kind = "one" if said == "one" else kind if said in KIND_OF else "count"
        yield Item(kind, said, start, end, _COUNTS[said], said.startswith("couple"))
        if said in ("once", "twice", "thrice"):
            yield Item("times", "", end, end)
    elif said in COLOURS:
        yield Item("colour", said, start, end)
    else:
        is_blink = said not in KIND_OF and stem(said) in _BLINK_STEMS
        yield Item("blink" if is_blink else kind, said, start, end)


def _sounding_counts(items: list[Item]) -> list[Item]:
    """Take "fore times" for "four times"."""
    heard = list(items)
    for place, (item, after) in enumerate(pairwise(items)):
        if after.kind == "times" and item.text in _SOUNDS_LIKE:
            right = _SOUNDS_LIKE[item.text]
            heard[place] = item._replace(kind="count", text=right, number=_COUNTS[right])
    return heard


def _with_unsaid_ones(items: Sequence[Item]) -> list[Item]:
    """Add the count of one that "a long flash" and "three shorts and a long" leave unsaid."""
    counted: list[Item] = []
    for place, item in enumerate(items):
        if item.kind in ("long", "short") and place:
            before = next((each.kind for each in reversed(counted) if each.kind not in ("small", "rate")), "")
            after = items[place + 1].kind if place + 1 < len(items) else "stop"
            is_one = items[place - 1].text == "a" and before == "and" and after in ("one", "comma", "stop")
            if before not in ("count", "one") and (after in ("flash", "one") or is_one):
                counted.append(Item("unsaid", "", item.start, item.start, 1))
        counted.append(item)
    return counted
