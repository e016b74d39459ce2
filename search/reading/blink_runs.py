"""Join the numbers of one blink pattern: "two long, three short", "4 or 5", "twice, pauses, three more"."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Literal

from kb.notes.blinks import Group
from search.reading.blink_evidence import LENGTHS, Said
from search.reading.blink_words import BEFORE_A_BLINK_ONLY, Item
from search.reading.word_lists import word_sets

_BRIDGE = 9  # chosen by us: items between one number and the next of the same pattern
_WORDS = word_sets("blink_runs")


def read_run(items: Sequence[Item], first: int) -> Said | None:
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
        place, joiner = _next_count(items, after, item.number, said)
    _drop_repeats(items, said)
    return said


def _may_count(items: Sequence[Item], place: int) -> bool:
    """Tell whether a number can be a count: no unit or thing follows it, and no label stands before it."""
    before = items[place - 1] if place else None
    follows = kind_at(items, place + 1)
    if before is not None and (before.kind == "label" or (items[place].text == "one" and _points(before))):
        return False
    if before is not None and before.kind in LENGTHS and items[place].text == "one":
        return follows in ("blink", "times", *LENGTHS)  # "one short one", but "two long one short"
    if items[place].text in BEFORE_A_BLINK_ONLY:
        return follows == "blink"
    if _counts_things(items, place):
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
        return items[place].number > 1 and not follower.text.endswith("s")
    if follower.text == "of":
        return (
            items[place].vague
            or items[place].text == "pair"
            or (rest[1:2] != [] and rest[1].text in ("them", "those"))
        )
    return follower.kind not in _WORDS["not_after"]


def _counts_things(items: Sequence[Item], place: int) -> bool:
    """Tell whether a number counts what is no blink: "beeps twice", "one of the three", "the other two"."""
    before = [item for item in items[max(place - 3, 0) : place] if item.kind != "near"]
    texts = [item.text for item in before]
    if texts[-2:] == ["of", "the"] or texts[-1:] == ["other"]:
        return True
    acts = [item.kind for item in before if item.kind != "small"]
    return acts[-1:] == ["act"] and kind_at(items, place + 1) != "blink"


def _points(before: Item) -> bool:
    """Tell whether "one" after a word stands for a thing: "the red one", "this one"."""
    return before.kind == "colour" or before.text in _WORDS["pointing"]


def _is_rate(after: Sequence[Item]) -> bool:
    """Tell whether "three times" goes on as "a minute"."""
    return after[0].text in _WORDS["rates"] and [item.kind for item in after[1:2]] == ["unit"]


def _opens_clause(count: Item, follower: Item) -> bool:
    """Tell whether "once" means "as soon as"."""
    return count.text == "once" and follower.text in _WORDS["subjects"]


def _group(items: Sequence[Item], place: int, kinds: set[str]) -> tuple[Group, int]:
    """Return one group of blinks and the place after its words."""
    length: Literal["", "long", "short"] = ""
    after = place + 1
    while after < len(items):
        kind = items[after].kind
        glue = kind in ("dash", "small") or items[after].text in ("light", "led")
        if glue and kind_at(items, after + 1) in ("blink", "times", "long", "short"):
            after += 1
            continue
        if kind not in _WORDS["endings"]:
            break
        if kind in ("long", "short"):
            if length or kind_at(items, after + 1) == "pause":
                break
            length = "long" if kind == "long" else "short"
        kinds.add(kind)
        after += 1
    return Group(items[place].number, length), after


def kind_at(items: Sequence[Item], place: int) -> str:
    """Return the kind of an item, "stop" past the end."""
    return items[place].kind if place < len(items) else "stop"


def _next_count(items: Sequence[Item], after: int, count: int, said: Said) -> tuple[int | None, str]:
    """Return the place of the next number of the pattern and how it is joined on: "group" or "or"."""
    between: list[Item] = []
    for place in range(after, min(after + _BRIDGE, len(items))):
        item = items[place]
        if item.kind == "count":
            joiner = _joiner(between, count, item.number, said) if _may_count(items, place) else ""
            if joiner and says_between(items, said):
                joiner = "or"
            return (place, joiner) if joiner else (None, "")
        if item.kind not in _WORDS["joiners"] and not (item.kind == "stop" and item.text != "?"):
            break
        between.append(item)
    return None, ""


def says_between(items: Sequence[Item], said: Said) -> bool:
    """Tell whether "between" stands before the numbers."""
    return said.first > 0 and items[said.first - 1].text == "between"


def _joiner(between: Sequence[Item], count: int, following: int, said: Said) -> str:
    kinds = {item.kind for item in between}
    texts = {item.text for item in between}
    lengths = bool(said.kinds & {"long", "short"})
    if texts & _WORDS["either"] or {"might be", "could be"} & texts or "or" in kinds:
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
    return "or" if close and "blink" not in said.kinds else ""


def _join(alternatives: list[list[Group]], group: Group, joiner: str) -> None:
    """Add a group to the pattern, or open another alternative with it."""
    if joiner == "or":
        alternatives.append([group])
    else:
        alternatives[-1].append(group)


def _drop_repeats(items: Sequence[Item], said: Said) -> None:
    """Take "six, pause, six" for one count told over again, but not "6+6" or "two, pause, two more"."""
    run = items[said.first : said.after]
    if any(item.kind == "plus" or item.text == "more" for item in run):
        return
    aloud = not any(item.kind == "pause" and item.text != "..." for item in run)
    told = [[group.count for group in groups] for groups in said.alternatives]
    from_one = [[count] for count in range(1, len(told) + 1)]
    if len(told) > 2 and told == from_one and not any(item.kind == "or" for item in run):
        said.alternatives = said.alternatives[-1:]  # counted from one on: "one, two, three, then a pause"
    for place, groups in enumerate(said.alternatives):
        counts = [group.count for group in groups]
        if aloud and len(counts) > 2 and all(after - before == 1 for before, after in pairwise(counts)):
            groups = groups[-1:]  # counted aloud: "five... six... seven"
        period = next(
            length
            for length in range(1, len(groups) + 1)
            if groups == (groups[:length] * len(groups))[: len(groups)]
        )
        said.alternatives[place] = groups[:period] if len(groups) % period == 0 else groups
