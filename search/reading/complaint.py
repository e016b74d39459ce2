"""Read a complaint: an owner's words become search terms, ideas, a blink pattern, a make and a family.

One pass: a text is cut, corrected and matched with the vocabulary here and nowhere later. Complaints that are
asked and past complaints that are learned from go the same way, so that both have the same features.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from kb.notes.blinks import BlinkPattern
from kb.notes.family import FamilyNote
from search.reading.blink_reading import BlinksRead, read_blinks
from search.reading.concepts import CONCEPT_MARK, ConceptFinder, ConceptHit, default_finder, is_content_word
from search.reading.denial import Scopes, find_scopes
from search.reading.denial import Span as ScopeSpan
from search.reading.devices import device_of, is_praised
from search.reading.lexicon import Lexicon, Suggestion
from search.reading.reading import Reading, Span, WeightedTerm, blanked, inside, joined
from search.reading.set_names import SetNames, read_set_names
from search.reading.spelling import Spelling, spelling_for, with_off
from search.reading.text import Token, stem, tokenise

__all__ = ["LONGEST_COMPLAINT", "Reading", "WeightedTerm", "read_complaint"]

# No owner says more; a text pasted by mistake must not keep a bench waiting. Chosen by us (test_hostile).
LONGEST_COMPLAINT = 4_000  # characters

_WEIGHT_OF_DOUBT = 0.5  # of what is denied with a "maybe"; chosen by us


def read_complaint(
    text: str,
    *,
    finder: ConceptFinder | None = None,
    families: Sequence[FamilyNote] = (),
    lexicon: Lexicon | None = None,
    blinks: BlinkPattern | None = None,
    family: str = "",
    literal: bool = False,
    yes: Iterable[str] = (),
    no: Iterable[str] = (),
) -> Reading:
    """Return what a complaint in anybody's words says. Past complaints are read the same way.

    Args:
        text: the complaint; of a longer one the first LONGEST_COMPLAINT characters are read.
        finder: the vocabulary, the built-in one if None.
        families: those of the notebook, to know models and makes by; none are needed for a past case.
        lexicon: the words of the index, to guess at misspelt ones; without it the vocabulary's alone.
        blinks, family: given beside the text; they count instead of what is read.
        literal: take every word as affirmed, nothing as denied or past.
        yes, no: concepts the owner affirmed and denied when asked.
    """
    said = text[:LONGEST_COMPLAINT]
    finder = finder or default_finder()
    spelling = spelling_for(finder, lexicon)
    scopes = Scopes() if literal else find_scopes(said)
    told = read_blinks(said, spelling.knows, (*_ends(scopes.denied), *_ends(scopes.past)))
    tokens = tokenise(said)
    names = read_set_names(said, tokens, families, family=family, knows=spelling.knows)
    words = _Words(tokens, told, _guesses(tokens, names, told, spelling), spelling)
    corrected = with_off([_corrected(token, words.guesses.get(token.text)) for token in tokens])
    hits = finder.find(corrected, denied_too=not literal)
    cleared = (
        []
        if literal
        else [hit for hit in hits if hit.kind in ("part", "board") and is_praised(hit, tokens, said)]
    )
    denied = (
        *_without_symptoms(_ends(scopes.denied), hits, tokens),
        *(_span(hit, tokens) for hit in cleared),
    )
    denied, past = joined(denied), _ends(scopes.past)
    doubtful = [(span.start, span.end) for span in scopes.denied if span.doubtful]
    kept = [token for token in tokens if not inside(token, (*denied, *past))]
    kept_hits = [hit for hit in hits if not inside(tokens[hit.start_token], (*denied, *past))]
    device_hits = [hit for hit in kept_hits if hit.kind == "device"]
    device_spans = tuple(
        (tokens[hit.start_token].start, tokens[hit.end_token - 1].end) for hit in device_hits
    )
    affirmed = words.terms(kept, kept_hits)
    of_fault = words.terms(
        (token for token in kept if not inside(token, device_spans)),
        (hit for hit in kept_hits if hit.kind != "device"),
    )
    against = words.terms(
        (token for token in tokens if inside(token, denied)),
        (hit for hit in hits if inside(tokens[hit.start_token], denied)),
        doubtful,
    )
    known = {term.term for term in affirmed}
    device = device_of(device_hits, corrected, said, families, finder)
    return Reading(
        text=text,
        words=_once(" ".join(token.text.split()) for token in kept if _is_searched(token, told)),
        concepts=_once((*(hit.concept for hit in kept_hits), *yes)),
        blinks=blinks or (told.pattern if told is not None else None),
        family=names.family,
        make=names.make,
        model=names.model,
        device=names.device or device.name,
        taken_for={device.said: device.name} if not names.device and device.is_taken else {},
        instead_of={
            said.text: meant.text for said, meant in zip(tokens, corrected, strict=True) if said != meant
        },
        not_understood=_once(token.text for token in tokens if words.is_strange(token, names)),
        denied=denied,
        past=past,
        terms=_with_answers((*affirmed, *_name_terms(names, tokens)), yes),
        denied_terms=_with_answers([term for term in against if term.term not in known], no),
        tokens=tuple(token for token in corrected if not inside(token, (*denied, *past))),
        evidence_text=blanked(said, (*denied, *past)),
        device_spans=device_spans,
        device_terms=frozenset(known - {term.term for term in of_fault}),
    )


@dataclass(frozen=True)
class _Words:
    """Hold the words of a text with what each may mean."""

    tokens: Sequence[Token]
    told: BlinksRead | None
    guesses: Mapping[str, Sequence[Suggestion]]
    spelling: Spelling

    def terms(
        self, tokens: Iterable[Token], hits: Iterable[ConceptHit], doubtful: Sequence[Span] = ()
    ) -> tuple[WeightedTerm, ...]:
        """Return the stems and concepts of some words, each once with its best weight."""
        best: dict[str, WeightedTerm] = {}

        def add(term: str, weight: float, said: Sequence[Token]) -> None:
            weight *= _WEIGHT_OF_DOUBT if inside(said[0], doubtful) else 1.0
            if term not in best or best[term].weight < weight:
                best[term] = WeightedTerm(term, weight, " ".join(token.text for token in said))

        for token in tokens:
            if not _is_searched(token, self.told):
                continue
            found = self.guesses.get(token.text, ())
            if not found or self.spelling.knows(token.text):
                add(token.stem, 1.0, [token])
            for guess in found:
                add(stem(guess.word), guess.weight, [token])
        for hit in hits:
            said = self.tokens[hit.start_token : hit.end_token]
            weights = [self.guesses[token.text][0].weight for token in said if token.text in self.guesses]
            add(CONCEPT_MARK + hit.concept, min(weights, default=1.0), said)
        return tuple(best.values())

    def is_strange(self, token: Token, names: SetNames) -> bool:
        """Tell whether nobody knows a word and nothing is near to it."""
        return (
            token.text.isalpha()
            and token.text not in self.guesses
            and _is_searched(token, self.told)
            and not names.covers(token)
            and not self.spelling.knows(token.text)
        )


def _span(hit: ConceptHit, tokens: Sequence[Token]) -> Span:
    return tokens[hit.start_token].start, tokens[hit.end_token - 1].end


def _ends(spans: Iterable[ScopeSpan]) -> tuple[Span, ...]:
    return tuple((span.start, span.end) for span in spans)


def _without_symptoms(
    denied: Iterable[Span], hits: Sequence[ConceptHit], tokens: Sequence[Token]
) -> tuple[Span, ...]:
    """Return denied spans without those inside a symptom of the vocabulary, as in "no red light"."""
    symptoms = [_span(hit, tokens) for hit in hits if hit.negative]
    return tuple(
        span
        for span in denied
        if not any(start < span[0] < end or span[0] < start < span[1] for start, end in symptoms)
    )


def _guesses(
    tokens: Sequence[Token], names: SetNames, told: BlinksRead | None, spelling: Spelling
) -> dict[str, Sequence[Suggestion]]:
    """Return the guesses for each word that needs any; never for names and counts that were read already."""
    guesses: dict[str, Sequence[Suggestion]] = {}
    for token in tokens:
        if token.text in guesses or not token.text.isalpha():
            continue
        if not names.covers(token) and _is_searched(token, told):
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
    return is_content_word(token) and not (told is not None and inside(token, told.spans))


def _with_answers(terms: Sequence[WeightedTerm], concepts: Iterable[str]) -> tuple[WeightedTerm, ...]:
    """Return terms with the concepts an owner answered to a question."""
    answered = {CONCEPT_MARK + name: WeightedTerm(CONCEPT_MARK + name, 1.0, name) for name in concepts}
    return (*(term for term in terms if term.term not in answered), *answered.values())


def _name_terms(names: SetNames, tokens: Sequence[Token]) -> tuple[WeightedTerm, ...]:
    """Return make and model in the notebook's spelling, where the text names them in another."""
    spelled = [part.stem for said in names.named for part in tokenise(said)]
    said = " ".join(token.text for token in tokens if names.covers(token))
    typed = {token.stem for token in tokens}
    return tuple(WeightedTerm(name, 1.0, said) for name in dict.fromkeys(spelled) if name not in typed)


def _once(words: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(words))
