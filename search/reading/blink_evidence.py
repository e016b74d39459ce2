"""Decide whether a number an owner says counts blinks, or ten minutes, two years, three tries."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field

from kb.notes.blinks import Group
from search.reading.blink_words import SINGLE_BLINKS, UNSAID, Item
from search.reading.word_lists import word_sets

REACH = 7  # chosen by us: items between a word for blinking and its number (tests/search/complaints.md)
LENGTHS = frozenset(("long", "short"))
_WORDS = word_sets("blink_evidence")


@dataclass
class Said:
    """One run of numbers that belong together, as far as it has been read. first, after: places of items."""

    first: int
    after: int
    alternatives: list[list[Group]]
    kinds: set[str] = field(default_factory=set)
    vague: bool = False


def nearest(
    items: Sequence[Item], places: Iterable[int], kinds: Collection[str], through: Collection[str]
) -> int | None:
    """Return the first of some places with an item of some kinds, nothing but other kinds before it."""
    for place in places:
        if not 0 <= place < len(items):
            return None
        if items[place].kind in kinds:
            return place
        if items[place].kind not in through:
            return None
    return None


def back_from(place: int, reach: int = REACH) -> range:
    """Return the places before one, the nearest first."""
    return range(place - 1, place - 1 - reach, -1)


def tells_of_blinks(items: Sequence[Item], said: Said) -> bool:
    """Tell whether a run of numbers is about blinks at all."""
    one = [[group.count for group in part] for part in said.alternatives] == [[1]]
    lonely = one and items[said.first].text in ("one", UNSAID)
    measured = bool(said.kinds & {"long", "short", "times"})
    run = items[said.first : said.after]
    several = len(said.alternatives[0]) > 1
    if "blink" in said.kinds:
        if lonely and items[said.first].text == UNSAID:
            return False  # "a long flash" by itself is no count
        blink = next(item.text for item in run if item.kind == "blink")
        return not lonely or measured or blink in SINGLE_BLINKS
    if said.kinds >= LENGTHS or ("colour" in said.kinds and any(item.text == "ones" for item in run)):
        return True
    if lonely and not measured:
        return False
    if several and any(item.text in _WORDS["gaps"] for item in run):  # "three, gap, one"
        return True
    blink_place = nearest(items, back_from(said.first), ("blink",), _WORDS["between"])
    if blink_place is not None:
        return not _is_denied(items, blink_place)
    goes = any(item.text in _WORDS["goes"] for item in items[max(said.first - 2, 0) : said.first])
    lit = "times" in said.kinds or several or goes
    if lit and nearest(items, back_from(said.first), ("light",), _WORDS["before_light"]) is not None:
        return True
    return _follows_blinks(items, said) or _leads_to_blinks(items, said)


def _is_denied(items: Sequence[Item], blink: int) -> bool:
    """Tell whether the blinking is denied, or is the picture's and not a light's."""
    return nearest(items, back_from(blink, 3), ("no", "picture"), ("small", "light")) is not None


def _follows_blinks(items: Sequence[Item], said: Said) -> bool:
    """Tell whether a number stands alone, or is what somebody says, after blinking was spoken of.

    A number alone that ends the text needs no blinking before it: "dark. 5x".
    """
    kinds = [item.kind for item in items]
    start = next((place + 1 for place in back_from(said.first, said.first) if kinds[place] == "stop"), 0)
    end = next((place for place in range(said.after, len(items)) if kinds[place] == "stop"), len(items))
    blinks = [place for place in range(said.first) if kinds[place] == "blink"]
    told = bool(blinks) and not _is_denied(items, blinks[-1])
    ahead, behind = kinds[start : said.first], kinds[said.after : end]
    if told and [kind for kind in ahead if kind not in ("doubt", "near", "small")][-1:] == ["says"]:
        return True
    bare = _WORDS["alone"].issuperset(behind)
    if told and blinks[-1] < start:
        return bare and _WORDS["alone"].issuperset(ahead)
    opens = start == said.first or kinds[said.first - 1] == "comma"
    last = set(kinds[end:]) <= {"stop"}
    return opens and bare and last and items[said.first].text not in ("one", "1")


def _leads_to_blinks(items: Sequence[Item], said: Said) -> bool:
    """Tell whether a sentence opens with "six times" and goes on to a light that blinks."""
    before = items[said.first - 1].kind if said.first else "stop"
    if "times" not in said.kinds or before not in ("stop", "comma", "doubt", "near"):
        return False
    ahead = range(said.after, said.after + 5)
    return nearest(items, ahead, ("blink",), ("small", "light", "colour")) is not None
