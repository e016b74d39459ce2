"""Find families by what somebody types: a model off the label, a make, a device, a name with a slip in it."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from rapidfuzz.distance import OSA

from kb.notes.family import FamilyNote
from kb.notes.models import find_family

# As for the words of a complaint: none below four letters, one slip from four, two from eight.
ONE_SLIP_FROM, TWO_SLIPS_FROM = 4, 8


@dataclass(frozen=True, kw_only=True)
class Findable:
    """What a family can be found by."""

    name: str
    make: str
    device: str
    models: tuple[str, ...] = ()

    @property
    def words(self) -> tuple[str, ...]:
        """Return its words and its names without their dashes, in small letters."""
        texts = (self.name, self.make, self.device, *self.models)
        split = [word for text in texts for word in _words(text)]
        return tuple(
            dict.fromkeys([*split, *(joined for text in texts if (joined := "".join(_words(text))))])
        )


def find(said: str, families: Sequence[Findable], notes: Mapping[str, FamilyNote]) -> list[str]:
    """Return the names of the families that fit what was typed, the one whose model it is first.

    Every typed word has to begin a word of the family, or be one or two slips away from one. The others keep
    the order given. Nothing typed finds all.
    """
    if not said.strip():
        return [family.name for family in families]
    match = find_family(said, list(notes.values()))
    meant = match.family.chassis_family if match else None
    wanted = _words(said)
    joined = "".join(wanted)
    fitting = [
        family.name
        for family in families
        if family.name != meant
        and wanted
        and (_fits(joined, family.words) or all(_fits(word, family.words) for word in wanted))
    ]
    return [meant, *fitting] if meant is not None else fitting


def nearest(said: str, names: Sequence[str], *, limit: int = 3) -> list[str]:
    """Return the names most like what was typed, nearest first, ties in the order given; none unlike it."""
    folded = "".join(_words(said))
    if not folded:
        return []
    scored = [(OSA.normalized_distance(folded, "".join(_words(name))), name) for name in names]
    close = sorted((pair for pair in scored if pair[0] <= 0.5), key=lambda pair: pair[0])
    return [name for _, name in close[:limit]]


def _words(text: str) -> list[str]:
    return re.findall(r"[^\W_]+", text.casefold())


def _fits(word: str, words: Sequence[str]) -> bool:
    slips = 2 if len(word) >= TWO_SLIPS_FROM else 1 if len(word) >= ONE_SLIP_FROM else 0
    for known in words:
        if known.startswith(word):
            return True
        # The end of a word may not be typed yet, so its beginning may match with a slip, too.
        if (
            slips
            and min(
                OSA.distance(word, known, score_cutoff=slips),
                OSA.distance(word, known[: len(word)], score_cutoff=slips),
            )
            <= slips
        ):
            return True
    return False
