"""Blink patterns: what a set's indicator says, as a technician writes it into a note."""

import re
from dataclasses import dataclass
from typing import Literal, Self

MOST_BLINKS = 60  # chosen by us: nobody counts further by eye (test_blinks)
COLOURS = ("red", "green", "blue", "amber", "orange", "yellow", "white", "purple", "pink")

_REMEDY = 'write a count "6", groups "2+3", lengths "2 long + 3 short", a doubt "3 or 4", a colour "6 red"'
_TWO_MEANINGS = 'write "{0}+{1}" for groups with a pause between, or "{0} or {1}" when the count is in doubt'
NUMBER_WORDS = {
    "one": 1, "once": 1, "two": 2, "twice": 2, "three": 3, "thrice": 3, "four": 4, "five": 5, "six": 6,
    "seven": 7, "eight": 8, "nine": 9, "ten": 10, "eleven": 11, "twelve": 12, "thirteen": 13, "fourteen": 14,
    "fifteen": 15, "sixteen": 16, "seventeen": 17, "eighteen": 18, "nineteen": 19, "twenty": 20,
}  # fmt: skip
_WRITTEN_NUMBERS = NUMBER_WORDS | {"single": 1, "double": 2, "triple": 3}
_NUMBER_WORD = re.compile(rf"\b(?:{'|'.join(_WRITTEN_NUMBERS)})\b")
_PHRASES = (
    (r"\bhalf (?:a )?dozen\b", "6"),
    (r"\b(?:a )?dozen\b", "12"),
    (r"\ba (?:couple|pair)(?: of)?\b", "2"),
    (r"\b(?:not sure|i think|more or less|give or take)\b|~|\?", " about "),
    (r"\b(?:approx(?:imately)?|ca|circa|roughly|around|maybe|perhaps|probably|unsure)\b\.?", " about "),
    (r"\b(?:followed by|and then|then|pauses?|gap|plus)\b|[+&]", " + "),
    (r"\b([0-9]+)\s*l\b", r"\1 long"),
    (r"\b([0-9]+)\s*s\b", r"\1 short"),
    (r"([0-9])\s*[x\u00d7]", r"\1 "),  # U+00D7 is the multiplication sign
    (r"[x\u00d7]\s*([0-9])", r" \1"),
    (r"\b(?:flash(?:es|ing)?|blink(?:s|ing)?|pulses?|times?|counts?|code|ones|more)\b", " "),
    (r"\b(?:a|the|x|of|with|in|on|led|light|standby|repeat(?:s|ed|ing))\b", " "),
)
_TOKEN = re.compile(r"[0-9]+|[a-z]+|[^\s.;:()\"']")
_SEPARATORS = frozenset(("to", "-", "\u2013", "\u2014", "/", ","))  # with the en dash and the em dash


@dataclass(frozen=True, order=True)
class Group:
    """Hold one run of blinks without a pause in it."""

    count: int  # 1 to MOST_BLINKS
    length: Literal["", "long", "short"] = ""

    def __post_init__(self) -> None:
        if not 1 <= self.count <= MOST_BLINKS:
            raise ValueError(f"{_REMEDY}, with counts from 1 to {MOST_BLINKS}")

    def __str__(self) -> str:
        return f"{self.count} {self.length}".rstrip()


@dataclass(frozen=True, kw_only=True, order=True)
class BlinkPattern:
    """Hold a recorded blink pattern with its doubt."""

    alternatives: tuple[tuple[Group, ...], ...]  # "this or that": sorted, without repeats
    colour: str = ""
    doubtful: bool = False  # the count itself was given with doubt ("about 6")

    def __post_init__(self) -> None:
        if not self.alternatives or not all(self.alternatives):
            raise ValueError(_REMEDY)
        object.__setattr__(self, "alternatives", tuple(sorted(set(self.alternatives))))

    @classmethod
    def parse(cls, text: str) -> Self:
        """Read any sensible spelling. Raises: ValueError with what to write, also for "2-3": two meanings."""
        tokens = _tokens(text)
        doubtful = "about" in tokens
        colours = sorted({token for token in tokens if token in COLOURS})
        if len(colours) > 1:
            raise ValueError("write the pattern with one colour, and the other colour in the complaint")
        tokens = [token for token in tokens if token != "about" and token not in colours]
        while tokens[-1:] == [","]:  # what is left of "3 blinks, amber"
            tokens.pop()
        parts = re.split(r"\bor\b", " ".join(_widen(tokens)))
        alternatives = tuple(_groups(part.split()) for part in parts)
        return cls(alternatives=alternatives, colour="".join(colours), doubtful=doubtful)

    def shares_count(self, other: Self) -> bool:
        """Tell whether what one pattern may be the other may be, too."""
        return not set(self.alternatives).isdisjoint(other.alternatives)

    def __str__(self) -> str:
        text = " or ".join(map(_spell, self.alternatives))
        return " ".join(filter(None, ("about" if self.doubtful else "", text, self.colour)))


def _tokens(text: str) -> list[str]:
    said = _NUMBER_WORD.sub(lambda word: str(_WRITTEN_NUMBERS[word[0]]), text.lower())
    for pattern, replacement in _PHRASES:
        said = re.sub(pattern, replacement, said)
    return _TOKEN.findall(said)


def _widen(tokens: list[str]) -> list[str]:
    """Turn "4 to 6" into "4 or 5 or 6", and refuse "2-3": two groups to one reader, a doubt to another."""
    widened: list[str] = []
    for place, token in enumerate(tokens):
        before, after = " ".join(tokens[max(place - 1, 0) : place]), " ".join(tokens[place + 1 : place + 2])
        numbers = before.isdigit() and after.isdigit()
        if token not in _SEPARATORS:
            widened.append(token)
        elif token == "," and "or" in tokens:
            widened.append("or")
        elif token == "to" and numbers and int(before) < int(after) <= int(before) + 4:
            between = range(int(before) + 1, int(after))
            widened.extend(f"or {' or '.join(map(str, between))} or".split() if between else ["or"])
        elif token == "," and not numbers:
            widened.append("+")
        elif numbers and token != "to":
            raise ValueError(_TWO_MEANINGS.format(before, after))
        else:
            raise ValueError(_REMEDY)
    return widened


def _groups(tokens: list[str]) -> tuple[Group, ...]:
    groups: list[Group] = []
    joined = True  # a number may stand here: at the start, after "+", or after a group that said its length
    for token in tokens:
        if token.isdigit() and joined and len(token) <= 3:
            groups.append(Group(int(token)))
            joined = False
        elif token in ("long", "short") and groups and not groups[-1].length:
            groups[-1] = Group(groups[-1].count, "long" if token == "long" else "short")
            joined = True
        elif token in ("+", "and") and groups:
            joined = True
        else:
            raise ValueError(_REMEDY)
    if not groups or tokens[-1] in ("+", "and"):
        raise ValueError(_REMEDY)
    return tuple(groups)


def _spell(groups: tuple[Group, ...]) -> str:
    return (" + " if any(group.length for group in groups) else "+").join(map(str, groups))
