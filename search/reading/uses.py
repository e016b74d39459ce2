"""Find which device people mean who tell what they do with it: "the thing that dries my hair"."""

from collections.abc import Iterator, Sequence
from functools import lru_cache
from typing import NamedTuple

from search.reading.asides import compared_places
from search.reading.concepts import ConceptFinder
from search.reading.text import Token, tokenise
from search.reading.word_lists import word_sets

_WITHIN = 7  # words between what tells of one use; chosen by us
_TO_THING = 7  # words from "the thing" to the use; chosen by us
_THINGS = word_sets("devices")["things"]


class Use(NamedTuple):
    """Hold a device told of by its use, and the places of the words that tell of it.

    first: where the thing stands that has the use, "the thing" or "what", else the first of the places.
    """

    device: str
    places: tuple[int, ...]
    first: int

    @property
    def is_of_thing(self) -> bool:
        """Whether it is said of a thing or of "what": then it stands for a name."""
        return self.first < min(self.places)


def uses_told(tokens: Sequence[Token], finder: ConceptFinder) -> Iterator[Use]:
    """Yield the uses that a text tells of, those told in most words first, then as they stand."""
    known, compared = _uses_of(finder), compared_places(tokens)
    found = []
    for place, token in enumerate(tokens):
        for rest, device in known.get(token.stem, ()):
            near = _places_near(tokens, place)
            if place not in compared and all(form in near for form in rest):
                places = place, *(near[form] for form in rest)
                before = range(max(min(places) - _TO_THING, 0), min(places))
                things = (other for other in before if tokens[other].text in _THINGS)
                found.append(Use(device, places, next(things, min(places))))
    yield from sorted(found, key=lambda use: (-len(use.places), min(use.places)))


def _places_near(tokens: Sequence[Token], place: int) -> dict[str, int]:
    """Return the stems of the sentence around a place, each with where it stands, the nearest one."""
    start, end = place, place + 1
    while start > max(place - _WITHIN, 0) and not tokens[start].after_break:
        start -= 1
    while end < min(place + _WITHIN + 1, len(tokens)) and not tokens[end].after_break:
        end += 1
    order = sorted(range(start, end), key=lambda other: -abs(other - place))
    return {tokens[other].stem: other for other in order}


@lru_cache(maxsize=4)
def _uses_of(finder: ConceptFinder) -> dict[str, list[tuple[list[str], str]]]:
    """Return the uses of the devices by the stem of their first word: the stems of the others, the device."""
    uses: dict[str, list[tuple[list[str], str]]] = {}
    for term in finder.vocabulary.of_kind("device"):
        for use in term.uses:
            first, *rest = (token.stem for token in tokenise(use))
            uses.setdefault(first, []).append((rest, finder.device(term.concept)))
    return uses
