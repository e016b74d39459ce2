"""Find concepts of the trade in a text: "won't turn on", "stone dead" and "no life" are all "no power".

Phrases come from kb/terms.toml and a shop's own terms. Text and phrases are first brought to a plain form
(stems, one sign for every "not", without small words), then matched in one pass, the longest phrase first.
"""

import re
from collections.abc import Sequence
from functools import lru_cache, partial
from itertools import chain
from typing import Any, NamedTuple

from kb.terms import Vocabulary, load_vocabulary
from search.reading.asides import compared_places
from search.reading.plain_form import LAMPS, NOT, SAME_WORDS, STEPPED_OVER, Sense, plain_form
from search.reading.text import Token, stem, tokenise

_SLOT = re.compile(r"\[(?P<kind>[\w ]+)\]")  # "[part] open": beside any part
_NEGATED_KINDS = frozenset(("symptom", "mechanism"))  # "not dead" denies one; "no fuse" tells of a fuse
_THING_KINDS = frozenset(("part", "board"))
_FIGURE = "figure"  # of speech; hides what stands in it: there is no spark in a "bright spark"


class ConceptHit(NamedTuple):
    """Hold one concept found in a text.

    start_token, end_token: its place in the token list, end exclusive. negative: a "not" is part of it, as in
    "no picture". after_not: a "not" stands right before it, as in "not dead". as_it_should: the device is
    then as it should be, as in "the fridge is not warm".
    """

    concept: str
    kind: str
    start_token: int
    end_token: int
    negative: bool = False
    after_not: bool = False
    as_it_should: bool = False


_OF_THE_HOUSE = frozenset(("trips the breaker",))  # fuse and switch in it belong to the house, not the set


class _Entry(NamedTuple):
    concept: str
    kind: str
    negative: bool  # the phrase begins with a "not"
    hazard: bool = False  # of several words; counts before longer phrases: "smell gas"


class _Match(NamedTuple):
    start: int
    end: int
    entry: _Entry
    gap: int  # place of a name within it, which may be found by itself; -1 for none

    def places(self) -> Sequence[int]:
        within = range(self.start, self.end)
        return within if self.gap < 0 else [place for place in within if place != self.gap]


_AS_IT_SHOULD = -2  # as `gap`: a "not" stands between a device and what it should not be

_match = partial(tuple.__new__, _Match)  # in half the time that _Match() takes
_Beside = tuple[list[str], _Entry]  # words with a meaning right beside a thing: "[part] open"


_Phrases = dict[str | None, Any]  # by form: what may follow; None: the entry of the phrase that ends here


class ConceptFinder:
    """Find the phrases of a vocabulary in texts, in nearly linear time.

    A phrase in two groups belongs to the first. A group whose name is a phrase of an earlier group of its
    kind joins that group, so that a shop's "no backlight" adds to "dark picture". A phrase of small words
    alone is never found. Cautions are left out.
    """

    def __init__(self, vocabulary: Vocabulary) -> None:
        self.vocabulary = vocabulary
        self._root: _Phrases = {}
        # By (kind of thing, whether the words follow it, the word next to it).
        self._beside: dict[tuple[str, bool, str], list[_Beside]] = {}
        self._does = {term.concept: term.does for term in vocabulary.of_kind("device")}
        self.devices = {term.concept: term.devices for term in vocabulary.terms if term.devices}
        self.hazards = frozenset(term.concept for term in vocabulary.of_kind("symptom") if term.cautions)
        words: set[str] = {word for word in SAME_WORDS if word.isalpha()}
        for term in vocabulary.terms:
            if term.kind == "caution":
                continue  # never searched: "mains" is in every other note
            concept = self.concept_of(term.concept, term.kind) or term.concept
            for phrase in (term.concept, *term.phrases):
                slot = _SLOT.search(phrase) if "[" in phrase else None
                tokens = tokenise(_SLOT.sub(" ", phrase) if slot else phrase)
                words.update(token.text for token in tokens if token.text.isalpha())
                if slot is None:
                    self._add(tokens, concept, term.kind)
                elif forms := [sense.form for sense in plain_form(tokens)]:
                    follows = slot.start() == 0
                    key = slot["kind"], follows, forms[0 if follows else -1]
                    self._beside.setdefault(key, []).append((forms, _Entry(concept, term.kind, False)))
        self._touching = {touching for _, _, touching in self._beside}
        self.words = frozenset(words)
        self.stems = frozenset(stem(word) for word in words)

    def concept_of(self, name: str, kind: str) -> str:
        """Return the concept of a kind that a whole name stands for, "" for none."""
        node = self._root
        for sense in plain_form(tokenise(name)):
            node = node.get(sense.form, {})
        entry = node.get(None)
        return entry.concept if entry is not None and entry.kind == kind else ""

    def device(self, name: str) -> str:
        """Return the concept of a device's name; an unknown name stays as it is."""
        return self.concept_of(name, "device") or name

    def failures(self, tokens: Sequence[Token]) -> set[str]:
        """Return the symptoms that words would mean with a "not": of "fan runs" that of "fan doesn't run"."""
        forms = [sense.form for sense in plain_form(tokens) if sense.form not in STEPPED_OVER]
        found: set[_Entry | None] = set()
        for start in range(len(forms)):
            node = self._root
            for place, form in enumerate([*forms[start:], "work"]):
                denied = node.get(NOT, {})
                for after in forms[start:] if place == 0 else [form]:
                    denied = denied.get(after, {})
                    found.add(denied.get(None))
                node = node.get(form, {})
        return {entry.concept for entry in found if entry is not None and entry.kind == "symptom"}

    def fits(self, hit: ConceptHit, device: str) -> bool:
        """Tell whether a device can have a concept: a washing machine has no "coffee comes slowly"."""
        only = self.devices.get(hit.concept, ()) if hit.kind != "device" else ()
        return not only or not device or self.device(device) in only

    def find(self, tokens: Sequence[Token], *, denied_too: bool = False) -> list[ConceptHit]:
        """Return the concepts in a list of tokens, in the order of the text.

        Of overlapping phrases the longest counts, of equally long ones the first; see `_counts_inside` for
        exceptions. A phrase does not cross a full stop or a bracket. A symptom or mechanism right after a
        "not" counts only with denied_too; then the caller handles denial.
        """
        senses = plain_form(tokens)
        hits = []
        for match in self._found(senses, compared_places(tokens), denied_too):
            within = senses[match.start : match.end]
            negative = any(sense.form == NOT for sense in within)
            places = within[0].first, within[-1].last + 1
            after_not, as_it_should = _is_denied(senses, match), match.gap == _AS_IT_SHOULD
            hits.append(ConceptHit(*match.entry[:2], *places, negative, after_not, as_it_should))
        return sorted(hits, key=lambda hit: (hit.start_token, -hit.end_token))

    def concepts(self, tokens: Sequence[Token]) -> list[str]:
        """Return the names of what find() finds, in no order; quicker, for the many notes."""
        return [match.entry.concept for match in self._found(plain_form(tokens), compared_places(tokens))]

    def _found(self, senses: Sequence[Sense], compared: set[int], denied_too: bool = False) -> list[_Match]:
        """Return the phrases that count, the longest first. compared: tokens in comparisons."""
        forms = [sense.form for sense in senses]
        forms.append("")
        words, phrases = self._matches(senses, forms)
        # Hazards first, then longer phrases, then earlier ones.
        phrases.sort(key=lambda match: (not match.entry.hazard, match.start - match.end))
        matches = [*phrases, *words]
        if compared:  # in a comparison a hazard still counts: "it sounds like a gas leak"
            matches = [
                each for each in matches if each.entry.hazard or senses[each.start].first not in compared
            ]
        taken: list[_Entry | None] = [None] * len(senses)
        things: set[int] = set()  # places of things in longer phrases: "fuse box" has no "fuse"
        found: list[_Match] = []
        for match in matches:
            start, end, entry, gap = match
            covering = taken[start:end] if gap < 0 else [*taken[start:gap], *taken[gap + 1 : end]]
            free = not any(covering) or _shares_a_word(entry, covering)
            if not (free or (_counts_inside(entry, covering) and things.isdisjoint(match.places()))):
                continue
            if not denied_too and forms[start - 1] == NOT and _is_denied(senses, match):
                continue
            if free:
                for place in match.places():
                    taken[place] = entry
            elif entry.kind in _THING_KINDS:
                things.update(match.places())
            if entry.kind != _FIGURE:
                found.append(match)
        beside = self._found_beside(found, senses, forms, taken)
        denied = {match.start for match in beside if forms[match.start - 1] == NOT}
        if denied:  # "warm" in "the fridge is not warm" tells of no heat
            found = [each for each in found if not (each.entry.negative and denied & {*each.places()})]
            beside = beside if denied_too else [each for each in beside if each.start not in denied]
        return [*found, *beside]

    def _found_beside(
        self,
        found: Sequence[_Match],
        senses: Sequence[Sense],
        forms: Sequence[str],
        taken: Sequence[_Entry | None],
    ) -> list[_Match]:
        """Return what stands right beside a thing, in words that no longer phrase has used."""
        beside: list[_Match] = []
        for match in found:
            behind = match.end
            # "Is not warm" may be as it should be; "does not stop" is a fault.
            denies = match.entry.kind == "device" and forms[behind : behind + 2][-1] != "stop"
            while forms[behind] in STEPPED_OVER or (forms[behind] == NOT and denies):
                behind += 1  # "the fridge is only just warm", "is not warm"
            for follows, at in ((True, behind), (False, match.start - 1)):
                if forms[at] not in self._touching:
                    continue
                kinds = (match.entry.kind, *self._does.get(match.entry.concept, ()))
                keys = ((kind, follows, forms[at]) for kind in kinds)
                for wording, entry in chain.from_iterable(self._beside.get(key, ()) for key in keys):
                    start = at if follows else max(match.start - len(wording), 0)
                    end = start + len(wording)
                    joins = senses[match.end : end] if follows else senses[start + 1 : end + 1]
                    parted = any(each.after_break for each in joins)
                    of_lamp = follows and forms[min(end, len(senses))] in LAMPS  # "telly red light"
                    denied = follows and start > match.end and forms[start - 1] == NOT
                    free = not any(each and not (denied and each.negative) for each in taken[start:end])
                    if forms[start:end] == wording and free and not (parted or of_lamp):
                        beside.append(_Match(start, end, entry, _AS_IT_SHOULD if denied else -1))
        return beside

    def _matches(self, senses: Sequence[Sense], forms: Sequence[str]) -> tuple[list[_Match], list[_Match]]:
        """Return the vocabulary's words in a text, and its phrases and hazards, also inside one another."""
        words: list[_Match] = []
        phrases: list[_Match] = []
        root = self._root
        for start, form in enumerate(forms):
            if (node := root.get(form)) is None:
                continue
            if None in node:
                (phrases if node[None].hazard else words).append(_match((start, start + 1, node[None], -1)))
            place, gap = start + 1, -1
            # No phrase goes on after a full stop or the end.
            while place < len(senses) and not senses[place].after_break:
                form = forms[place]
                following = node.get(form)
                if following is None and gap < 0 and form in STEPPED_OVER:
                    gap = place
                elif following is None:
                    break
                else:
                    node = following
                place += 1
                if None in node and gap != place - 1:
                    phrases.append(_match((start, place, node[None], gap)))
        return words, phrases

    def _add(self, tokens: Sequence[Token], concept: str, kind: str) -> None:
        forms = [sense.form for sense in plain_form(tokens)]
        if not forms or forms == [NOT]:
            return
        node = self._root
        for form in forms:
            node = node.setdefault(form, {})
        hazard = kind == _FIGURE or (kind == "symptom" and concept in self.hazards and len(forms) > 1)
        node.setdefault(None, _Entry(concept, kind, forms[0] == NOT, hazard))


def _is_denied(senses: Sequence[Sense], match: _Match) -> bool:
    """Tell whether a "not" stands right before a symptom or mechanism without one: "not dead"."""
    if match.start == 0 or match.entry.negative or match.entry.kind not in (*_NEGATED_KINDS, "works"):
        return False
    return senses[match.start - 1].form == NOT and not senses[match.start].after_break


def _shares_a_word(entry: _Entry, covering: Sequence[_Entry | None]) -> bool:
    """Tell whether a symptom shares only its first word with a device's name: "drill [battery] leaks"."""
    shared, *others = covering if entry.kind == "symptom" else reversed(covering)
    kinds = {entry.kind, shared.kind} if shared is not None else set[str]()
    return bool(others) and not any(others) and kinds == {"symptom", "device"}


def _counts_inside(entry: _Entry, covering: Sequence[_Entry | None]) -> bool:
    """Tell whether a concept inside a longer phrase counts as well.

    A negated symptom does ("no picture" in "no picture but sound"), and so does a thing or device in what is
    said of it ("capacitor" in "bulging capacitor"). Other short phrases mean nothing there.
    """
    longer = covering[0]
    if longer is None or longer.concept == entry.concept or any(other is not longer for other in covering):
        return False
    if entry.kind in (*_THING_KINDS, "device"):
        return longer.kind in _NEGATED_KINDS and longer.concept not in _OF_THE_HOUSE
    return entry.negative and entry.kind == longer.kind == "symptom" and entry.concept in longer.concept


finder_for = lru_cache(maxsize=4)(ConceptFinder)  # one for each vocabulary


@lru_cache(maxsize=1)
def default_finder() -> ConceptFinder:
    """Return the finder of the built-in vocabulary, made once."""
    return ConceptFinder(load_vocabulary())
