"""Read a complaint: an owner's words become search terms, ideas, a blink pattern, a make and a family.

One pass: a text is cut, corrected and matched with the vocabulary here and nowhere later. Complaints that are
asked and past complaints that are learned from go the same way, so that both have the same features.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

from kb.notes.blinks import BlinkPattern
from kb.notes.family import FamilyNote
from search.reading.blink_reading import BlinksRead, read_blinks
from search.reading.concepts import CONCEPT_MARK, ConceptFinder, ConceptHit, default_finder, is_content_word
from search.reading.denial import Scopes, find_scopes
from search.reading.denial import Span as ScopeSpan
from search.reading.lexicon import Lexicon, Suggestion
from search.reading.set_names import SetNames, read_set_names
from search.reading.spelling import Spelling, spelling_for
from search.reading.text import Token, stem, tokenise
from search.reading.word_lists import word_lists

# No owner says more; a text pasted by mistake must not keep a bench waiting. Chosen by us (test_hostile).
LONGEST_COMPLAINT = 4_000  # characters

_OFF_AFTER_VERBS, _OFF_AFTER_OTHERS, _THINGS_AFTER_OF = (
    frozenset(word_lists()["off"][name].split()) for name in ("after_verbs", "after_others", "before_things")
)
_WEIGHT_OF_DOUBT = 0.5  # of what is denied with a "maybe"; chosen by us

Span = tuple[int, int]  # start and end of a stretch of text, in characters, end exclusive


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

    text: as it was given. words: those that say something, lower case, each once. concepts: ideas of the
    trade that the owner affirms. blinks: the pattern with its doubt, None if none was told.
    family, make, model, device: "" if not said and not implied by the family.
    instead_of: words nobody knows, each with what was searched for in its place. not_understood: words nobody
    knows and nothing is near to. taken_for: a word that was said, with the device it was taken for.

    denied, past: spans of the text that say what is not so, and what was once or is another's.
    terms: what is searched, each term once; denied_terms: the same for what is denied.
    tokens: the words that are evidence, each as it was corrected. evidence_text: the text cut to
    LONGEST_COMPLAINT, what is denied or past blanked out; offsets stay as they were.
    device_spans: where a device is named.
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
    not_understood: tuple[str, ...] = ()
    taken_for: Mapping[str, str] = field(default_factory=dict)
    denied: tuple[Span, ...] = ()
    past: tuple[Span, ...] = ()
    terms: tuple[WeightedTerm, ...] = ()
    denied_terms: tuple[WeightedTerm, ...] = ()
    tokens: tuple[Token, ...] = ()
    evidence_text: str = ""
    device_spans: tuple[Span, ...] = ()
    device_terms: frozenset[str] = frozenset()

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
            "not_understood": list(self.not_understood),
            "taken_for": dict(self.taken_for),
            "denied": [list(span) for span in self.denied],
            "past": [list(span) for span in self.past],
        }

    @cached_property
    def without_device(self) -> Reading:
        """The same reading without the words for the device: once that is known, they tell nothing more."""
        if not self.device_spans:
            return self
        return replace(
            self,
            concepts=tuple(name for name in self.concepts if CONCEPT_MARK + name not in self.device_terms),
            terms=tuple(term for term in self.terms if term.term not in self.device_terms),
            tokens=tuple(token for token in self.tokens if not _inside(token, self.device_spans)),
            evidence_text=_blanked(self.evidence_text, self.device_spans),
            device_spans=(),
            device_terms=frozenset(),
        )


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
    corrected = _with_off([_corrected(token, words.guesses.get(token.text)) for token in tokens])
    hits = finder.find(corrected, denied_too=not literal)
    denied, past = _without_symptoms(_ends(scopes.denied), hits, tokens), _ends(scopes.past)
    doubtful = [(span.start, span.end) for span in scopes.denied if span.doubtful]
    kept = [token for token in tokens if not _inside(token, (*denied, *past))]
    kept_hits = [hit for hit in hits if not _inside(tokens[hit.start_token], (*denied, *past))]
    device_hits = [hit for hit in kept_hits if hit.kind == "device"]
    device_spans = tuple(
        (tokens[hit.start_token].start, tokens[hit.end_token - 1].end) for hit in device_hits
    )
    affirmed = words.terms(kept, kept_hits)
    of_fault = words.terms(
        (token for token in kept if not _inside(token, device_spans)),
        (hit for hit in kept_hits if hit.kind != "device"),
    )
    against = words.terms(
        (token for token in tokens if _inside(token, denied)),
        (hit for hit in hits if _inside(tokens[hit.start_token], denied)),
        doubtful,
    )
    known = {term.term for term in affirmed}
    return Reading(
        text=text,
        words=_once(" ".join(token.text.split()) for token in kept if _is_searched(token, told)),
        concepts=_once((*(hit.concept for hit in kept_hits), *yes)),
        blinks=blinks or (told.pattern if told is not None else None),
        family=names.family,
        make=names.make,
        model=names.model,
        device=names.device or _device(device_hits, families, finder),
        instead_of={
            said.text: meant.text for said, meant in zip(tokens, corrected, strict=True) if said != meant
        },
        not_understood=_once(token.text for token in tokens if words.is_strange(token, names)),
        denied=denied,
        past=past,
        terms=_with_answers((*affirmed, *_name_terms(names, tokens)), yes),
        denied_terms=_with_answers([term for term in against if term.term not in known], no),
        tokens=tuple(token for token in corrected if not _inside(token, (*denied, *past))),
        evidence_text=_blanked(said, (*denied, *past)),
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
            weight *= _WEIGHT_OF_DOUBT if _inside(said[0], doubtful) else 1.0
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


def _ends(spans: Iterable[ScopeSpan]) -> tuple[Span, ...]:
    return tuple((span.start, span.end) for span in spans)


def _without_symptoms(
    denied: Iterable[Span], hits: Sequence[ConceptHit], tokens: Sequence[Token]
) -> tuple[Span, ...]:
    """Return denied spans without those inside a symptom of the vocabulary, as in "no red light"."""
    symptoms = [
        (tokens[hit.start_token].start, tokens[hit.end_token - 1].end) for hit in hits if hit.negative
    ]
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


def _with_off(tokens: list[Token]) -> list[Token]:
    """Return the tokens with "off" where "of" was written for it: "switched of by itself"."""
    for place in range(1, len(tokens)):
        if tokens[place].text != "of":
            continue
        before = tokens[place - 1].text
        after = tokens[place + 1].text if place + 1 < len(tokens) else ""
        if before in _OFF_AFTER_VERBS or (before in _OFF_AFTER_OTHERS and after not in _THINGS_AFTER_OF):
            tokens[place] = tokens[place]._replace(text="off", stem="off")
    return tokens


def _is_searched(token: Token, told: BlinksRead | None) -> bool:
    """Tell whether a word is searched for: one that says something and is no part of a blink count."""
    return is_content_word(token) and not (told is not None and _inside(token, told.spans))


def _inside(token: Token, spans: Iterable[Span]) -> bool:
    return any(token.start < end and token.end > start for start, end in spans)


def _blanked(text: str, spans: Iterable[Span]) -> str:
    """Return a text with spaces in place of some spans."""
    for start, end in spans:
        text = f"{text[:start]}{' ' * (end - start)}{text[end:]}"
    return text


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


def _device(hits: Sequence[ConceptHit], families: Sequence[FamilyNote], finder: ConceptFinder) -> str:
    """Return the device that is named, in the notebook's spelling where there is just one."""
    if not hits:
        return ""
    concept = hits[0].concept
    spellings = {note.device for note in families if finder.concept_of(note.device, "device") == concept}
    return spellings.pop() if len(spellings) == 1 else concept


def _once(words: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(words))
