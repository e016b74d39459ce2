"""Decide whether a number an owner says counts blinks, or ten minutes, two years, three tries."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from kb.notes.blinks import Group
from search.reading.blink_words import SINGLE_BLINKS, UNSAID, Item

REACH = 7  # chosen by us: items between a word for blinking and its number (tests/search/complaints.md)
LENGTHS = frozenset(("long", "short"))
_BETWEEN = frozenset(
    ("instead", "small", "times", "light", "colour", "doubt", "near", "group", "more", "comma", "or", "says")
)
_BEFORE_LIGHT = frozenset(("small", "colour", "doubt", "near", "and", "says"))
_GOES = frozenset(("going", "goes", "does", "doing", "gives", "gave", "counts"))  # "the light goes six"
_GAPS = frozenset(("gap", "gaps", "pause", "pauses", "rest", "wait"))
_ALONE = frozenset(
    ("small", "doubt", "near", "comma", "times", "more", "or", "no", "colour", "says", "instead")
)


@dataclass
class Said:
    """One run of numbers that belong together, as far as it has been read. first, after: places of items."""

    first: int
    after: int
    alternatives: list[list[Group]]
    kinds: set[str] = field(default_factory=set)
    vague: bool = False


def tells_of_blinks(items: Sequence[Item], said: Said) -> bool:
    """Tell whether a run of numbers is about blinks at all."""
    lonely = items[said.first].text in ("one", UNSAID) and [len(part) for part in said.alternatives] == [1]
    if "blink" in said.kinds:
        blinks = [item.text for item in items[said.first : said.after] if item.kind == "blink"]
        if lonely and items[said.first].text == UNSAID:
            return False  # "a long flash" by itself is no count
        return not lonely or bool(said.kinds & {"long", "short", "times"}) or blinks[0] in SINGLE_BLINKS
    if said.kinds >= LENGTHS:
        return True
    if "colour" in said.kinds and any(item.text == "ones" for item in items[said.first : said.after]):
        return True
    if lonely and not said.kinds & {"long", "short", "times"}:
        return False
    if _has_gaps(items, said):
        return True
    several = len(said.alternatives[0]) > 1
    reached = _reached(items, said.first, "blink", _BETWEEN)
    if reached is not None:
        return not _is_denied(items, reached)
    goes = any(item.text in _GOES for item in items[max(said.first - 2, 0) : said.first])
    if "times" in said.kinds or several or goes:
        light = _reached(items, said.first, "light", _BEFORE_LIGHT)
        if light is not None:
            return True
    return _follows_blinks(items, said) or _leads_to_blinks(items, said)


def _has_gaps(items: Sequence[Item], said: Said) -> bool:
    """Tell whether the numbers stand apart by a named gap: "three, gap, one"."""
    run = items[said.first : said.after]
    return len(said.alternatives[0]) > 1 and any(item.text in _GAPS for item in run)


def _reached(items: Sequence[Item], first: int, kind: str, through: frozenset[str]) -> int | None:
    """Return the place of the nearest item of a kind before a number, nothing but some kinds between."""
    for place in range(first - 1, max(first - 1 - REACH, -1), -1):
        if items[place].kind == kind:
            return place
        if items[place].kind not in through:
            return None
    return None


def _is_denied(items: Sequence[Item], blink: int) -> bool:
    """Tell whether the blinking is denied, or is the picture's and not a light's."""
    before = items[max(blink - 3, 0) : blink]
    for item in reversed(before):
        if item.kind in ("no", "picture"):
            return True
        if item.kind not in ("small", "light"):
            return False
    return False


def _follows_blinks(items: Sequence[Item], said: Said) -> bool:
    """Tell whether a number stands alone, or is what somebody says, after blinking was spoken of.

    A number alone that ends the text needs no blinking before it: "dark. 5x".
    """
    start, end = said.first, said.after
    while start and items[start - 1].kind != "stop":
        start -= 1
    while end < len(items) and items[end].kind != "stop":
        end += 1
    blinks = [place for place in range(said.first) if items[place].kind == "blink"]
    told = bool(blinks) and not _is_denied(items, blinks[-1])
    ahead = [item.kind for item in items[start : said.first]]
    if told and "says" in [kind for kind in ahead if kind not in ("doubt", "near", "small")][-1:]:
        return True
    alone = all(kind in _ALONE for kind in (*ahead, *(item.kind for item in items[said.after : end])))
    last = all(item.kind == "stop" for item in items[end:])
    if told and blinks[-1] < start:
        return alone
    opens = start == said.first or items[said.first - 1].kind == "comma"
    bare = all(item.kind in _ALONE for item in items[said.after : end])
    return opens and bare and last and items[said.first].text not in ("one", "1")


def _leads_to_blinks(items: Sequence[Item], said: Said) -> bool:
    """Tell whether a sentence opens with "six times" and goes on to a light that blinks."""
    before = items[said.first - 1].kind if said.first else "stop"
    if "times" not in said.kinds or before not in ("stop", "comma", "doubt", "near"):
        return False
    for item in items[said.after : said.after + 5]:
        if item.kind == "blink":
            return True
        if item.kind not in ("small", "light", "colour"):
            return False
    return False
