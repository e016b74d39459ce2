"""Find where a denial ends: at a mark, at a word such as "but", or where a new clause begins."""

from __future__ import annotations

from collections.abc import Sequence

from search.reading.scope_words import LISTS, Word

# Words. Chosen by us; the limits also keep the time linear in a text's length.
_LONGEST_SCOPE = 40
_LOOK_AHEAD = 6  # in which a new clause shows its verb
_LONGEST_LIST = 8  # things: "no hum, buzz, click or smell"


def scope_end(words: Sequence[Word], cue: int) -> int:
    """Return the place after the last word that the cue at a place denies."""
    start = place = cue + 1
    while place < min(len(words), start + _LONGEST_SCOPE) and not _ends_at(words, start, place):
        place += 1
    while place > start and (words[place - 1].text in LISTS.trailing or words[place - 1].is_mark):
        place -= 1
    return place


def evidence_end(words: Sequence[Word], start: int, end: int) -> int:
    """Return where a denial stops being evidence in a complaint: sooner than a linguist ends its scope.

    Circumstances are not denied ("no hum when cold"), nor what follows "only" ("no picture only lines"), and
    owners in a hurry begin a new clause without any mark ("no smoke it just hums").
    """
    for place in range(start + 1, end):
        text = words[place].text
        is_new = text in LISTS.circumstances or text in LISTS.contrasts or _runs_on(words, start, place)
        if is_new or LISTS.phrase_at("now_phrases", words, place):
            end = place
            break
    while (
        end - 2 > start and words[end - 1].text in LISTS.places and words[end - 2].text in LISTS.prepositions
    ):
        end -= 2  # "any noise from it"
    return end


def _ends_at(words: Sequence[Word], start: int, place: int) -> bool:
    word = words[place]
    if word.is_mark:
        return word.text != "," or not _list_goes_on(words, place)
    if word.is_cue:
        return True
    if place == start and LISTS.phrase_at("reasons", words, place):  # "not because of the fan"
        return False
    if word.text in LISTS.enders or LISTS.phrase_at("ending_phrases", words, place):
        return True
    if place == start:
        return False
    if word.text in LISTS.relatives:  # "it isn't the speaker that crackles"
        return (
            words[start].text in LISTS.definite and 2 <= place - start <= 4 and denies_being(words, start - 1)
        )
    if word.text == "for":  # "can't hear it for the buzzing": the buzzing is there
        after = words[place + 1].text if place + 1 < len(words) else ""
        return words[start - 1].text in LISTS.inability and after in LISTS.definite
    if word.text in LISTS.coordinators:
        return _opens_clause(words, start, place)
    return word.text in LISTS.subordinators and _subordinates(words, start, place)


def _list_goes_on(words: Sequence[Word], comma: int) -> bool:
    """Tell whether the thing after a comma is one of a list: "no hum, buzz or smell"."""
    for _ in range(_LONGEST_LIST):
        after = place = comma + 1
        while place < min(after + 3, len(words)) and not _breaks_list(words[place]):
            place += 1
        if place >= len(words) or (place == after and words[place].text != "or"):
            return False
        if words[place].text == "or":
            return place + 1 >= len(words) or words[place + 1].text not in LISTS.subjects
        if words[place].text != ",":
            return False
        comma = place
    return False


def _breaks_list(word: Word) -> bool:
    ends = (LISTS.coordinators, LISTS.finite, LISTS.subjects, LISTS.enders, LISTS.contrasts)
    return word.is_mark or word.is_cue or any(word.text in each for each in ends)


def denies_being(words: Sequence[Word], cue: int) -> bool:
    """Tell whether a cue denies a form of "be": "isn't", "is not"."""
    if words[cue].negated:
        return words[cue].text.removesuffix("n't") in LISTS.being
    return words[cue].text in ("not", "neither") and cue > 0 and words[cue - 1].text in LISTS.being


def _opens_clause(words: Sequence[Word], start: int, joint: int) -> bool:
    """Tell whether "and" or "or" opens a clause of its own, which the cue does not reach."""
    after = joint + 1
    if after >= len(words) or words[after].is_mark or words[after].is_cue:
        return True
    text = words[after].text
    alike = _ends_in_s(text) and _ends_in_s(words[joint - 1].text)  # "noises or smells"
    if (text in LISTS.finite and not alike) or text in LISTS.subjects:
        return True
    if words[joint].text != "or":
        as_verb = (
            _ends_in_s(text) and not alike and _takes_base_form(words, start - 1)
        )  # "doesn't heat and trips"
        first_named = text in LISTS.definite and not any(
            word.text in LISTS.definite for word in words[start:joint]
        )
        if text in LISTS.moreover or as_verb or first_named:
            return True
    return _verb_soon(words, after)


def _takes_base_form(words: Sequence[Word], cue: int) -> bool:
    if words[cue].negated:
        return words[cue].text.removesuffix("n't") in LISTS.modals
    return words[cue].text == "cannot" or (cue > 0 and words[cue - 1].text in LISTS.modals)


def _ends_in_s(text: str) -> bool:
    return len(text) > 3 and text.endswith("s") and not text.endswith(("ss", "us", "ings"))


def _verb_soon(words: Sequence[Word], start: int) -> bool:
    """Tell whether a finite verb follows a noun phrase that starts here."""
    for place in range(start + 1, min(start + _LOOK_AHEAD, len(words))):
        word, before = words[place], words[place - 1].text
        if word.is_mark or word.text in LISTS.relatives:
            return False
        is_noun = before in LISTS.determiners or before in LISTS.prepositions  # "the left side"
        if word.text in LISTS.finite and not is_noun:
            return True
    return False


def _subordinates(words: Sequence[Word], start: int, place: int) -> bool:
    """Tell whether a conjunction opens a clause: "as it is old", "so they left"; not "as big as this"."""
    text = words[place].text
    after = words[place + 1].text if place + 1 < len(words) else ""
    if text == "as" and any(word.text in LISTS.comparing for word in words[start:place]):
        return False
    if text in LISTS.asking and words[place - 1].text in LISTS.openers:
        return False
    return after in LISTS.subjects or (after in LISTS.determiners and _verb_soon(words, place + 1))


def _runs_on(words: Sequence[Word], start: int, place: int) -> bool:
    """Tell whether a new clause begins without any joint: "no picture the sound is there"."""
    text, before = words[place].text, words[place - 1].text
    if text not in LISTS.subjects and text not in LISTS.determiners:
        return False
    goes_on = (LISTS.openers, LISTS.prepositions, LISTS.determiners, LISTS.subordinators)
    if any(before in each for each in goes_on):
        return False
    if place == start + 1 and before in LISTS.finite:  # "never have I seen one"
        return False
    after = place + 1
    if after < len(words) and (words[after].text in LISTS.contrasts or words[after].text.endswith("ly")):
        after += 1
    verb_next = after < len(words) and (
        words[after].text in LISTS.finite or (text == "it" and _ends_in_s(words[after].text))
    )
    if text in LISTS.speakers:  # "the fault I had" goes on, "without it I am lost" does not
        return not verb_next or before in LISTS.objects
    if text in LISTS.subjects and text != "you" and ("'" in text or verb_next):
        return True
    doubled = place - 2 >= start and words[place - 2].text in LISTS.determiners  # "the processor the"
    return (doubled or (place - 1 == start and words[start - 1].text == "no")) and _verb_soon(words, place)
