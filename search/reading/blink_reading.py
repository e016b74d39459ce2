"""Read the blink pattern out of an owner's words: "blinks twice, pauses, three more" is 2+3.

A number counts blinks only when something says so: a word for blinking right after it or a little before it,
lengths ("two long three short"), or an indicator light with "times". All other numbers are left alone.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from typing import NamedTuple

from kb.notes.blinks import BlinkPattern, Group
from search.reading.blink_evidence import Said, back_from, tells_of_blinks
from search.reading.blink_runs import kind_at, read_run, says_between
from search.reading.blink_words import Item, blink_items
from search.reading.english import is_english
from search.reading.text import Span
from search.reading.word_lists import word_sets

_COLOUR_REACH = 10  # chosen by us: items between a colour and the number
_WIDEST_DOUBT = 4  # chosen by us: "4 to 8" is a doubt of five counts, "2 to 20" is nonsense

_WORDS = word_sets("blink_reading")


class BlinksRead(NamedTuple):
    """Hold the pattern that was read and where its words stand: (start, end) offsets in the text."""

    pattern: BlinkPattern
    spans: tuple[Span, ...]


def read_blinks(
    text: str, knows: Callable[[str], bool] = is_english, leave_out: Sequence[Span] = ()
) -> BlinksRead | None:
    """Return the blink pattern a text tells of, or None.

    knows: tells which words need no correcting. leave_out: spans whose numbers do not count, because they are
    denied or past. Counts told apart in several places ("3 flashes. My wife says
    4 flashes") become alternatives, unless they are of different colours; then the first counts.
    """
    items = [
        item._replace(kind="word", number=0)
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
    kinds = [items[place].kind for place in back_from(said.first) if place >= 0]
    return next((kind for kind in kinds if kind in ("instead", "stop", "word", "count")), "") == "instead"


def _is_left_out(item: Item, spans: Sequence[Span]) -> bool:
    return any(start <= item.start < end for start, end in spans)


def _read(items: Sequence[Item], said: Said) -> BlinksRead:
    alternatives = _widened(items, said)
    right_before = [item.kind for item in items[max(said.first - 2, 0) : said.first] if item.kind != "small"]
    doubtful = right_before[-1:] == ["near"]  # "about six"
    if len(alternatives) == 1:  # "I think four or five" has said its doubt already
        doubtful = doubtful or said.vague or _is_doubted(items, said)
    pattern = BlinkPattern(alternatives=alternatives, colour=_colour(items, said), doubtful=doubtful)
    parts = [item for item in items[said.first : said.after] if item.kind not in ("blink", "light", "colour")]
    return BlinksRead(pattern=pattern, spans=tuple((item.start, item.end) for item in parts))


def _widened(items: Sequence[Item], said: Said) -> tuple[tuple[Group, ...], ...]:
    """Fill in what lies between the ends of "4 to 6"."""
    alternatives = [tuple(groups) for groups in said.alternatives]
    run = items[said.first : said.after]
    between = says_between(items, said) or any(item.text == "to" or item.kind == "dash" for item in run)
    for lower, upper in itertools.pairwise(list(alternatives)):
        if between and len(lower) == len(upper) == 1 and 1 < upper[0].count - lower[0].count <= _WIDEST_DOUBT:
            counts = range(lower[0].count + 1, upper[0].count)
            alternatives.extend((Group(count, upper[0].length),) for count in counts)
    return tuple(alternatives)


def _is_doubted(items: Sequence[Item], said: Said) -> bool:
    """Tell whether the speaker is unsure: "I think" before or after, "?" right after."""
    before = [items[place].kind for place in back_from(said.first) if place >= 0]
    if next((kind for kind in before if kind in ("stop", "word", "doubt")), "") == "doubt":
        return True
    for place in range(said.after, min(said.after + 5, len(items))):
        if items[place].text == "?":
            return True
        if items[place].kind == "doubt":
            return kind_at(items, place + 1) in _WORDS["after_doubt"]
        if items[place].kind not in ("small", "comma", "light", "dash", "near"):
            return False
    return False


def _colour(items: Sequence[Item], said: Said) -> str:
    """Return the colour nearest to the count in its own sentence, "" if there is none or two as near."""
    ahead = [place for place in back_from(said.first, _COLOUR_REACH) if place >= 0]
    ends = (place for place in range(said.after, len(items)) if items[place].kind in _WORDS["clause_ends"])
    behind = range(said.first, min(said.after + 3, next(ends, len(items))))
    found: dict[str, int] = {}  # the distance of each colour
    for places in (ahead, behind):
        in_sentence = itertools.takewhile(lambda place: items[place].kind != "stop", places)
        place = next((place for place in in_sentence if _is_of_light(items, place)), None)
        if place is not None:
            gap = said.first - place if place < said.first else max(place - said.after + 1, 0)
            found[items[place].text] = min(gap, found.get(items[place].text, gap))
    nearest = [colour for colour, gap in found.items() if gap == min(found.values())]
    return nearest[0] if len(nearest) == 1 else ""


def _is_of_light(items: Sequence[Item], place: int) -> bool:
    """Tell whether a colour stands at a place, beside a light or a count."""
    beside = (*items[max(place - 1, 0) : place], *items[place + 1 : place + 2])
    tells = any(other.kind in _WORDS["coloured"] or other.text == "in" for other in beside)
    return tells and items[place].kind == "colour"


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
