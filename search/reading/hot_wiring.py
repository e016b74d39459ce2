"""Find what is said of a hot or burnt plug, cable or socket, however the words stand: it may start a fire."""

from collections.abc import Iterator, Sequence

from search.reading.concepts import ConceptHit
from search.reading.text import Token
from search.reading.word_lists import word_sets

CONCEPT = "hot connection"  # a symptom of kb/terms.toml, with its hazard
_WORDS = word_sets("hot_wiring")
_AFTER, _BEFORE = 9, 3  # words from the plug to what is said of it, and from that to the plug; chosen by us


def hot_wiring(tokens: Sequence[Token]) -> Iterator[ConceptHit]:
    """Yield every "plug of the kettle gets hot" and "brown mark by the socket"."""
    for place, token in enumerate(tokens):
        wanted, within = _WORDS["wiring"], _BEFORE
        if token.text in wanted:
            wanted, within = _WORDS["heat"] | _WORDS["heat_after"], _AFTER
        elif token.text not in _WORDS["heat"]:
            continue
        if said := _reaches(tokens[place + 1 : place + 1 + within], wanted):
            yield ConceptHit(CONCEPT, "symptom", place, place + 1 + said)


def _reaches(tokens: Sequence[Token], wanted: frozenset[str]) -> int:
    """Return how many words it takes to one that is wanted, 0 where the clause ends before."""
    for count, token in enumerate(tokens, start=1):
        if token.parted or token.text in _WORDS["ends"]:
            return 0
        if token.text in wanted:
            return count
    return 0
