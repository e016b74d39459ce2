"""Read a complaint: an owner's words become search terms, ideas, a blink pattern, a make and a family."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

from kb.notes.blinks import BlinkPattern
from kb.notes.family import FamilyNote
from search.reading.blink_reading import BlinksRead, read_blinks
from search.reading.concepts import CONCEPT_MARK, ConceptFinder, ConceptHit, default_finder, is_content_word
from search.reading.everyday import is_everyday
from search.reading.lexicon import Lexicon, Suggestion
from search.reading.set_names import Labels, read_labels
from search.reading.text import Token, is_stop_word, stem, tokenise

# No owner says more; a text pasted by mistake must not keep a bench waiting. Chosen by us (test_hostile).
LONGEST_COMPLAINT = 4_000  # characters
_MOST_GUESSES = 3  # chosen by us: words searched for in place of one that nobody knows


@dataclass(frozen=True)
class WeightedTerm:
    """Hold one thing to search.

    term: a stem or "=concept". weight: within (0, 1]. said: the words that were typed for it.
    """

    term: str
    weight: float
    said: str


@dataclass(frozen=True, kw_only=True)
class Reading:
    """Hold what was understood of a complaint.

    words: those that say something, lower case, each once. concepts: ideas of the trade, as kb/terms.toml
    names them. blinks: the pattern with its doubt, None if none was told. family, make, model, device: "" if
    not said and not implied by the family. instead_of: words nobody knows, each with what was searched for in
    its place. terms: what is searched, each term once.
    denied, past: (start, end) offsets into text of what the owner denies, and of what is over.
    not_understood: words that nothing was made of. taken_for: a word said and the device it was taken for.
    """

    text: str
    words: tuple[str, ...] = ()
    concepts: tuple[str, ...] = ()
    blinks: BlinkPattern | None = None
    family: str = ""
    make: str = ""
    model: str = ""
    device: str = ""
    instead_of: Mapping[str, str] = field(default_factory=dict)
    terms: tuple[WeightedTerm, ...] = ()
    denied: tuple[tuple[int, int], ...] = ()
    past: tuple[tuple[int, int], ...] = ()
    not_understood: tuple[str, ...] = ()
    taken_for: Mapping[str, str] = field(default_factory=dict)

    def as_json(self) -> dict[str, Any]:
        """Return the reading as it stands in the JSON answer."""
        return {
            "text": self.text,
            "words": list(self.words),
            "concepts": list(self.concepts),
            "blinks": "" if self.blinks is None else str(self.blinks),
            "family": self.family,
            "make": self.make,
            "model": self.model,
            "device": self.device,
            "instead_of": dict(self.instead_of),
        }


def read_complaint(
    text: str,
    *,
    finder: ConceptFinder | None = None,
    families: Sequence[FamilyNote] = (),
    lexicon: Lexicon | None = None,
    blinks: BlinkPattern | None = None,
    family: str = "",
) -> Reading:
    """Return what a complaint in anybody's words says.

    finder: the vocabulary, the built-in one if None. families: those of the notebook, to know models and
    makes by. lexicon: the words of the index, to guess at misspelt ones; without it only the vocabulary's are
    known.
    blinks, family: given beside the text; they count instead of what is read.
    Of a longer text the first LONGEST_COMPLAINT characters are read.
    """
    said = text[:LONGEST_COMPLAINT]
    finder = finder or default_finder()
    spelling = _Spelling(finder, lexicon)
    told = read_blinks(said, spelling.knows)
    tokens = tokenise(said)
    labels = read_labels(said, tokens, families, family=family, knows=spelling.knows)
    guesses = _guesses(tokens, labels, told, spelling)
    corrected = [_corrected(token, guesses.get(token.text)) for token in tokens]
    hits = finder.find(corrected)
    return Reading(
        text=text,
        words=_once(" ".join(token.text.split()) for token in tokens if _is_searched(token, told)),
        concepts=_once(hit.concept for hit in hits),
        blinks=blinks or (told.pattern if told is not None else None),
        family=labels.family,
        make=labels.make,
        model=labels.model,
        device=labels.device or _device(hits, families, finder),
        instead_of={word: found[0].word for word, found in guesses.items()},
        terms=_terms(tokens, told, hits, guesses, spelling) + _label_terms(labels, tokens),
    )


class _Spelling:
    """Know words: those of the index, of the vocabulary, and the small words everybody uses."""

    def __init__(self, finder: ConceptFinder, lexicon: Lexicon | None) -> None:
        self._finder = finder
        self._lexicons = [*([lexicon] if lexicon is not None else []), _phrase_lexicon(finder)]

    def knows(self, word: str) -> bool:
        return self._is_common(word) or self._lexicons[0].knows(word)

    def _is_common(self, word: str) -> bool:
        return is_stop_word(word) or stem(word) in self._finder.stems or is_everyday(word)

    def guesses(self, word: str) -> list[Suggestion]:
        """Return what a word may mean; nothing for one that is known, unless it stands in a single note."""
        if self._is_common(word):
            return []
        best: dict[str, Suggestion] = {}
        for lexicon in self._lexicons[:1] if self._lexicons[0].knows(word) else self._lexicons:
            for guess in lexicon.suggest(word, _MOST_GUESSES):
                best.setdefault(guess.word, guess)
        return sorted(best.values(), key=lambda guess: (guess.distance, -guess.weight))[:_MOST_GUESSES]


@lru_cache(maxsize=8)
def _phrase_lexicon(finder: ConceptFinder) -> Lexicon:
    return Lexicon(dict.fromkeys(finder.words, 1))


def _guesses(
    tokens: Sequence[Token], labels: Labels, told: BlinksRead | None, spelling: _Spelling
) -> dict[str, list[Suggestion]]:
    """Return the guesses for each word that needs any; never for names and counts that were read already."""
    guesses: dict[str, list[Suggestion]] = {}
    for token in tokens:
        if not token.text.isalpha() or labels.covers(token) or not _is_searched(token, told):
            continue
        if token.text not in guesses:
            found = spelling.guesses(token.text)
            if found:
                guesses[token.text] = found
    return guesses


def _corrected(token: Token, guesses: Sequence[Suggestion] | None) -> Token:
    """Return the token as the likeliest guess would stand there."""
    if not guesses:
        return token
    return token._replace(text=guesses[0].word, stem=stem(guesses[0].word))


def _is_searched(token: Token, told: BlinksRead | None) -> bool:
    """Tell whether a word is searched for: one that says something and is no part of a blink count."""
    if not is_content_word(token):
        return False
    return told is None or all(token.end <= start or token.start >= end for start, end in told.spans)


def _terms(
    tokens: Sequence[Token],
    told: BlinksRead | None,
    hits: Sequence[ConceptHit],
    guesses: Mapping[str, Sequence[Suggestion]],
    spelling: _Spelling,
) -> tuple[WeightedTerm, ...]:
    """Return every stem and concept to search, each once with its best weight."""
    best: dict[str, WeightedTerm] = {}

    def add(term: str, weight: float, said: str) -> None:
        if term not in best or best[term].weight < weight:
            best[term] = WeightedTerm(term, weight, said)

    for token in tokens:
        if not _is_searched(token, told):
            continue
        found = guesses.get(token.text, ())
        if not found or spelling.knows(token.text):
            add(token.stem, 1.0, token.text)
        for guess in found:
            add(stem(guess.word), guess.weight, token.text)
    for hit in hits:
        said = tokens[hit.start_token : hit.end_token]
        weight = min([guesses[token.text][0].weight for token in said if token.text in guesses], default=1.0)
        add(CONCEPT_MARK + hit.concept, weight, " ".join(token.text for token in said))
    return tuple(best.values())


def _label_terms(labels: Labels, tokens: Sequence[Token]) -> tuple[WeightedTerm, ...]:
    """Return make and model in the notebook's spelling, where the text names them in another."""
    names = [part.stem for said in labels.named for part in tokenise(said)]
    said = " ".join(token.text for token in tokens if labels.covers(token))
    typed = {token.stem for token in tokens}
    return tuple(WeightedTerm(name, 1.0, said) for name in dict.fromkeys(names) if name not in typed)


def _device(hits: Sequence[ConceptHit], families: Sequence[FamilyNote], finder: ConceptFinder) -> str:
    """Return the device that is named, in the notebook's spelling where there is just one."""
    concept = next((hit.concept for hit in hits if hit.kind == "device"), "")
    if not concept:
        return ""
    spellings = {note.device for note in families if finder.concept_of(note.device, "device") == concept}
    return spellings.pop() if len(spellings) == 1 else concept


def _once(words: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(words))
