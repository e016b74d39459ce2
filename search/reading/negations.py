"""Find the denials of a text, how far each reaches, and where clauses begin and end.

A figure of speech ("not only") is no denial. A clause ends at a conjunction or mark, at "now", or where a
hurried owner starts a new one without any mark.
"""

import itertools
from collections.abc import Sequence
from typing import NamedTuple

from search.reading.scope_words import SENTENCE_ENDS, Word, phrase_about, phrase_at

# All in words, chosen by us; the limits also keep the time linear in a text's length.
_LONGEST_SCOPE = 40
_LONGEST_LIST = 12  # after its first comma: "no hum, buzz, click or smell"
_LOOK_AHEAD = 6  # to find the verb of a new clause

# A subject after one of these begins no clause: "like it", "did it", "at my cousin's they".
_NOT_BEFORE = ("openers", "prepositions", "subordinators", "finite", "people's")


class Negation(NamedTuple):
    """Hold one denial by places in the word list: it reaches from after its cue to `end`, exclusive.

    figure: it is a figure of speech, which denies nothing.
    """

    cue: int
    end: int
    figure: bool


def find_negations(words: Sequence[Word]) -> list[Negation]:
    """Return the denials of a text in order, without those that reach no word.

    Source:
        Cues, scope and pseudo-cues as in NegEx: Chapman, Bridewell, Hanbury, Cooper, Buchanan, J. Biomedical
        Informatics 34 (2001) 301-310. Where a scope ends is our own grammar.
    """
    found: list[Negation] = []
    for cue, word in enumerate(words):
        end = scope_end(words, cue) if word.is_cue and not phrase_about("no_denial", words, cue) else 0
        if end <= cue + 1:
            continue
        figure = _is_figure(words, cue, end) or _cancels(words, cue, found)
        if found and found[-1].end == cue:
            first = found[-1].cue
            opened = any(each.among("openers") for each in words[first + 1 : cue])  # "not that it doesn't"
            if opened or words[first - 1].text == "there":  # "there isn't a day it doesn't"
                found[-1], figure = found[-1]._replace(figure=True), True
        found.append(Negation(cue, end, figure))
    return found


def scope_end(words: Sequence[Word], cue: int) -> int:
    """Return the place after the last word that a cue denies."""
    start = place = cue + 1
    while place < start + _LONGEST_SCOPE and not _ends_at(words, start, place):
        place += 1
    while words[place - 1].among("trailing", "marks"):
        place -= 1
    return place


def _ends_at(words: Sequence[Word], start: int, place: int) -> bool:
    """Tell whether the scope of a denial, from `start` on, ends before a word."""
    word = words[place]
    if word.is_mark:
        return word.text != "," or not _list_goes_on(words, place)
    if word.is_cue or (place == start and phrase_at("reasons", words, place)):  # "not because of the fan"
        return word.is_cue
    if word.among("relatives"):  # "it isn't the speaker that crackles"
        return words[start].among("definite")
    if word.text == "for":  # "can't hear it for the buzzing": the buzzing is there
        return words[start - 1].among("inability") and words[place + 1].among("definite")
    if word.among("enders") or phrase_at("ending_phrases", words, place):
        return True
    if word.among("coordinators"):
        return place > start and opens_after(words, start, place)
    if place == start or not word.among("subordinators") or words[place - 1].among("openers"):
        return False  # not "as big as this", "I don't know if it hums"
    compared = any(each.among("comparing") for each in words[start:place])
    follows = words[place + 1]  # "hum like it did", but "growl like that before"
    return follows.among("subjects") and not (compared or (word.text == "like" and follows.among("pointing")))


def _list_goes_on(words: Sequence[Word], comma: int) -> bool:
    """Tell whether a list goes on after a comma: "no hum, buzz or smell"."""
    for place in range(comma + 1, comma + _LONGEST_LIST):
        word = words[place]
        if word.is_cue or (word.text != "," and word.among("marks", "coordinators")):
            return word.text == "or" and not words[place + 1].among("subjects")
    return False


def opens_after(words: Sequence[Word], start: int, joint: int) -> bool:
    """Tell whether "and" or "or" starts a new clause: "no hum and it leaks", not "no hum and leak"."""
    after = words[joint + 1]
    if after.is_cue or after.among("marks", "subjects", "moreover"):
        return True
    alike = words[joint - 1].among("in_s")  # "noises or smells"
    first = not any(each.among("definite") for each in words[start:joint])
    begins = (after.among("finite") and not alike) or (after.among("definite") and first)
    return begins or _verb_soon(words, joint + 1)


def begins_anew(words: Sequence[Word], start: int, place: int) -> bool:
    """Tell whether a clause begins at a word without a conjunction or mark: "no smoke [it hums]"."""
    word, before, after = words[place], words[place - 1], words[place + 1]
    if phrase_at("now", words, place) and not before.among("determiners"):
        return True
    if not word.among("subjects", "determiners") or before.among(*_NOT_BEFORE):
        return False
    verb_next = after.among("finite") or (word.text == "it" and after.among("verbal"))
    if word.among("speakers"):  # "the fault I had" is one clause, "without it I am lost" is two
        return not verb_next or before.among("objects")
    if "'" in word.text or verb_next:
        return True
    doubled = words[place - 2].among("determiners")  # "the processor the"
    return (doubled or (place - 1 == start and words[start - 1].text == "no")) and _verb_soon(words, place)


def _verb_soon(words: Sequence[Word], start: int) -> bool:
    """Tell whether a noun phrase with a finite verb begins here."""
    for place in range(start + 1, min(start + _LOOK_AHEAD, len(words))):
        word, before = words[place], words[place - 1]
        named_anew = word.among("determiners") and not before.among("prepositions")
        if named_anew or word.among("marks", "relatives"):
            return False
        if word.among("finite") and not before.among("determiners"):
            return True  # "left" in "the left side" is no verb
    return False


def evidence_end(words: Sequence[Word], start: int, end: int) -> int:
    """Return where a denial ends as evidence, which is sooner than its scope in linguistics.

    Circumstances are not denied ("no hum when cold"), nor what follows "only" ("no picture only lines").
    Hurried owners start a new clause without any mark ("no smoke it just hums").
    """
    for place in range(start + 1, end):
        word, before = words[place], words[place - 1]
        acts = word.among("verbal") and words[place + 1].among("objects")
        told = acts or (word.among("finite") and not before.among("determiners"))
        if (
            (told and words[start - 1].text == "without")  # "without a bang it went"
            or word.among("circumstances", "contrasts")
            or phrase_at("to_see", words, place)
            or begins_anew(words, start, place)
        ):
            end = place
            break
    while words[end - 1].among("places") and words[end - 2].among("prepositions"):
        end -= 2  # "any noise from it"
    return end


def _is_figure(words: Sequence[Word], cue: int, end: int) -> bool:
    """Tell whether a cue with its scope only sounds like a denial: "no doubt it hums".

    It also denies nothing if the fault is there now ("never hummed before", "doesn't hum until it is warm"),
    or was ("without the smoke I would not have noticed").
    """
    phrases = "after_no" if words[cue].among("noun_cues") else "after_not"
    if phrase_at(phrases, words, cue + 1) or phrase_at("figures", words, cue):
        return True
    if words[cue].text == "without" and words[cue + 1].among("determiners"):
        after = itertools.takewhile(
            lambda word: word.text not in SENTENCE_ENDS, words[cue + 2 : cue + _LONGEST_LIST]
        )
        if any(word.among("supposing") for word in after):
            return True
    waits = any(word.among("waits_for") for word in words[cue + 2 : end + 1])
    return waits or any(phrase_at("until_now", words, end - length) == length for length in (1, 2, 3))


def _cancels(words: Sequence[Word], cue: int, found: Sequence[Negation]) -> bool:
    """Tell whether two denials cancel: "it can't run without tripping", "I can't rule out the fuse"."""
    if words[cue].text != "without" or words[cue - 1].is_cue:
        return words[cue].text == "without"
    return any(
        not words[first].among("noun_cues") and not any(word.is_mark for word in words[end:cue])
        for first, end, _ in found[-1:]
    )
