"""Bring words to the plain form in which phrases are compared.

That form is a word's stem, one sign for every "not", or a common name for words that mean the same: "on its
own" is "itself", "went" is "go", "switches the telly off" is "turn off telly".
"""

from collections.abc import Iterable, Sequence
from functools import partial
from typing import NamedTuple

from search.reading.text import STOP_SPELLINGS, Token, stem, tokenise
from search.reading.word_lists import word_lists

CONCEPT_MARK = "="  # begins the term of a concept, "=no power", as no word of a text can begin
NOT = "\x00not"  # stands for "no", "won't", "refuses to", "stopped ...ing"
NUMBER = "#"  # stands for a number of minutes or tries: "after ten goes"
_LISTS = {
    name: frozenset(stem(word) for word in words.split()) for name, words in word_lists()["phrases"].items()
}
STEPPED_OVER = _LISTS["stepped_over"]  # names that may stand within a phrase: "won't turn the telly on"
LAMPS = _LISTS["lamps"]
_SKIPPED, _NEGATORS = _LISTS["skipped"], _LISTS["not"]
_NUMBERS, _COUNTED = _LISTS["number"], _LISTS["counted"]
_NEGATORS_BEFORE_ING = _LISTS["not_before_ing"]
_SPECIAL = _SKIPPED | _NEGATORS | _NEGATORS_BEFORE_ING | _NUMBERS  # most words are none of these


class Sense(NamedTuple):
    """Hold the plain form of one or more words, and the places of its first and last token."""

    form: str
    first: int
    last: int
    after_break: bool


_sense = partial(tuple.__new__, Sense)  # in half the time that Sense() takes


def plain_form(tokens: Sequence[Token]) -> list[Sense]:
    """Return the words of a text that count in phrases, in their plain form.

    A wording with a common name gets that name; of overlapping wordings the longest.
    """
    senses = _stemmed(tokens)
    forms = [sense.form for sense in senses]
    merged: list[Sense] = []
    done = 0
    for start in [place for place, form in enumerate(forms) if form in _SAME]:
        seconds, wordings = _SAME[forms[start]]
        if start < done or (seconds and seconds.isdisjoint(forms[start + 1 : start + 3])):
            continue
        for wording, name in wordings:
            end = start + len(wording)
            if forms[start:end] == wording and not any(each.after_break for each in senses[start + 1 : end]):
                first, last = senses[start], senses[end - 1]
                merged += [*senses[done:start], Sense(name, first.first, last.last, first.after_break)]
                done = end
                break
            apart = [forms[start], *forms[start + 2 : start + 3]]  # "switches the telly off"
            if apart == wording and forms[start + 1] in STEPPED_OVER and not senses[start + 2].after_break:
                merged += [*senses[done:start], senses[start]._replace(form=name), senses[start + 1]]
                done = start + 3
                break
    return [*merged, *senses[done:]]


def _stemmed(tokens: Sequence[Token]) -> list[Sense]:
    senses: list[Sense] = []
    after_break = False
    for place, token in enumerate(tokens):
        after_break = after_break or token.after_break
        form = token.stem
        if form in _SPECIAL or form.isdecimal():
            if form in _SKIPPED:
                continue
            if form in _NEGATORS or (form in _NEGATORS_BEFORE_ING and _denies_next(tokens, place)):
                form = NOT
            elif (form in _NUMBERS or form.isdecimal()) and _follower(tokens, place) in _COUNTED:
                form = NUMBER
        senses.append(_sense((form, place, place, after_break)))
        after_break = False
    return senses


def _follower(tokens: Sequence[Token], place: int) -> str:
    """Return the stem of the next word, "" at the end or before a full stop."""
    after = tokens[place + 1] if place + 1 < len(tokens) else None
    return "" if after is None or after.after_break else after.stem


def _denies_next(tokens: Sequence[Token], place: int) -> bool:
    """Tell whether a verb says "not" of the next word: "stopped heating", not "won't stop beeping"."""
    follower = _follower(tokens, place)
    negated = place > 0 and tokens[place - 1].stem in _NEGATORS
    return bool(follower) and not negated and tokens[place + 1].text.endswith("ing")


def _wordings() -> dict[str, tuple[set[str], list[tuple[list[str], str]]]]:
    """Return by first form: the wordings that have a common name, with it, the longest first.

    Before them stand the second forms of all, to skip them quickly; empty if a wording has only one form.
    """
    found: dict[str, list[tuple[list[str], str]]] = {}
    for name, phrases in word_lists()["same"].items():
        for phrase in phrases.split(", "):
            wording = [sense.form for sense in _stemmed(tokenise(phrase))]
            found.setdefault(wording[0], []).append((wording, NOT if name == "not" else name))
    return {
        first: (
            {wording[1] for wording, _ in each} if all(len(wording) > 1 for wording, _ in each) else set(),
            sorted(each, key=lambda pair: -len(pair[0])),
        )
        for first, each in found.items()
    }


_SAME = _wordings()
SAME_WORDS = frozenset(token.text for phrases in word_lists()["same"].values() for token in tokenise(phrases))


def terms_of(tokens: Sequence[Token], concepts: Iterable[str]) -> list[str]:
    """Return the terms of a text, to index or search: stems and concepts ("=no power"), with repeats.

    Stop words, single letters and bare numbers of one or two digits are left out.
    """
    terms = [token.stem for token in tokens if says_something(token.text, token.stem)]
    terms.extend(CONCEPT_MARK + concept for concept in concepts)
    return terms


def says_something(word: str, form: str) -> bool:
    """Tell whether a word, given with its stem, is worth searching for by itself."""
    return word not in STOP_SPELLINGS and (len(form) > 2 or (len(form) == 2 and not form.isdecimal()))
