"""Where a note says what the complaint says: the spans a page highlights."""

from collections.abc import Collection

from search.reading.concepts import ConceptFinder
from search.reading.text import tokenise


def match_spans(text: str, terms: Collection[str], finder: ConceptFinder) -> list[tuple[int, int]]:
    """Return the character spans of `text` that one of the searched terms stands for.

    terms: stems and concept terms ("=no power") as in `Reading.terms`.
    Returns: (start, end) pairs, ascending, not overlapping; neighbouring words of one concept are one span.
    """
    tokens = tokenise(text)
    spans = [(token.start, token.end) for token in tokens if token.stem in terms]
    spans += [
        (tokens[hit.start_token].start, tokens[hit.end_token - 1].end)
        for hit in finder.find(tokens)
        if f"={hit.concept}" in terms
    ]
    merged: list[tuple[int, int]] = []
    for start, end in sorted(spans):
        if merged and start < merged[-1][1]:
            merged[-1] = (merged[-1][0], max(end, merged[-1][1]))
        else:
            merged.append((start, end))
    return merged
