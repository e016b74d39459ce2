"""Find a chassis family by what somebody read off a label, or thought they did."""

import re
from collections.abc import Mapping, Sequence
from functools import lru_cache
from itertools import starmap
from typing import Any, NamedTuple

from rapidfuzz.distance import OSA

from kb.notes.family import FamilyNote

_SHORTEST_FUZZY = 5  # chosen by us: with four characters or fewer, one wrong is another family (test_models)
_LONGEST_NAME = 200  # chosen by us: longer texts are no names and not compared (tests/web/hostile)
_LONGEST_SUFFIX = 6  # chosen by us: a maker's letters for country, colour and version (test_models)

_BETWEEN = re.compile(r"[\W_]+")


class FamilyMatch(NamedTuple):
    """Say which family was meant."""

    family: FamilyNote
    exact: bool  # the same but for spaces, dashes and case


def find_family(said: str, families: Sequence[FamilyNote]) -> FamilyMatch | None:
    """Return the family that a model name or family name belongs to, or None.

    Forgives spaces, dashes, small letters, the make before the name, a suffix after it, and one wrong,
    missing, extra or swapped character in names of five or more. `*` in a model stands for any ending.
    When two families fit, the result is None: a wrong family misleads more than none.
    """
    if len(said) > _LONGEST_NAME or not squeeze(said):
        return None
    compared = [(family, _pairs(said, family)) for family in families]
    for closeness in (_is_same, _has_suffix, _is_one_off):
        found = {each.chassis_family: each for each, pairs in compared if any(starmap(closeness, pairs))}
        if found:
            return FamilyMatch(found.popitem()[1], closeness is _is_same) if len(found) == 1 else None
    return None


def with_family(fields: Mapping[str, Any], families: Sequence[FamilyNote]) -> dict[str, Any]:
    """Return a case's fields with family, device and make filled in as the family's note spells them."""
    filled = dict(fields)
    said = filled.get("chassis_family") or filled.get("model")
    if isinstance(said, str) and (match := find_family(said, families)):
        if match.exact or not filled.get("chassis_family"):
            filled["chassis_family"] = match.family.chassis_family
        for key, known in (("device", match.family.device), ("make", match.family.make)):
            filled[key] = filled.get(key) or known
    return filled


def _is_same(said: str, start: str, star: bool) -> bool:
    bare = said.replace("|", "")
    return bare.startswith(start) and len(start) > 2 if star else bare == start


def _has_suffix(said: str, start: str, star: bool) -> bool:
    """Tell whether the name is followed by a suffix: by a letter, or by anything after a gap ("|")."""
    ends = re.match(r"\|?".join(map(re.escape, start)), said) if len(start) >= _SHORTEST_FUZZY else None
    rest = said[ends.end() :] if ends else ""
    return len(rest.replace("|", "")) <= _LONGEST_SUFFIX and (rest[:1] == "|" or rest[:1].isalpha())


def _is_one_off(said: str, start: str, star: bool) -> bool:
    bare = said.replace("|", "")
    long = min(len(bare), len(start)) >= _SHORTEST_FUZZY
    return long and OSA.distance(bare[: len(start)] if star else bare, start, score_cutoff=1) <= 1


def _pairs(said: str, family: FamilyNote) -> list[tuple[str, str, bool]]:
    """Return (name said, a family's name up to its `*`, whether it has one), also with the make taken off."""
    whole = squeeze(said, "|")
    spellings = {whole, re.sub(r"\|?".join(["^", *squeeze(family.make), ""]), "", whole)} - {""}
    parts = [name.partition("*") for name in (family.chassis_family, *family.models)]
    known = [(squeeze(start), bool(star)) for start, star, _ in parts if squeeze(start)]
    return [(spelling, *each) for spelling in spellings for each in known]


@lru_cache(maxsize=4096)
def squeeze(name: str, gap: str = "") -> str:
    """Return letters and digits in small letters, with `gap` where anything else stood between them."""
    return _BETWEEN.sub(gap, name.casefold()).strip(gap or None)
