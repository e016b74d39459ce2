"""The words of a complaint: which are searched, what each may mean, and the concepts found in them."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from operator import attrgetter

from kb.notes.family import FamilyNote
from search.reading.asides import MAY_END, dangers_told, has_ended, is_praised, places_of
from search.reading.concepts import ConceptFinder, ConceptHit
from search.reading.denial import Scopes
from search.reading.devices import DeviceRead, device_of
from search.reading.plain_form import CONCEPT_MARK, says_something
from search.reading.reading import WeightedTerm
from search.reading.spelling import Spelling, with_off
from search.reading.text import Span, Token, inside, is_stop_word, once, stem
from search.reading.word_lists import word_lists, word_sets

_WORKS = "works"  # kind of phrases that say something works: "plate turns"
_CLEARED_KINDS = frozenset(("part", "board"))  # "the fuse is good" speaks against the fuse
_COVERS = word_lists()["covers"]
_BY_ITSELF = word_lists()["by_itself"]["concepts"].split(", ")
_NO_FAILURES = frozenset(word_lists()["in_order"]["failures"].split(", "))
_USUAL = frozenset(word_lists()["in_order"]["usual"].split(", "))
_SURE = word_sets("in_order")["sure"]
_DOERS = word_sets("by_itself")["doers"]
# Weight against a failure of what is said to work: "the ordinary channels are fine" leaves others. Chosen by
# us.
_WEIGHT_OF_PRAISE = 0.5
# Weight of a concept beside 1 for a word: a concept says what is wrong, a word perhaps only where.
WEIGHT_OF_IDEA = 1.75


class WordsSaid:
    """Hold the words of a text: which are searched, what each may mean, and the concepts found in them."""

    def __init__(
        self,
        tokens: Sequence[Token],
        counts: Sequence[Span],
        names: Sequence[Span],
        spelling: Spelling,
        finder: ConceptFinder,
    ) -> None:
        """Correct the words and find concepts. Counts of blinks, names and codes stay as they are."""
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
        harm = [ConceptHit(idea, "symptom", *places) for idea, places in dangers_told(self.corrected)]
        found = finder.find(self.corrected, denied_too=True)
        self.hits = [*(hit for hit in found if not _is_covered(hit, harm)), *harm]
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
        """Return the span of a concept in the text."""
        return self._tokens[hit.start_token].start, self._tokens[hit.end_token - 1].end

    def tells(self, hit: ConceptHit, spans: Iterable[Span]) -> bool:
        """Tell whether a concept stands in one of some spans."""
        return inside(self._deciding(hit), spans)

    def _deciding(self, hit: ConceptHit) -> Token:
        """Return the word of a concept that must be denied to deny it: in "isn't the remote" the last."""
        return self._tokens[hit.end_token - 1 if hit.negative else hit.start_token]

    def denied(self, scopes: Scopes) -> tuple[Span, ...]:
        """Return the spans that are denied or said to be good, except inside a symptom ("no light")."""
        symptoms = [self.span(hit) for hit in self.hits if hit.negative]
        denied = [
            span
            for span in scopes.denied
            if span in scopes.named
            or not any(start < span[0] < end or span[0] < start < span[1] for start, end in symptoms)
        ]
        faults = {hit.start_token for hit in self.hits if hit.kind == "symptom"}
        # A part may be cleared, but "motor" in "motor noise" is none; the noise may be as it always was.
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
        """Return the device that is told of. now: concepts that are neither denied nor past."""
        own = {*scopes.past, *scopes.denied}.difference(scopes.named)  # "no smell in the hob"
        before = [hit for hit in self.hits if hit.kind == "device" and self.tells(hit, own)]
        return device_of(now, before, self.corrected, families, self._finder, doubted)

    def dangers(
        self, denied: Sequence[Span], past: Sequence[Span], others: Sequence[Span]
    ) -> tuple[str, ...]:
        """Return concepts with hazards that are past; those of another set only if nothing is wrong today.

        What is denied as ended is past, too: "can't smell gas any more".
        """
        # "My brother's caught fire, ours is just noisy"
        faulty = any(hit.kind == "symptom" and not self.tells(hit, (*denied, *past)) for hit in self.hits)
        warned_of = set(past).difference(others if faulty else ())
        ended = [span for span in denied if has_ended(span, self._tokens)]
        told = [hit.concept for hit in self.hits if self.tells(hit, warned_of)]
        told += [hit.concept for hit in self.hits if hit.concept in MAY_END and self.tells(hit, ended)]
        return once(name for name in told if name in self._finder.hazards)

    def ruled_out(self, device: str, past: Sequence[Span]) -> Iterator[WeightedTerm]:
        """Yield the failures ruled out by what is said to be in order: "the fan runs fine"."""
        ours = self._finder.device(device)
        others = {hit.start_token for hit in self.hits if hit.kind == "device" and hit.concept != ours}
        for places, words, failures in self._praised:
            if others.isdisjoint(places) and not any(inside(word, past) for word in words):
                said = " ".join(word.text for word in words)
                for idea in sorted(failures):
                    yield WeightedTerm(CONCEPT_MARK + idea, _WEIGHT_OF_PRAISE, said)

    def keep_what_fits(self, device: str, denied: Sequence[Span], use: range) -> None:
        """Drop concepts that a device cannot have, tell its use ("we boil water in it"), or are negated."""
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
        """Return the terms of the words for which takes() is True, each once with its best weight.

        Of what works only the concept counts: in "it does not trip" the word "trip" tells of no fault.
        """
        found: list[WeightedTerm] = []
        works = [self.span(hit) for hit in self.hits if hit.kind == _WORKS]
        for token in filter(takes, (each for each in self.searched if not inside(each, works))):
            forms = [(stem(guess.word), guess.weight) for guess in self._guesses.get(token.text, ())]
            found.extend(WeightedTerm(*form, token.text) for form in forms or [(token.stem, 1.0)])
        for hit in self.hits:
            if takes(self._deciding(hit)):
                said = self._tokens[hit.start_token : hit.end_token]
                weights = [near[0].weight for token in said if (near := self._guesses.get(token.text))]
                text = " ".join(token.text for token in said)
                weight = WEIGHT_OF_IDEA * min(weights, default=1.0)
                found.append(WeightedTerm(CONCEPT_MARK + hit.concept, weight, text))
        best: dict[str, WeightedTerm] = {}
        for term in found:
            best[term.term] = max(best.get(term.term, term), term, key=attrgetter("weight"))
        return tuple(best.values())


def _is_covered(hit: ConceptHit, harm: Sequence[ConceptHit]) -> bool:
    """Tell whether words that seem to tell a concept tell of a danger: a leaking battery leaks no water."""
    return any(
        _COVERS.get(each.concept) == hit.concept
        and each.start_token < hit.end_token
        and hit.start_token < each.end_token
        for each in harm
    )
