"""Read a complaint: an owner's words become search terms, ideas, a blink pattern, a make and a family.

One pass: a text is cut, corrected and matched with the vocabulary here and nowhere later. Complaints that are
asked and past complaints that are learned from go the same way, so that both have the same features.
"""

from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from dataclasses import replace
from operator import attrgetter

from kb.notes.blinks import BlinkPattern
from kb.notes.family import FamilyNote
from search.reading.asides import MAY_END, dangers_told, has_ended, is_praised, places_of
from search.reading.blink_reading import read_blinks
from search.reading.concepts import ConceptFinder, ConceptHit, default_finder
from search.reading.denial import Scopes, find_scopes
from search.reading.devices import DeviceRead, device_of, other_set
from search.reading.plain_form import CONCEPT_MARK, says_something
from search.reading.reading import Reading, WeightedTerm, blanked
from search.reading.set_names import read_set_names
from search.reading.spelling import Lexicon, Spelling, spelling_for, with_off
from search.reading.text import Span, Token, codes_told, inside, is_stop_word, stem, tokenise
from search.reading.word_lists import word_lists, word_sets

__all__ = ["LONGEST_COMPLAINT", "Reading", "WeightedTerm", "read_complaint"]

# No owner says more; a text pasted by mistake must not keep a bench waiting. Chosen by us (web/hostile).
LONGEST_COMPLAINT = 4_000  # characters

_START, _WEIGHT = attrgetter("start"), attrgetter("weight")
_WORKS = "works"  # the kind of what is said to be in order: "plate turns"
_CLEARED_KINDS = frozenset(("part", "board"))  # "the fuse is good" speaks against the fuse
_TOGETHER = [
    (whole, frozenset(parts.split(", ")))
    for whole, ways in word_lists()["together"].items()
    for parts in ways.split(" | ")
]
_OPPOSITES = word_lists()["opposites"]
_BY_ITSELF = word_lists()["by_itself"]["concepts"].split(", ")
_NO_FAILURES = frozenset(word_lists()["in_order"]["failures"].split(", "))
_USUAL = frozenset(word_lists()["in_order"]["usual"].split(", "))
_SURE = word_sets("in_order")["sure"]
_DOERS = word_sets("by_itself")["doers"]
# Of what an owner answers "no" to. If what the demo's notes do not mention is taken for a "no", 1 fits best;
# but notes leave out much that owners would have affirmed, so a real "no" tells more. Chosen by us.
_WEIGHT_OF_NO = 1.5
# Of a failure of what is said to work: "the ordinary channels are fine" leaves other channels. Chosen by us.
_WEIGHT_OF_PRAISE = 0.5
# Of an idea beside a word: the idea says what is wrong, a word perhaps only where.
_WEIGHT_OF_IDEA = 1.75


def read_complaint(
    text: str, *, finder: ConceptFinder | None = None, families: Sequence[FamilyNote] = (),
    lexicon: Lexicon | None = None, blinks: BlinkPattern | None = None, family: str = "",
    literal: bool = False, yes: Collection[str] = (), no: Collection[str] = (), doubted: str = "",
) -> Reading:  # fmt: skip
    """Return what a complaint in anybody's words says. Past complaints are read the same way.

    Of a longer text the first LONGEST_COMPLAINT characters are read. finder: the built-in vocabulary if None.
    families: to know models and makes by; a past case needs none. lexicon: the words of the index, for
    misspelt ones. blinks, family: given beside the text; they count instead of what is read. literal: take
    every word as affirmed. yes, no: concepts the owner affirmed and denied when asked. doubted: a device
    that signs speak against, whatever names it.
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
    words = _Words(tokens, told.spans if told else (), names.spans, spelling, finder)
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
        text=text,
        blinks=blinks or (told.pattern if told and ours else None),
        family=names.family,
        make=names.make,
        model=names.model,
        device=device.name,
        device_said=device.said,
        other_set=other,
        device_by=device.by,
        dangers=words.dangers(denied, past, scopes.others),
        denied=denied,
        past=past,
    )
    return _with_evidence(reading, words, codes, yes, no)


def _with_evidence(
    reading: Reading, words: "_Words", codes: Sequence[Token], yes: Collection[str], no: Collection[str]
) -> Reading:
    """Return a reading with what its words tell of the fault, now that set, denials and past are known."""
    silent = (*reading.denied, *reading.past)
    unsaid = (*silent, *words.in_order)
    hits = [hit for hit in words.hits if not words.tells(hit, silent)]
    found = [hit.concept for hit in hits]
    shown = _once(code.text for code in codes if not inside(code, silent))
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
        words=_once(" ".join(token.text.split()) for token in words.searched if not inside(token, silent)),
        concepts=_once(name for name in (*found, *meant, *yes) if name not in no),
        instead_of=words.instead_of,
        codes=shown,
        not_understood=_once(token.text for token in words.searched if token.text in words.strange),
        terms=_with_answers(affirmed, (*meant, *yes), no),
        denied_terms=_with_answers([*best.values()], no, yes, weight=_WEIGHT_OF_NO),
        tokens=tuple(token for token in words.corrected if not inside(token, unsaid)),
        evidence_text=blanked(reading.text[:LONGEST_COMPLAINT], unsaid),
        device_spans=device_spans,
        device_terms=frozenset(known - {term.term for term in of_fault}),
    )


class _Words:
    """Hold the words of a text: which are searched, what each may mean, and the ideas found in them."""

    def __init__(
        self,
        tokens: Sequence[Token],
        counts: Sequence[Span],
        names: Sequence[Span],
        spelling: Spelling,
        finder: ConceptFinder,
    ) -> None:
        """Correct the words and find their ideas; counts of blinks, names and codes stay as they are."""
        self._tokens, self._finder = tokens, finder
        searched = [
            token for token in tokens if says_something(token.text, token.stem) and not inside(token, counts)
        ]
        self._guesses = {
            token.text: spelling.guesses(token.text) for token in searched if not inside(token, names)
        }
        strange = (word for word, near in self._guesses.items() if word.isalpha() and not near)
        self.strange = {word for word in strange if not spelling.knows(word)}
        self.corrected = with_off([self._corrected(token) for token in tokens])
        pairs = zip(tokens, self.corrected, strict=True)
        self.instead_of = {said.text: meant.text for said, meant in pairs if said is not meant}
        harm = (ConceptHit(idea, "symptom", *places) for idea, places in dangers_told(self.corrected))
        self.hits = [*finder.find(self.corrected, denied_too=True), *harm]
        ideas = [range(hit.start_token, hit.end_token) for hit in self.hits if hit.kind != _WORKS]
        praised = [(at, self.corrected[at.start : at.stop]) for at in places_of("in_order", self.corrected)]
        self._praised = [(at, words, finder.failures(words) - _NO_FAILURES) for at, words in praised]
        told = (
            at
            for at, _, failures in self._praised
            if failures or _SURE.intersection(token.text for token in self.corrected[at.stop :][:1])
        )
        fine = sorted(set().union(*told).difference(*ideas))
        self.in_order = tuple((tokens[place].start, tokens[place].end) for place in fine)
        self.searched = [
            token
            for token in searched
            if not inside(token, self.in_order) and not is_stop_word(self.instead_of.get(token.text, ""))
        ]

    def _corrected(self, token: Token) -> Token:
        guesses = self._guesses.get(token.text)
        return token._replace(text=guesses[0].word, stem=stem(guesses[0].word)) if guesses else token

    def span(self, hit: ConceptHit) -> Span:
        """Return where an idea stands in the text."""
        return self._tokens[hit.start_token].start, self._tokens[hit.end_token - 1].end

    def tells(self, hit: ConceptHit, spans: Iterable[Span]) -> bool:
        """Tell whether an idea stands in some spans."""
        return inside(self._deciding(hit), spans)

    def _deciding(self, hit: ConceptHit) -> Token:
        """Return the word that tells whether it is denied: in "isn't the remote" the last, not the cue."""
        return self._tokens[hit.end_token - 1 if hit.negative else hit.start_token]

    def denied(self, scopes: Scopes) -> tuple[Span, ...]:
        """Return the spans denied or said to be good, without those inside a symptom ("no light")."""
        symptoms = [self.span(hit) for hit in self.hits if hit.negative]
        denied = [
            span
            for span in scopes.denied
            if span in scopes.named
            or not any(start < span[0] < end or span[0] < start < span[1] for start, end in symptoms)
        ]
        faults = {hit.start_token for hit in self.hits if hit.kind == "symptom"}
        # The part may be cleared, but not the motor in "motor noise"; the noise may be as it always was.
        cleared = (
            hit.concept in _USUAL or (hit.kind in _CLEARED_KINDS and hit.end_token not in faults)
            for hit in self.hits
        )
        praised = [
            self.span(hit)
            for hit, may_be in zip(self.hits, cleared, strict=True)
            if hit.as_it_should or (may_be and is_praised(self._tokens, hit.end_token))
            if not self.tells(hit, denied)
        ]
        return tuple(sorted({*denied, *praised}))

    def device(
        self, now: Sequence[ConceptHit], scopes: Scopes, families: Sequence[FamilyNote], doubted: str
    ) -> DeviceRead:
        """Return the device that is told of. now: the ideas that are neither denied nor past."""
        own = {*scopes.past, *scopes.denied}.difference(scopes.named)  # "no smell in the hob"
        before = [hit for hit in self.hits if hit.kind == "device" and self.tells(hit, own)]
        return device_of(now, before, self.corrected, families, self._finder, doubted)

    def dangers(
        self, denied: Sequence[Span], past: Sequence[Span], others: Sequence[Span]
    ) -> tuple[str, ...]:
        """Return the ideas with hazards that are past; those of others only where nothing is wrong today.

        Past is also what is denied as something that has ended: "can't smell gas any more".
        """
        # "My brother's caught fire, ours is just noisy"
        faulty = any(hit.kind == "symptom" and not self.tells(hit, (*denied, *past)) for hit in self.hits)
        warned_of = set(past).difference(others if faulty else ())
        ended = [span for span in denied if has_ended(span, self._tokens)]
        told = [hit.concept for hit in self.hits if self.tells(hit, warned_of)]
        told += [hit.concept for hit in self.hits if hit.concept in MAY_END and self.tells(hit, ended)]
        return _once(name for name in told if name in self._finder.hazards)

    def ruled_out(self, device: str, past: Sequence[Span]) -> Iterator[WeightedTerm]:
        """Yield the failures that what is said to be in order speaks against: "the fan runs fine"."""
        ours = self._finder.device(device)
        others = {hit.start_token for hit in self.hits if hit.kind == "device" and hit.concept != ours}
        for places, words, failures in self._praised:
            if others.isdisjoint(places) and not any(inside(word, past) for word in words):
                said = " ".join(word.text for word in words)
                for idea in sorted(failures):
                    yield WeightedTerm(CONCEPT_MARK + idea, _WEIGHT_OF_PRAISE, said)

    def keep_what_fits(self, device: str, denied: Sequence[Span], use: range) -> None:
        """Drop ideas that a device cannot have, that tell its use ("we boil water in it"), or are negated."""
        self.hits = [
            hit
            for hit in (each for each in self.hits if each.start_token not in use)
            if self._finder.fits(hit, device)
            and not (hit.concept in _BY_ITSELF and self._tokens[max(hit.start_token - 1, 0)].text in _DOERS)
            and (
                not hit.after_not
                or hit.concept in self._finder.hazards  # "never any smoke until today"
                or inside(self._tokens[hit.start_token], denied)
            )
        ]

    def terms(self, takes: Callable[[Token], bool]) -> tuple[WeightedTerm, ...]:
        """Return the stems and concepts of the words it takes, each once with its best weight."""
        found: list[WeightedTerm] = []
        for token in filter(takes, self.searched):
            forms = [(stem(guess.word), guess.weight) for guess in self._guesses.get(token.text, ())]
            found.extend(WeightedTerm(*form, token.text) for form in forms or [(token.stem, 1.0)])
        for hit in self.hits:
            if takes(self._deciding(hit)):
                said = self._tokens[hit.start_token : hit.end_token]
                weights = [near[0].weight for token in said if (near := self._guesses.get(token.text))]
                text = " ".join(token.text for token in said)
                weight = _WEIGHT_OF_IDEA * min(weights, default=1.0)
                found.append(WeightedTerm(CONCEPT_MARK + hit.concept, weight, text))
        best: dict[str, WeightedTerm] = {}
        for term in found:
            best[term.term] = max(best.get(term.term, term), term, key=_WEIGHT)
        return tuple(best.values())


def _with_answers(
    terms: Sequence[WeightedTerm], added: Iterable[str], removed: Iterable[str], *, weight: float = 1.0
) -> tuple[WeightedTerm, ...]:
    """Return terms with the concepts that an owner's answers add, without those they take away."""
    new = {
        CONCEPT_MARK + name: WeightedTerm(CONCEPT_MARK + name, weight * _WEIGHT_OF_IDEA, name)
        for name in added
    }
    gone = {*new, *(CONCEPT_MARK + name for name in removed)}
    return (*(term for term in terms if term.term not in gone), *new.values())


def _once(words: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(words))
