"""Find the device that people describe by its use: "the thing that dries my hair"."""

from collections.abc import Iterator, Sequence
from functools import lru_cache
from typing import NamedTuple

from search.reading.asides import compared_places
from search.reading.concepts import ConceptFinder
from search.reading.text import Token, tokenise
from search.reading.word_lists import word_sets

_WITHIN = 7  # most words between those of one use; chosen by us
_TO_THING = 7  # most words from "the thing" to the use; chosen by us
_WORDS, _THING = word_sets("devices"), "thing"  # in a use "thing" stands for any device


class Use(NamedTuple):
    """Hold a device described by its use, and the places of the words of that use.

    first: place of the first word, which is "thing" or "what" if one of these has the use. is_of_thing: one
    has, so that the use stands for a name.
    """

    device: str
    places: tuple[int, ...]
    first: int
    is_of_thing: bool


def uses_told(tokens: Sequence[Token], finder: ConceptFinder) -> Iterator[Use]:
    """Yield the uses in a text, those of most words first, then in the order of the text."""
    known, compared = _uses_of(finder), compared_places(tokens)
    forms = [_THING if _is_thing(tokens, place) else token.stem for place, token in enumerate(tokens)]
    found = []
    firsts = (
        (place, form)
        for place, token in enumerate(tokens)
        for form in dict.fromkeys((token.stem, forms[place]))
    )
    for place, form in firsts:
        for rest, device in known.get(form, ()) if place not in compared else ():
            near = _places_near(tokens, forms, place)
            if all(near.get(other, -1) > place or (other in near and form != _THING) for other in rest):
                places = place, *(near[other] for other in rest)
                before = range(max(min(places) - _TO_THING, 0), max(places))
                things = [other for other in before if forms[other] == _THING]
                found.append(Use(device, places, min((*things[:1], *places)), bool(things)))
    yield from sorted(found, key=lambda use: (-len(use.places), min(use.places)))


def _is_thing(tokens: Sequence[Token], place: int) -> bool:
    """Tell whether a word stands for a set that has no name: "the gadget", "that machine", "what"."""
    text, before = tokens[place].text, tokens[place - 1].text if place else ""
    return text in _WORDS["things"] or (text in _WORDS["the_things"] and before in _WORDS["passed_over"])


def _places_near(tokens: Sequence[Token], forms: Sequence[str], place: int) -> dict[str, int]:
    """Return the forms of the sentence around a place, each with its nearest place."""
    start, end = place, place + 1
    while start > max(place - _WITHIN, 0) and not tokens[start].after_break:
        start -= 1
    while end < min(place + _WITHIN + 1, len(tokens)) and not tokens[end].after_break:
        end += 1
    order = sorted(range(start, end), key=lambda other: -abs(other - place))
    return {form: other for other in order for form in (tokens[other].stem, forms[other])}


@lru_cache(maxsize=4)
def _uses_of(finder: ConceptFinder) -> dict[str, list[tuple[list[str], str]]]:
    """Return by stem of the first word: the other stems of each use, and its device."""
    uses: dict[str, list[tuple[list[str], str]]] = {}
    for term in finder.vocabulary.of_kind("device"):
        for use in term.uses:
            first, *rest = (token.stem for token in tokenise(use))
            uses.setdefault(first, []).append((rest, finder.device(term.concept)))
    return uses
