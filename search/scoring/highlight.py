"""Where a note says what the complaint says: the spans a page highlights."""

from collections.abc import Collection
from functools import lru_cache

from search.reading.concepts import ConceptFinder
from search.reading.plain_form import CONCEPT_MARK
from search.reading.text import tokenise


def match_spans(text: str, terms: Collection[str], finder: ConceptFinder) -> list[tuple[int, int]]:
    """Return the character spans of `text` that one of the searched terms stands for.

    terms: stems and concept terms ("=no power") as in `Reading.terms`.
    Returns: (start, end) pairs, ascending, not overlapping; neighbouring words of one concept are one span.
    """
    merged: list[tuple[int, int]] = []
    for start, end, term in _places(text, finder):
        if term not in terms:
            continue
        if merged and start < merged[-1][1]:
            merged[-1] = (merged[-1][0], max(end, merged[-1][1]))
        else:
            merged.append((start, end))
    return merged


@lru_cache(maxsize=2_048)  # the same cases are shown after every press, and the same causes again and again
def _places(text: str, finder: ConceptFinder) -> list[tuple[int, int, str]]:
    """Return where each term stands in a text, in order."""
    tokens = tokenise(text)
    ideas = [
        (tokens[hit.start_token].start, tokens[hit.end_token - 1].end, CONCEPT_MARK + hit.concept)
        for hit in finder.find(tokens)
    ]
    return sorted([*((token.start, token.end, token.stem) for token in tokens), *ideas])
