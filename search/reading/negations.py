"""Find the denials of a text, and tell a figure of speech ("not only") from a denial."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from search.reading.scope_ends import scope_end
from search.reading.scope_words import LISTS, Word

_CONDITION_WITHIN = 8  # words between "if" and its "not"; chosen by us


class Negation(NamedTuple):
    """Hold one denial by places in the word list: it reaches from after its cue to `end`, exclusive.

    figure: a figure of speech, by which nothing is denied.
    """

    cue: int
    end: int
    figure: bool

    @property
    def start(self) -> int:
        """Return the place of the first word that is denied."""
        return self.cue + 1


def find_negations(words: Sequence[Word]) -> list[Negation]:
    """Return every denial of a text in order, those that reach no word left out.

    Source:
        Cues, scope and pseudo-cues as in NegEx: Chapman, Bridewell, Hanbury, Cooper, Buchanan, J. Biomedical
        Informatics 34 (2001) 301-310. Where a scope ends is our own grammar, see `search.reading.scope_ends`.
    """
    found: list[Negation] = []
    for cue, word in enumerate(words):
        if not word.is_cue or _denies_nothing(words, cue):
            continue
        end = scope_end(words, cue)
        if end > cue + 1:
            figure = _is_figure(words, cue, end) or _cancels(words, cue, found)
            last = found[-1] if found else None
            if last and last.end == cue and last.cue and words[last.cue - 1].text == "there":
                found[-1] = last._replace(figure=True)  # "there isn't a day it doesn't flicker"
                figure = True
            found.append(Negation(cue, end, figure))
    return found


def _denies_nothing(words: Sequence[Word], cue: int) -> bool:
    """Tell whether a cue reaches no word: "No, it hums", "isn't it?", "no 3", "whether or not"."""
    after = cue + 1
    if after >= len(words) or words[after].is_mark or LISTS.phrase_at("no_cues", words, cue):
        return True
    if any(word.text == "whether" for word in words[max(cue - 2, 0) : cue]):
        return True
    text = words[after].text
    if words[cue].text == "no":
        return text.isdigit() or text in LISTS.subjects - LISTS.determiners
    is_last = after + 1 == len(words) or words[after + 1].is_mark
    return words[cue].negated and text in LISTS.subjects and is_last


def _is_figure(words: Sequence[Word], cue: int, end: int) -> bool:
    phrases = "after_no" if words[cue].text in LISTS.noun_cues else "after_not"
    said = LISTS.phrase_at(phrases, words, cue + 1) or LISTS.phrase_at("figures", words, cue)
    return said > 0 or _supposes(words, cue) or _held_until_now(words, cue, end)


def _supposes(words: Sequence[Word], cue: int) -> bool:
    """Tell whether the words before make it a condition, a proposal or a request: "if not", "why not"."""
    if cue and words[cue - 1].text in LISTS.proposing:
        return True
    for place in range(cue - 1, max(cue - _CONDITION_WITHIN, 0) - 1, -1):
        if words[place].is_mark or words[place].is_cue:
            return False
        if words[place].text in LISTS.conditions:
            return place == 0 or words[place - 1].text not in ("as", "even")
    return False


def _held_until_now(words: Sequence[Word], cue: int, end: int) -> bool:
    """Tell whether it was not so once and is now: "never hummed before", "doesn't hum until it is warm"."""
    if any(word.text in LISTS.waits_for for word in words[cue + 2 : end + 1]):
        return True
    starts = range(max(end - 3, 0), end)
    return any(LISTS.phrase_at("until_now", words, place) == end - place for place in starts)


def _cancels(words: Sequence[Word], cue: int, found: Sequence[Negation]) -> bool:
    """Tell whether two denials make none: "it can't run without tripping", "I can't rule out the fuse"."""
    if words[cue].text != "without" or not cue:
        return False
    if words[cue - 1].is_cue:
        return True
    if not found or words[found[-1].cue].text in LISTS.noun_cues:
        return False
    between = words[found[-1].end : cue]
    return not any(word.is_mark or word.text in LISTS.coordinators | LISTS.enders for word in between)
