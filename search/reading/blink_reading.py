"""Read the blink pattern out of an owner's words: "blinks twice, pauses, three more" is 2+3.

A number counts blinks only with a word for blinking, with lengths ("two long three short"), or with an
indicator light and "times". The rules are in blinks.toml.
"""

import itertools
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Literal, NamedTuple, cast

from kb.notes.blinks import BlinkPattern, Group
from search.reading.blink_words import JOINS, Item, blink_items, fits, letters, rule
from search.reading.spelling import Guess
from search.reading.text import Span

# Chosen by us.
_REACH = 30  # items around numbers that a rule sees, so that the time stays linear in the length
_BRIDGE = 9  # items between one number and the next of the same pattern
_COLOUR_REACH = 10  # items between a colour and the numbers
_WIDEST_DOUBT = 4  # "4 to 8" may be any of five counts, "2 to 20" is nonsense


class BlinksRead(NamedTuple):
    """Hold the pattern that was read, and the spans of its words in the text."""

    pattern: BlinkPattern
    spans: tuple[Span, ...]


@dataclass
class _Numbers:
    """Hold the numbers of one pattern while it is being read. first, end: places of items, end exclusive."""

    first: int
    end: int
    alternatives: list[list[Group]] = field(default_factory=lambda: [[]])
    vague: bool = False


def read_blinks(
    text: str, guesses: Callable[[str], Sequence[Guess]], leave_out: Sequence[Span] = ()
) -> BlinksRead | None:
    """Return the blink pattern a text tells of, or None.

    Different counts in several places ("3 flashes. My wife says 4 flashes") become alternatives. guesses:
    returns what a misspelt word may mean. leave_out: spans whose numbers do not count, as they are denied or
    past.
    """
    items = blink_items(text, guesses)
    for place, item in enumerate(items):
        if item.number and any(start <= item.start < end for start, end in leave_out):
            items[place] = item._replace(kind="denied")
    said = _Said(items)
    found: list[BlinksRead] = []
    for numbers in said.numbers():
        around = said.around(numbers.first, numbers.end)
        if fits("corrected", around) and found:
            found = [said.read(numbers)]
        elif fits("counted", around) or (fits("tells", around) and not fits("not_blinking", around)):
            found.append(said.read(numbers))
    return _merged(found) if found else None


class _Said:
    """The items of a text, and a string with a letter for the kind of each."""

    def __init__(self, items: Sequence[Item]) -> None:
        """Take the items, and leave out numbers of other things and denied numbers."""
        self._items, self._kinds = [*items], letters(item.kind for item in items)
        for place in self._numbers_from(0):
            kinds = self.around(place, place + 1)
            other = (kind for kind in ("ones", "thing", "denied") if fits(kind, kinds))
            self._items[place] = items[place]._replace(kind=next(other, items[place].kind))
        self._kinds = letters(item.kind for item in self._items)

    def around(self, first: int, end: int) -> str:
        """Return the kinds around some items, with < and > around those of the items."""
        before, after = self._kinds[max(first - _REACH, 0) : first], self._kinds[end : end + _REACH]
        return f"{before}<{self._kinds[first:end]}>{after}"

    def _numbers_from(self, start: int) -> Iterator[int]:
        return (match.start() for match in rule("number").finditer(self._kinds, start))

    def numbers(self) -> Iterator[_Numbers]:
        """Yield the numbers that may count blinks, a pattern at a time."""
        place = next(self._numbers_from(0), None)
        while place is not None:
            yield (numbers := self._pattern(place))
            place = next(self._numbers_from(numbers.end), None)

    def _pattern(self, first: int) -> _Numbers:
        """Return the numbers of one pattern, from its first number on."""
        said = _Numbers(first, first)
        place: int | None = first
        joiner = "group"
        while place is not None:
            match = rule("group").match(self._kinds, place, place + _BRIDGE)
            said.end = match.end() if match else place
            told = (item.kind for item in self._items[place : said.end] if item.kind in ("long", "short"))
            group = Group(self._items[place].number, cast(Literal["", "long", "short"], next(told, "")))
            if joiner == "instead":
                said.alternatives = [[]]
            elif joiner == "or":
                said.alternatives.append([])
            said.alternatives[-1].append(group)
            said.vague = said.vague or self._items[place].vague
            place, joiner = self._next(said, place)
        said.alternatives = _without_repeats(said.alternatives, self._kinds[first : said.end])
        return said

    def _next(self, said: _Numbers, last: int) -> tuple[int | None, str]:
        """Return the place of a pattern's next number and how it is joined, or None."""
        place = next(self._numbers_from(said.end), None)
        if place is None or place >= said.end + _BRIDGE:
            return None, ""
        step = self._items[place].number - self._items[last].number
        told = self._kinds[said.first : said.end]
        for joiner, needs, pattern in JOINS:
            holds = (step in (0, 1) and not fits("blinks", told)) if needs == "next" else fits(needs, told)
            if holds and pattern.fullmatch(self._kinds[said.end : place]):
                if joiner == "dash":
                    joiner = "or" if 0 < step <= 2 else "group"
                if joiner == "group" and fits("either", self.around(said.first, said.end)):
                    joiner = "or"  # "between four and six"
                return (place, joiner) if joiner else (None, "")
        return None, ""

    def read(self, said: _Numbers) -> BlinksRead:
        """Return the pattern of some numbers."""
        around = self.around(said.first, said.end)
        told = _widened(said.alternatives) if fits("ranges", around) else said.alternatives
        doubtful = fits("near", around) or (len(told) == 1 and (said.vague or fits("doubted", around)))
        alternatives = tuple(map(tuple, told))
        pattern = BlinkPattern(alternatives=alternatives, colour=self._colour(said), doubtful=doubtful)
        parts = zip(self._items[said.first : said.end], self._kinds[said.first : said.end], strict=True)
        spans = tuple((item.start, item.end) for item, kind in parts if not fits("beside", kind))
        return BlinksRead(pattern, spans)

    def _colour(self, said: _Numbers) -> str:
        """Return the colour nearest to the numbers in their clause, "" for none, or for two equally near."""
        found: dict[str, int] = {}  # the distance of each colour
        for place in range(max(said.first - _COLOUR_REACH, 0), min(said.end + 3, len(self._items))):
            is_before = place < said.first
            between = self._kinds[place : said.first] if is_before else self._kinds[said.end : place]
            item, ends = self._items[place], "stop" if is_before else "clause_end"
            if item.kind == "colour" and not fits(ends, between):
                gap = said.first - place if is_before else max(place - said.end + 1, 0)
                found[item.text] = min(gap, found.get(item.text, gap))
        nearest = [colour for colour, gap in found.items() if gap == min(found.values())]
        return nearest[0] if len(nearest) == 1 else ""


def _widened(alternatives: Sequence[Sequence[Group]]) -> list[Sequence[Group]]:
    """Fill in the counts between the ends of "4 to 6"."""
    widened = list(alternatives)
    for lower, upper in itertools.pairwise(each[0] for each in alternatives):
        if upper.count - lower.count <= _WIDEST_DOUBT:
            widened.extend((Group(count, upper.length),) for count in range(lower.count + 1, upper.count))
    return widened


def _without_repeats(told: list[list[Group]], kinds: str) -> list[list[Group]]:
    """Take "six, pause, six" for one count said twice, but not "6+6" or "two, pause, two more"."""
    if fits("no_repeat", kinds):
        return told
    aloud = [group.count for groups in told for group in groups]
    up_to = [*range(1, max(aloud) + 1)]
    from_one = aloud == up_to * (len(aloud) // len(up_to)) and not fits("length", kinds)
    if len(told) > 1 and from_one and not fits("or", kinds):
        return [[told[-1][-1]]]  # "one, two, three, then a pause", once or over and over
    return [_once(groups, aloud=not fits("rested", kinds)) for groups in told]


def _once(groups: list[Group], *, aloud: bool) -> list[Group]:
    steps = [after.count - before.count for before, after in itertools.pairwise(groups)]
    if aloud and len(steps) > 1 and set(steps) == {1}:
        return groups[-1:]  # counted aloud: "five... six... seven"
    lengths = (n for n in range(1, len(groups) + 1) if groups == groups[:n] * (len(groups) // n))
    return groups[: next(lengths)]


def _merged(found: Sequence[BlinksRead]) -> BlinksRead:
    """Join what was said in several places."""
    patterns, spans = zip(*found, strict=True)
    alternatives = tuple(groups for pattern in patterns for groups in pattern.alternatives)
    doubtful = all(pattern.doubtful for pattern in patterns)
    merged = BlinkPattern(alternatives=alternatives, colour=patterns[0].colour, doubtful=doubtful)
    return BlinksRead(merged, tuple(itertools.chain.from_iterable(spans)))
