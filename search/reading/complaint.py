"""Read a complaint: an owner's words become search terms, concepts, a blink pattern, a make and a family.

A text is cut, corrected and matched with the vocabulary here and nowhere later. Past complaints are read in
the same way as those asked, so that both have the same features.
"""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import replace
from operator import attrgetter

from kb.notes.blinks import BlinkPattern
from kb.notes.family import FamilyNote
from search.reading.blink_reading import read_blinks
from search.reading.concepts import ConceptFinder, default_finder
from search.reading.denial import Scopes, find_scopes
from search.reading.devices import DeviceRead, other_set
from search.reading.plain_form import CONCEPT_MARK
from search.reading.reading import Reading, WeightedTerm, blanked
from search.reading.set_names import read_set_names
from search.reading.spelling import Lexicon, spelling_for
from search.reading.text import Token, codes_told, inside, once, tokenise
from search.reading.word_lists import word_lists
from search.reading.words_said import WEIGHT_OF_IDEA, WordsSaid

__all__ = ["LONGEST_COMPLAINT", "Reading", "WeightedTerm", "read_complaint"]

# No owner says more, and a text pasted by mistake must not keep a bench waiting. Chosen by us (web/hostile).
LONGEST_COMPLAINT = 4_000  # characters

_START, _WEIGHT = attrgetter("start"), attrgetter("weight")
_TOGETHER = [
    (whole, frozenset(parts.split(", ")))
    for whole, ways in word_lists()["together"].items()
    for parts in ways.split(" | ")
]
_OPPOSITES = word_lists()["opposites"]
# Weight of a concept that an owner said "no" to. Taking for a "no" what the demo's notes do not mention, 1
# fits best; but notes leave out much that owners would have affirmed, so a real "no" says more. Chosen by us.
_WEIGHT_OF_NO = 1.5


def read_complaint(
    text: str, *, finder: ConceptFinder | None = None, families: Sequence[FamilyNote] = (),
    lexicon: Lexicon | None = None, blinks: BlinkPattern | None = None, family: str = "",
    literal: bool = False, yes: Collection[str] = (), no: Collection[str] = (), doubted: str = "",
) -> Reading:  # fmt: skip
    """Return what a complaint in anybody's words says.

    Only the first LONGEST_COMPLAINT characters are read. finder: None for the built-in vocabulary. families:
    to know models and makes by; a past case needs none. lexicon: the words of the index, to correct misspelt
    ones. blinks, family: given beside the text; they count instead of what is read. literal: take every word
    as affirmed. yes, no: concepts that the owner affirmed and denied when asked. doubted: a device not to
    read, as signs speak against it.
    """
    said = text[:LONGEST_COMPLAINT]
    finder = finder or default_finder()
    spelling = spelling_for(finder, lexicon)
    codes = codes_told(said)
    scopes = Scopes() if literal else find_scopes(said, spelling.meant, codes)
    of_codes = [(code.start, code.end) for code in codes]
    told = read_blinks(said, spelling.guesses, (*scopes.denied, *scopes.past, *of_codes))
    tokens = sorted((*codes, *(each for each in tokenise(said) if not inside(each, of_codes))), key=_START)
    names = read_set_names(said, tokens, families, family=family, knows=spelling.knows)
    words = WordsSaid(tokens, told.spans if told else (), names.spans, spelling, finder)
    denied = () if literal else words.denied(scopes)
    now = [hit for hit in words.hits if not words.tells(hit, (*denied, *scopes.past))]
    device = DeviceRead(names.device) if names.device else words.device(now, scopes, families, doubted)
    concept = finder.device(device.name)
    other, apart = other_set(now if concept else (), words.corrected, concept, named=bool(names.model))
    ours = told and told.spans[0][0] not in range(*apart)
    denied = tuple(span for span in denied if span[0] not in range(*apart))
    past = tuple(sorted({*scopes.past, apart} - {(0, 0)}))
    words.keep_what_fits(device.name, denied, range(*device.use))
    reading = Reading(
        text=text, blinks=blinks or (told.pattern if told and ours else None), family=names.family,
        make=names.make, model=names.model, device=device.name, device_said=device.said,
        device_by=device.by, other_set=other,
        dangers=words.dangers(denied, past, scopes.others), denied=denied, past=past,
    )  # fmt: skip
    return _with_evidence(reading, words, codes, yes, no)


def _with_evidence(
    reading: Reading, words: WordsSaid, codes: Sequence[Token], yes: Collection[str], no: Collection[str]
) -> Reading:
    """Add to a reading what its words tell of the fault, now that set, denials and past are known."""
    silent = (*reading.denied, *reading.past)
    unsaid = (*silent, *words.in_order)
    hits = [hit for hit in words.hits if not words.tells(hit, silent)]
    found = [hit.concept for hit in hits]
    shown = once(code.text for code in codes if not inside(code, silent))
    meant = [whole for whole, parts in _TOGETHER if parts <= {*found, reading.device} and whole not in found]
    meant += ["error code"] if shown and "error code" not in found else []
    affirmed = words.terms(lambda token: not inside(token, silent))
    device_spans = tuple(words.span(hit) for hit in hits if hit.kind == "device")
    of_fault = words.terms(lambda token: not inside(token, (*silent, *device_spans)))
    against = list(words.terms(lambda token: inside(token, reading.denied)))
    if reading.blinks is None:
        opposed = (other for idea, other in _OPPOSITES.items() if idea in found)
        against.extend(WeightedTerm(CONCEPT_MARK + other, 1.0, other) for other in opposed)
    against.extend(words.ruled_out(reading.device, reading.past))
    known = {term.term for term in affirmed}
    best = {term.term: term for term in sorted(against, key=_WEIGHT) if term.term not in known}
    return replace(
        reading,
        words=once(" ".join(token.text.split()) for token in words.searched if not inside(token, silent)),
        concepts=once(name for name in (*found, *meant, *yes) if name not in no),
        instead_of=words.instead_of,
        codes=shown,
        not_understood=once(token.text for token in words.searched if token.text in words.strange),
        terms=_with_answers(affirmed, (*meant, *yes), no),
        denied_terms=_with_answers([*best.values()], no, yes, weight=_WEIGHT_OF_NO),
        tokens=tuple(token for token in words.corrected if not inside(token, unsaid)),
        evidence_text=blanked(reading.text[:LONGEST_COMPLAINT], unsaid),
        device_spans=device_spans,
        device_terms=frozenset(known - {term.term for term in of_fault}),
    )


def _with_answers(
    terms: Sequence[WeightedTerm], added: Iterable[str], removed: Iterable[str], *, weight: float = 1.0
) -> tuple[WeightedTerm, ...]:
    """Return terms with the concepts that an owner's answers add, and without those they remove."""
    new = {
        CONCEPT_MARK + name: WeightedTerm(CONCEPT_MARK + name, weight * WEIGHT_OF_IDEA, name)
        for name in added
    }
    gone = {*new, *(CONCEPT_MARK + name for name in removed)}
    return (*(term for term in terms if term.term not in gone), *new.values())
