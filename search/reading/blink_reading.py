"""Read the blink pattern out of an owner's words: "blinks twice, pauses, three more" is 2+3.

A number counts blinks only when something says so: a word for blinking right after it or a little before it,
lengths ("two long three short"), or an indicator light with "times". All other numbers are left alone.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from kb.notes.blinks import BlinkPattern, Group
from search.reading.blink_evidence import REACH, Said, tells_of_blinks
from search.reading.blink_runs import kind_at, read_run, says_between
from search.reading.blink_words import Item, blink_items
from search.reading.english import is_english

_COLOUR_REACH = 10  # chosen by us: items between a colour and the number
_WIDEST_DOUBT = 4  # chosen by us: "4 to 8" is a doubt of five counts, "2 to 20" is nonsense

_AFTER_DOUBT = frozenset(("stop", "comma", "small", "pause", "doubt", "and", "dash", "times", "blink"))
_CLAUSE_ENDS = frozenset(("and", "comma", "pause", "stop"))
_COLOURED = frozenset(("light", "blink", "count", "times", "long", "short"))


@dataclass(frozen=True, kw_only=True)
class BlinksRead:
    """Hold the pattern that was read and where its words stand: (start, end) offsets in the text."""

    pattern: BlinkPattern
    spans: tuple[tuple[int, int], ...]


def read_blinks(
    text: str, knows: Callable[[str], bool] = is_english, leave_out: Sequence[tuple[int, int]] = ()
) -> BlinksRead | None:
    """Return the blink pattern a text tells of, or None.

    knows: tells which words need no correcting. leave_out: spans whose numbers do not count, because they are
    denied or past. Counts told apart in several places ("3 flashes. My wife says
    4 flashes") become alternatives, unless they are of different colours; then the first counts.
    """
    items = [
        replace(item, kind="word", count=0)
        if item.kind == "count" and _is_left_out(item, leave_out)
        else item
        for item in blink_items(text, knows)
    ]
    found: list[BlinksRead] = []
    place = 0
    while place < len(items):
        said = read_run(items, place) if items[place].kind == "count" else None
        if said is not None:
            corrects = bool(found) and _is_corrected(items, said)
            if corrects:
                found.clear()
            if corrects or tells_of_blinks(items, said):
                found.append(_read(items, said))
        place = said.after if said is not None else place + 1
    return _merged(found) if found else None


def _is_corrected(items: Sequence[Item], said: Said) -> bool:
    """Tell whether the speaker takes back an earlier count: "five blinks, sorry, I mean seven"."""
    for item in reversed(items[max(said.first - REACH, 0) : said.first]):
        if item.kind == "instead":
            return True
        if item.kind in ("stop", "word", "count"):
            return False
    return False


def _is_left_out(item: Item, spans: Sequence[tuple[int, int]]) -> bool:
    return any(start <= item.start < end for start, end in spans)


def _read(items: Sequence[Item], said: Said) -> BlinksRead:
    alternatives = _widened(items, said)
    doubtful = _is_about(items, said)
    if len(alternatives) == 1:  # "I think four or five" has said its doubt already
        doubtful = doubtful or said.vague or _is_doubted(items, said)
    pattern = BlinkPattern(alternatives=alternatives, colour=_colour(items, said), doubtful=doubtful)
    parts = [item for item in items[said.first : said.after] if item.kind not in ("blink", "light", "colour")]
    return BlinksRead(pattern=pattern, spans=tuple((item.start, item.end) for item in parts))


def _widened(items: Sequence[Item], said: Said) -> tuple[tuple[Group, ...], ...]:
    """Fill in what lies between the ends of "4 to 6"."""
    alternatives = [tuple(groups) for groups in said.alternatives]
    texts = [item.text for item in items[said.first : said.after]]
    between = (
        "to" in texts
        or says_between(items, said)
        or any(item.kind == "dash" for item in items[said.first : said.after])
    )
    for lower, upper in pairwise(list(alternatives)):
        if between and len(lower) == len(upper) == 1 and 1 < upper[0].count - lower[0].count <= _WIDEST_DOUBT:
            counts = range(lower[0].count + 1, upper[0].count)
            alternatives.extend((Group(count, upper[0].length),) for count in counts)
    return tuple(alternatives)


def _is_about(items: Sequence[Item], said: Said) -> bool:
    """Tell whether "about" or the like stands right before the number."""
    before = [item.kind for item in items[max(said.first - 2, 0) : said.first] if item.kind != "small"]
    return before[-1:] == ["near"]


def _is_doubted(items: Sequence[Item], said: Said) -> bool:
    """Tell whether the speaker is unsure: "I think" before or after, "?" right after."""
    for item in reversed(items[max(said.first - REACH, 0) : said.first]):
        if item.kind in ("stop", "word"):
            break
        if item.kind == "doubt":
            return True
    for place in range(said.after, min(said.after + 5, len(items))):
        item = items[place]
        if item.text == "?":
            return True
        if item.kind == "doubt":
            return kind_at(items, place + 1) in _AFTER_DOUBT
        if item.kind not in ("small", "comma", "light", "dash", "near"):
            return False
    return False


def _colour(items: Sequence[Item], said: Said) -> str:
    """Return the colour nearest to the count in its own sentence, "" if there is none or two as near."""
    before = _nearest_colour(items, range(said.first - 1, max(said.first - _COLOUR_REACH, -1), -1))
    ends = (place for place in range(said.after, len(items)) if items[place].kind in _CLAUSE_ENDS)
    after = _nearest_colour(items, range(said.first, min(said.after + 3, next(ends, len(items)))))
    if before is None or after is None:
        near = before or after
        return near.text if near else ""
    gaps = said.first - items.index(before), max(items.index(after) - said.after + 1, 0)
    if before.text != after.text and gaps[0] == gaps[1]:
        return ""
    return before.text if gaps[0] <= gaps[1] else after.text


def _nearest_colour(items: Sequence[Item], places: range) -> Item | None:
    """Return the first colour of some places that belongs to a light or a count, within the sentence."""
    for place in places:
        if items[place].kind == "stop":
            return None
        beside = (*items[max(place - 1, 0) : place], *items[place + 1 : place + 2])
        tells = any(other.kind in _COLOURED or other.text == "in" for other in beside)
        if items[place].kind == "colour" and tells:
            return items[place]
    return None


def _merged(found: Sequence[BlinksRead]) -> BlinksRead:
    """Bring together what was told in several places."""
    first = found[0]
    if len(found) == 1:
        return first
    same = [read for read in found if read.pattern.colour in ("", first.pattern.colour)]
    alternatives = tuple({groups: None for read in same for groups in read.pattern.alternatives})
    pattern = BlinkPattern(
        alternatives=alternatives,
        colour=first.pattern.colour,
        doubtful=len(alternatives) == 1 and all(read.pattern.doubtful for read in same),
    )
    return BlinksRead(pattern=pattern, spans=tuple(span for read in found for span in read.spans))
