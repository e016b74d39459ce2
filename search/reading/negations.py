"""Find the denials of a text and how far they reach, and tell a figure of speech ("not only") from one."""

from collections.abc import Sequence
from typing import NamedTuple

from search.reading.clauses import begins_anew, ends_before
from search.reading.scope_words import Word, phrase_about, phrase_at

# Words. Chosen by us; the limits also keep the time linear in a text's length.
_LONGEST_SCOPE = 40
_LONGEST_LIST = 8  # things: "no hum, buzz, click or smell"


class Negation(NamedTuple):
    """Hold one denial by places in the word list: it reaches from after its cue to `end`, exclusive.

    figure: a figure of speech, by which nothing is denied.
    """

    cue: int
    end: int
    figure: bool


def find_negations(words: Sequence[Word]) -> list[Negation]:
    """Return every denial of a text in order, those that reach no word left out.

    Source:
        Cues, scope and pseudo-cues as in NegEx: Chapman, Bridewell, Hanbury, Cooper, Buchanan, J. Biomedical
        Informatics 34 (2001) 301-310. Where a scope ends is our own grammar, see `search.reading.clauses`.
    """
    found: list[Negation] = []
    for cue, word in enumerate(words):
        if not word.is_cue or phrase_about("no_denial", words, cue):
            continue
        end = scope_end(words, cue)
        if end > cue + 1:
            figure = _is_figure(words, cue, end) or _cancels(words, cue, found)
            last = found[-1] if found else None
            if last and last.end == cue and _turns(words, last.cue, cue):
                found[-1] = last._replace(figure=True)
                figure = True
            found.append(Negation(cue, end, figure))
    return found


def scope_end(words: Sequence[Word], cue: int) -> int:
    """Return the place after the last word that a cue denies."""
    start = place = cue + 1
    while place < min(len(words), start + _LONGEST_SCOPE) and not _ends_at(words, start, place):
        place += 1
    while place > start and (words[place - 1].among("trailing") or words[place - 1].is_mark):
        place -= 1
    return place


def _ends_at(words: Sequence[Word], start: int, place: int) -> bool:
    word, cue = words[place], words[start - 1]
    if word.is_mark:
        return word.text != "," or not _list_goes_on(words, place)
    if word.is_cue or (place == start and phrase_at("reasons", words, place)):  # "not because of the fan"
        return word.is_cue
    if word.among("relatives"):  # "it isn't the speaker that crackles"
        return words[start].among("definite")
    if word.text == "for":  # "can't hear it for the buzzing": the buzzing is there
        return cue.among("inability") and words[place + 1].among("definite")
    return ends_before(words, start, place)


def _list_goes_on(words: Sequence[Word], comma: int) -> bool:
    """Tell whether the thing after a comma is one of a list: "no hum, buzz or smell"."""
    for _ in range(_LONGEST_LIST):
        after = place = comma + 1
        while place < after + 3 and not (words[place].is_cue or words[place].among("marks", "coordinators")):
            place += 1
        if place == after and words[place].text != "or":
            return False
        if words[place].text == "or":
            return not words[place + 1].among("subjects")
        if words[place].text != ",":
            return False
        comma = place
    return False


def evidence_end(words: Sequence[Word], start: int, end: int) -> int:
    """Return where a denial stops being evidence in a complaint: sooner than a linguist ends its scope.

    Circumstances are not denied ("no hum when cold"), nor what follows "only" ("no picture only lines"), and
    owners in a hurry begin a new clause without any mark ("no smoke it just hums").
    """
    for place in range(start + 1, end):
        told = words[start - 1].text == "without" and _is_verb(words, place)  # "without a bang it went"
        ends = words[place].among("circumstances", "contrasts") or phrase_at("to_see", words, place)
        if told or ends or begins_anew(words, start, place):
            end = place
            break
    while end - 2 > start and words[end - 1].among("places") and words[end - 2].among("prepositions"):
        end -= 2  # "any noise from it"
    return end


def _is_verb(words: Sequence[Word], place: int) -> bool:
    word, before, after = words[place], words[place - 1], words[place + 1]
    return (word.among("finite") and not before.among("determiners")) or (
        word.among("verbal") and after.among("objects")
    )


def _is_figure(words: Sequence[Word], cue: int, end: int) -> bool:
    """Tell whether a cue with its scope only sounds like a denial: "no doubt it hums"."""
    phrases = "after_no" if words[cue].among("noun_cues") else "after_not"
    said = phrase_at(phrases, words, cue + 1) or phrase_at("figures", words, cue)
    return said > 0 or _held_until_now(words, cue, end)


def _held_until_now(words: Sequence[Word], cue: int, end: int) -> bool:
    """Tell whether it was not so once and is now: "never hummed before", "doesn't hum until it is warm"."""
    if any(word.among("waits_for") for word in words[cue + 2 : end + 1]):
        return True
    starts = range(max(end - 3, 0), end)
    return any(phrase_at("until_now", words, place) == end - place for place in starts)


def _turns(words: Sequence[Word], first: int, second: int) -> bool:
    """Tell whether a denial denies another: "there isn't a day it doesn't", "not that it doesn't"."""
    between = words[first + 1 : second]
    return words[first - 1].text == "there" or any(word.among("openers") for word in between)


def _cancels(words: Sequence[Word], cue: int, found: Sequence[Negation]) -> bool:
    """Tell whether two denials make none: "it can't run without tripping", "I can't rule out the fuse"."""
    if words[cue].text != "without":
        return False
    if words[cue - 1].is_cue:
        return True
    if not found or words[found[-1].cue].among("noun_cues"):
        return False
    between = words[found[-1].end : cue]
    return not any(word.is_mark for word in between)
