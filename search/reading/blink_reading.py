"""Read the blink pattern out of an owner's words: "blinks twice, pauses, three more" is 2+3.

A number counts blinks only when something says so: a word for blinking right after it or a little before it,
lengths ("two long three short"), or an indicator light with "times". All other numbers are left alone.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

from kb.notes.blinks import BlinkPattern, Group
from search.reading.blink_evidence import LENGTHS, REACH, Said, tells_of_blinks
from search.reading.blink_words import Item, blink_items
from search.reading.english import is_english

_BRIDGE = 7  # chosen by us: items between one number and the next of the same pattern
_COLOUR_REACH = 10  # chosen by us: items between a colour and the number
_WIDEST_DOUBT = 4  # chosen by us: "4 to 8" is a doubt of five counts, "2 to 20" is nonsense

_ENDINGS = frozenset(("times", "blink", "more", "long", "short", "colour"))
_JOINERS = frozenset(
    ("comma", "pause", "or", "and", "plus", "dash", "doubt", "near", "small", "light", "more", "blink")
)
_JOINERS |= LENGTHS
_NOT_AFTER = frozenset(("unit", "word", "light", "label", "picture", "group"))
_SUBJECTS = frozenset(("it", "the", "i", "you", "we", "he", "she", "they", "warm", "cold", "hot", "cool"))
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
        said = _run(items, place) if items[place].kind == "count" else None
        if said is not None and tells_of_blinks(items, said):
            found.append(_read(items, said))
        place = said.after if said is not None else place + 1
    return _merged(found) if found else None


def _is_left_out(item: Item, spans: Sequence[tuple[int, int]]) -> bool:
    return any(start <= item.start < end for start, end in spans)


def _run(items: Sequence[Item], first: int) -> Said | None:
    """Read numbers on from one place as long as each next one belongs to the same pattern."""
    if not _may_count(items, first):
        return None
    said = Said(first=first, after=first, alternatives=[[]])
    joiner = "group"
    place: int | None = first
    while place is not None:
        item = items[place]
        group, after = _group(items, place, said.kinds)
        _join(said.alternatives, group, joiner)
        said.vague = said.vague or item.vague
        said.after = after
        place, joiner = _next_count(items, after, item.count, said)
    _drop_repeats(items, said)
    return said


def _may_count(items: Sequence[Item], place: int) -> bool:
    """Tell whether a number can be a count: no unit or thing follows it, and no label stands before it."""
    before = items[place - 1] if place else None
    if before is not None and (before.kind == "label" or (items[place].text == "one" and _points(before))):
        return False
    rest = [item for item in items[place + 1 : place + 5] if item.kind != "dash"]
    while rest and rest[0].kind in ("colour", "long", "short"):
        rest = rest[1:]
    if not rest:
        return True
    follower = rest[0]
    if follower.kind == "times" and len(rest) > 1:
        return not (rest[1].kind == "unit" or _is_rate(rest[1:]) or _opens_clause(items[place], rest[1]))
    if follower.kind == "light" and len(rest) > 1 and rest[1].kind == "blink":
        return items[place].count > 1 and not follower.text.endswith("s")
    if follower.text == "of":
        return items[place].vague or (rest[1:2] != [] and rest[1].text in ("them", "those"))
    return follower.kind not in _NOT_AFTER


def _points(before: Item) -> bool:
    """Tell whether "one" after a word stands for a thing: "the red one", "this one"."""
    return before.kind == "colour" or before.text in (
        "the",
        "this",
        "that",
        "which",
        "other",
        "old",
        "new",
        "small",
    )


def _is_rate(after: Sequence[Item]) -> bool:
    """Tell whether "three times" goes on as "a minute"."""
    return (
        after[0].text in ("a", "an", "per", "every", "each", "this")
        and after[1:2] != []
        and after[1].kind == "unit"
    )


def _opens_clause(count: Item, follower: Item) -> bool:
    """Tell whether "once" means "as soon as"."""
    return count.text == "once" and follower.text in _SUBJECTS


def _group(items: Sequence[Item], place: int, kinds: set[str]) -> tuple[Group, int]:
    """Return one group of blinks and the place after its words."""
    length: Literal["", "long", "short"] = ""
    after = place + 1
    while after < len(items):
        kind = items[after].kind
        glue = kind in ("dash", "small") or items[after].text in ("light", "led")
        if glue and _kind_at(items, after + 1) in ("blink", "times", "long", "short"):
            after += 1
            continue
        if kind not in _ENDINGS:
            break
        if kind in ("long", "short"):
            if length or _kind_at(items, after + 1) == "pause":
                break
            length = "long" if kind == "long" else "short"
        kinds.add(kind)
        after += 1
    return Group(items[place].count, length), after


def _kind_at(items: Sequence[Item], place: int) -> str:
    return items[place].kind if place < len(items) else "stop"


def _next_count(items: Sequence[Item], after: int, count: int, said: Said) -> tuple[int | None, str]:
    """Return the place of the next number of the pattern and how it is joined on: "group" or "or"."""
    between: list[Item] = []
    for place in range(after, min(after + _BRIDGE, len(items))):
        item = items[place]
        if item.kind == "count":
            joiner = _joiner(between, count, item.count, said) if _may_count(items, place) else ""
            if joiner and _says_between(items, said):
                joiner = "or"
            return (place, joiner) if joiner else (None, "")
        if item.kind not in _JOINERS and not (item.kind == "stop" and item.text != "?"):
            break
        between.append(item)
    return None, ""


def _says_between(items: Sequence[Item], said: Said) -> bool:
    return said.first > 0 and items[said.first - 1].text == "between"


def _joiner(between: Sequence[Item], count: int, following: int, said: Said) -> str:
    kinds = {item.kind for item in between}
    texts = {item.text for item in between}
    lengths = bool(said.kinds & {"long", "short"})
    if texts & {"sometimes", "maybe", "perhaps", "possibly", "be"} or kinds & {"or"}:
        return "or" if "stop" not in kinds else ""
    if kinds & {"pause", "plus"} or "off" in texts:
        return "group"
    if "stop" in kinds:
        return ""
    if "and" in kinds:
        return "" if "blink" in kinds else "group"
    if lengths and not kinds - {"comma", "small", "dash"}:
        return "group"
    if "dash" in kinds:
        return "or" if 0 < following - count <= 2 else "group"
    if not between and "blink" in said.kinds:
        return "group"  # "two winks three winks"
    close = following - count == 1 and not kinds - {"comma", "small"} and len(between) <= 1
    return "or" if close and not said.kinds & {"blink", "times"} else ""


def _join(alternatives: list[list[Group]], group: Group, joiner: str) -> None:
    """Add a group to the pattern, or open another alternative with it."""
    if joiner == "or":
        alternatives.append([group])
    else:
        alternatives[-1].append(group)


def _drop_repeats(items: Sequence[Item], said: Said) -> None:
    """Take "six, pause, six" for one count told over again, but not "6+6" or "two, pause, two more"."""
    if any(item.kind == "plus" or item.text == "more" for item in items[said.first : said.after]):
        return
    for place, groups in enumerate(said.alternatives):
        if len(set(groups)) == 1:
            said.alternatives[place] = groups[:1]


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
        or _says_between(items, said)
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
            return _kind_at(items, place + 1) in ("stop", "comma", "small", "pause", "doubt", "and", "dash")
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
        doubtful=first.pattern.doubtful and len(alternatives) == 1,
    )
    return BlinksRead(pattern=pattern, spans=tuple(span for read in found for span in read.spans))
