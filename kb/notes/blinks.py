"""Blink patterns: what a set's indicator says, as a technician writes it into a note."""

import re
from dataclasses import dataclass, replace
from typing import Self

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
_RANGE = re.compile(r"\b(\d+) to (\d+)\b")
_TWO_COUNTS = re.compile(r"\b(\d+) [-\u2013\u2014/,] (\d+)\b")  # with the en dash and the em dash
_GROUP = r"\b(\d{1,3})\b(?:(?: \+)* (long|short)\b)?"  # "3, short" too
# Groups are joined by "+"; after "long" or "short" the next one may follow at once.
_GROUPS = re.compile(rf"{_GROUP}(?:(?:(?: (?:\+|and))+|(?<=long)|(?<=short)) {_GROUP})*")


@dataclass(frozen=True, order=True)
class Group:
    """Hold one run of blinks without a pause in it."""

    count: int  # 1 to MOST_BLINKS
    length: str = ""  # "", "long" or "short"

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
        """Read any sensible spelling; "2-3" has two meanings and is refused.

        Raises: ValueError that says what to write.
        """
        said = _NUMBER_WORD.sub(lambda word: str(_WRITTEN_NUMBERS[word[0]]), text.lower())
        for pattern, replacement in _PHRASES:
            said = re.sub(pattern, replacement, said)
        tokens = _TOKEN.findall(said)
        colours = {token for token in tokens if token in COLOURS}
        if len(colours) > 1:
            raise ValueError("write the pattern with one colour, and the other colour in the complaint")
        # Dropping the colour of "3 blinks, amber" leaves a comma at the end.
        said = " ".join(token for token in tokens if token not in ("about", *colours)).rstrip(" ,")
        said = _RANGE.sub(_each_count, said).replace(",", "or" if "or" in tokens else ",")
        if two := _TWO_COUNTS.search(said):
            raise ValueError(_TWO_MEANINGS.format(*two.groups()))
        parts = re.split(r" ?\bor\b ?", said.replace(",", "+"))
        if not all(map(_GROUPS.fullmatch, parts)):
            raise ValueError(_REMEDY)
        found = (re.findall(_GROUP, part) for part in parts)
        alternatives = tuple(tuple(Group(int(count), length) for count, length in groups) for groups in found)
        return cls(alternatives=alternatives, colour="".join(colours), doubtful="about" in tokens)

    @property
    def counts(self) -> list[Self]:
        """The patterns that this one may be, each without doubt."""
        return [replace(self, alternatives=(each,), doubtful=False) for each in self.alternatives]

    def shares_count(self, other: Self) -> bool:
        """Tell whether both patterns may be the same count."""
        return not set(self.alternatives).isdisjoint(other.alternatives)

    def __str__(self) -> str:
        joints = [" + " if any(group.length for group in groups) else "+" for groups in self.alternatives]
        text = " or ".join(map(str.join, joints, (map(str, groups) for groups in self.alternatives)))
        return " ".join(filter(None, ("about" if self.doubtful else "", text, self.colour)))


def _each_count(found: re.Match[str]) -> str:
    """Return "4 or 5 or 6" for "4 to 6"; other ranges stay as they are, and are refused later."""
    first, last = int(found[1]), int(found[2])
    return " or ".join(map(str, range(first, last + 1))) if first < last <= first + 4 else found[0]
