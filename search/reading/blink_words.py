"""Cut what an owner says about a blinking light into items: counts, blinks, pauses, doubts and the rest.

`search.reading.blink_reading` makes a pattern of them.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import groupby

from rapidfuzz.distance import OSA

from kb.notes.blinks import COLOURS, MOST_BLINKS, NUMBER_WORDS
from search.reading.english import is_english
from search.reading.text import is_stop_word, stem
from search.reading.word_lists import word_lists


@dataclass(frozen=True, kw_only=True)
class Item:
    """Hold one word or mark. kind: what it does; count: of a number, 0 elsewhere; start, end: offsets.

    Kinds: count, blink, times, light, colour, long, short, pause, or, and, plus, dash, comma, stop, doubt
    (of the whole sentence: "I think"), near (of the next number: "about"), no, more, group, unit,
    label, picture, says, act (what is no blink: "beeps"), instead ("sorry, I mean"), small (says nothing),
    word (says something else).
    vague: the number itself is loose ("a couple").
    """

    kind: str
    text: str
    start: int
    end: int
    count: int = 0
    vague: bool = False


_COUNTS = dict(NUMBER_WORDS) | {"couple": 2, "pair": 2}
_COUNTS |= {f"{word}s": count for word, count in _COUNTS.items() if 1 < count < 13}  # "in threes"
_COUNTS |= {"single": 1, "double": 2, "triple": 3}
_VAGUE = frozenset(("couple", "couples"))
BEFORE_A_BLINK_ONLY = frozenset(("single", "double", "triple"))  # "a double flash", not "a double socket"
_ITSELF_TIMES = frozenset(("once", "twice", "thrice"))  # these say "times" themselves

_KINDS = {word: kind for kind, words in word_lists()["blinks"].items() for word in words.split()}
_KINDS |= dict.fromkeys(COLOURS, "colour")
SINGLE_BLINKS = frozenset(("flash", "blink", "pulse", "wink"))
_SOUNDS_LIKE = {said: meant for meant, words in word_lists()["sounds_like"].items() for said in words.split()}
UNSAID = "(one)"  # the text of a count that was not said
_BLINK_STEMS = frozenset(map(stem, word_lists()["blinks"]["blink"].split()))
# What a misspelt word may be taken for.
_BLINK_SPELLINGS = ("blinks", "blinking", "blinked", "blink", "flashes", "flashing", "flashed", "flash")
_COUNT_SPELLINGS = ("three", "seven", "eight", "twice", "eleven", "twelve")

_ITEM = re.compile(
    r"""
    (?P<other> [£$€]\s?\d[\d.,]* | \d+(?:[/.:-]\d+){2,} | \d+[.:]\d+\w* | \d+\s?[%°€£$]\S* )
  | (?P<times> \d{1,2}\s?[x\u00d7](?!\w) | (?<!\w)[x\u00d7]\s?\d{1,2}(?!\w) )
  | (?P<number> \d+ (?: (?![\w']) | (?= (?:times?|flash|blink)) ) )
  | (?P<word> [^\W\d_]+ (?:['\u2019][^\W\d_]+)* (?![\w]) | \w [\w'\u2019]* )
  | (?P<range> (?<=\d) \.{2,} (?=\d) )
  | (?P<dots> \.{2,} | \u2026 )
  | (?P<mark> [-\u2010-\u2014/+&~,;.:?!()\n] )
    """,
    re.VERBOSE | re.IGNORECASE,
)
_MARKS = {
    "+": "plus",
    "&": "and",
    ",": "comma",
    "~": "near",
    "(": "comma",
    ")": "comma",
    ":": "comma",
    "\n": "stop",
}
_MARKS |= dict.fromkeys(".;?!", "stop")
_MARKS |= dict.fromkeys("-\u2010\u2011\u2012\u2013\u2014/", "dash")


def blink_items(text: str, knows: Callable[[str], bool]) -> list[Item]:
    """Return the items of a text in order. knows: tells which words are spelled as they should be."""
    items: list[Item] = []
    for match in _ITEM.finditer(text):
        said = match.group().lower().replace("\u2019", "'")
        start, end = match.span()
        if match["times"]:
            items.append(_counted(int(re.sub(r"\D", "", said)), said, start, end))
            items.append(Item(kind="times", text="x", start=end, end=end))
        elif match["number"]:
            items.append(_counted(int(said[:6]), said, start, end))
        elif match["other"]:
            items.append(Item(kind="word", text=said, start=start, end=end))
        elif match["range"]:
            items.append(Item(kind="dash", text="-", start=start, end=end))
        elif match["dots"]:
            items.append(Item(kind="pause", text="...", start=start, end=end))
        elif match["mark"]:
            items.append(Item(kind=_MARKS[said], text=said, start=start, end=end))
        else:
            items.extend(_worded(said, start, end, knows))
    return _with_unsaid_ones(_with_set_phrases(_corrected_counts(_told_out(items))))


def _counted(count: int, said: str, start: int, end: int) -> Item:
    kind = "count" if 1 <= count <= MOST_BLINKS else "word"
    return Item(kind=kind, text=said, start=start, end=end, count=count if kind == "count" else 0)


def _worded(said: str, start: int, end: int, knows: Callable[[str], bool]) -> list[Item]:
    if said in _COUNTS:
        count = Item(kind="count", text=said, start=start, end=end, count=_COUNTS[said], vague=said in _VAGUE)
        times = [Item(kind="times", text="", start=end, end=end)] if said in _ITSELF_TIMES else []
        return [count, *times]
    if said in _KINDS:
        return [Item(kind=_KINDS[said], text=said, start=start, end=end)]
    if stem(said) in _BLINK_STEMS or _is_misspelt_blink(said, knows):
        return [Item(kind="blink", text=said, start=start, end=end)]
    return [Item(kind="small" if is_stop_word(said) else "word", text=said, start=start, end=end)]


def _is_misspelt_blink(said: str, knows: Callable[[str], bool]) -> bool:
    if len(said) < 5 or not said.startswith(("b", "f", "lf", "lb")) or knows(said):
        return False
    edits = 2 if len(said) >= 8 else 1
    return any(OSA.distance(said, right, score_cutoff=edits) <= edits for right in _BLINK_SPELLINGS)


def _corrected_counts(items: list[Item]) -> list[Item]:
    """Take a misspelt number or "times" for what it means, where the other or a blink stands beside it."""
    corrected = list(items)
    for place, item in enumerate(items):
        if item.text in _SOUNDS_LIKE and items[place + 1 : place + 2] and items[place + 1].kind == "times":
            right = _SOUNDS_LIKE[item.text]
            corrected[place] = replace(item, kind="count", text=right, count=_COUNTS[right])
        if item.kind != "word" or len(item.text) < 4:
            continue
        beside = {
            other.kind for other in (*corrected[max(place - 1, 0) : place], *items[place + 1 : place + 2])
        }
        if not beside & {"times", "blink", "count"} or is_english(item.text):
            continue
        if beside & {"times", "blink"}:
            for right in _COUNT_SPELLINGS:
                if item.text[0] == right[0] and OSA.distance(item.text, right, score_cutoff=1) <= 1:
                    corrected[place] = replace(item, kind="count", text=right, count=_COUNTS[right])
        elif OSA.distance(item.text, "times", score_cutoff=1) <= 1:
            corrected[place] = replace(item, kind="times")
    return corrected


def _told_out(items: list[Item]) -> list[Item]:
    """Count what is told by doing it: "flash flash flash", up to as many as anybody counts."""
    dashless = [
        item
        for place, item in enumerate(items)
        if not (
            item.kind in ("dash", "comma") and _is_single(items, place - 1) and _is_single(items, place + 1)
        )
    ]
    counted: list[Item] = []
    for (kind, said), run in groupby(dashless, key=lambda item: (item.kind, item.text)):
        alike = list(run)
        if kind == "blink" and said in SINGLE_BLINKS and 1 < len(alike) <= MOST_BLINKS:
            start, end = alike[0].start, alike[-1].end
            counted.append(Item(kind="count", text=said, start=start, end=start, count=len(alike)))
            counted.append(Item(kind="blink", text=said, start=start, end=end))
        else:
            counted.extend(alike)
    return counted


def _is_single(items: list[Item], place: int) -> bool:
    return 0 <= place < len(items) and items[place].text in SINGLE_BLINKS


def _with_set_phrases(items: list[Item]) -> list[Item]:
    """Join set phrases into one item: "half a dozen", "a dozen", "not sure", "or so", "a bit of"."""
    joined: list[Item] = []
    for item in items:
        before = " ".join(earlier.text for earlier in joined[-2:])
        if item.text == "dozen":
            joined.append(_dozen(item, joined))
        elif (item.text, before.rpartition(" ")[2]) in (("sure", "not"), ("certain", "not"), ("so", "or")):
            start = joined.pop().start
            joined.append(Item(kind="doubt", text="not sure", start=start, end=item.end))
        elif item.text == "ish" or (item.text == "be" and before.endswith(("could", "might"))):
            joined.append(Item(kind="doubt", text=item.text, start=item.start, end=item.end))
        else:
            joined.append(item)
    return joined


def _with_unsaid_ones(items: list[Item]) -> list[Item]:
    """Put in the count that "a long flash" leaves out, and add up "long flash, long flash"."""
    counted: list[Item] = []
    place = 0
    while place < len(items):
        item = items[place]
        before = [earlier.kind for earlier in items[max(place - 2, 0) : place] if earlier.kind != "small"]
        if _is_length(items, place) and "count" not in before[-1:]:
            last = place
            while (
                items[last + 2 : last + 3] and items[last + 2].kind == "comma" and _is_length(items, last + 3)
            ):
                if items[last + 3].kind != item.kind or last - place >= 3 * (MOST_BLINKS - 1):
                    break
                last += 3
            count = 1 + (last - place) // 3
            counted.append(Item(kind="count", text=UNSAID, start=item.start, end=item.start, count=count))
            place = last
        counted.append(items[place])
        place += 1
    return counted


def _is_length(items: list[Item], place: int) -> bool:
    """Tell whether "long flash" or "short blink" stands at a place."""
    follower = items[place + 1].text if place + 1 < len(items) else ""
    return place < len(items) and items[place].kind in ("long", "short") and follower in SINGLE_BLINKS


def _dozen(item: Item, joined: list[Item]) -> Item:
    """Return the count that "dozen" makes with the words before it, which are taken from the list."""
    start, count = item.start, 12
    for word in ("a", "half"):
        if joined and joined[-1].text == word:
            start = joined.pop().start
            count = 6 if word == "half" else count
    return Item(kind="count", text="dozen", start=start, end=item.end, count=count, vague=True)
