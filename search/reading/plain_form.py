"""Bring words to the plain form in which phrases are compared: stems, one sign for every "not"."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from search.reading.text import Token, stem
from search.reading.word_lists import word_lists

NOT = "\x00not"  # stands for "no", "won't", "refuses to", "stopped ...ing"
_LISTS = {
    name: frozenset(stem(word) for word in words.split()) for name, words in word_lists()["phrases"].items()
}
STEPPED_OVER = _LISTS["stepped_over"]  # names of the thing: "won't turn the telly on"
_SKIPPED, _NEGATORS = _LISTS["skipped"], _LISTS["not"]
_NEGATORS_BEFORE_TO, _NEGATORS_BEFORE_ING = _LISTS["not_before_to"], _LISTS["not_before_ing"]

_NEGATING_VERBS = _NEGATORS_BEFORE_TO | _NEGATORS_BEFORE_ING
_TAILS = frozenset(("at", "all", "to", "longer"))


class Sense(NamedTuple):
    """Hold the plain form of a word, and its place among the tokens."""

    form: str
    token: int
    after_break: bool


def plain_form(tokens: Sequence[Token]) -> list[Sense]:
    """Return the words of a text that count in a phrase, each in its plain form."""
    senses: list[Sense] = []
    after_break = False
    for place, token in enumerate(tokens):
        after_break = after_break or token.after_break
        form = token.stem
        if form in _SKIPPED or (form in _TAILS and _is_tail(form, tokens, place)):
            continue
        if form in _NEGATORS or (form in _NEGATING_VERBS and _denies_next(form, tokens, place)):
            form = NOT
        senses.append(Sense(form, place, after_break))
        after_break = False
    return senses


def _is_tail(form: str, tokens: Sequence[Token], place: int) -> bool:
    """Tell whether a word only completes the one before: "at all", "refuses to", "no longer"."""
    before = tokens[place - 1].stem if place else ""
    if form == "at":
        return place + 1 < len(tokens) and tokens[place + 1].stem == "all"
    return (
        (form == "all" and before == "at")
        or (form == "to" and before in _NEGATORS_BEFORE_TO)
        or (form == "longer" and before == "no")
    )


def _denies_next(form: str, tokens: Sequence[Token], place: int) -> bool:
    """Tell whether a verb says "not" of the next word: "refuses to start", "stopped heating"."""
    if place + 1 >= len(tokens) or tokens[place + 1].after_break:
        return False
    if form in _NEGATORS_BEFORE_TO:
        return tokens[place + 1].stem == "to"
    negated = place > 0 and tokens[place - 1].stem in _NEGATORS  # "won't stop beeping" does beep
    return form in _NEGATORS_BEFORE_ING and not negated and tokens[place + 1].text.endswith("ing")
