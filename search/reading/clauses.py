"""Find where a clause of a complaint ends: at a joint, at "now", or where a hurried owner begins anew."""

from collections.abc import Sequence

from search.reading.scope_words import Word, phrase_at

_LOOK_AHEAD = 6  # words in which a new clause shows its verb; chosen by us

# A subject after these belongs to what they begin: "like it", "did it", "at my cousin's they".
_NOT_BEFORE = ("openers", "prepositions", "subordinators", "finite", "people's")


def ends_before(words: Sequence[Word], start: int, place: int) -> bool:
    """Tell whether the clause that begins at start ends before a word, by the rules of grammar."""
    word = words[place]
    if word.among("enders") or phrase_at("ending_phrases", words, place):
        return True
    if place == start:
        return False
    if word.among("coordinators"):
        return opens_after(words, start, place)
    return word.among("subordinators") and _subordinates(words, start, place)


def opens_after(words: Sequence[Word], start: int, joint: int) -> bool:
    """Tell whether "and" or "or" opens a clause of its own: "no hum and it leaks", not "no hum and leak"."""
    after = words[joint + 1]
    alike = after.among("in_s") and words[joint - 1].among("in_s")  # "noises or smells"
    if after.is_cue or after.among("marks", "subjects") or (after.among("finite") and not alike):
        return True
    if words[joint].text != "or":
        named_first = after.among("definite") and not any(
            each.among("definite") for each in words[start:joint]
        )
        if after.among("moreover") or named_first:
            return True
    return _verb_soon(words, joint + 1)


def _verb_soon(words: Sequence[Word], start: int) -> bool:
    """Tell whether a finite verb follows a noun phrase that starts here."""
    for place in range(start + 1, min(start + _LOOK_AHEAD, len(words))):
        named_anew = words[place].among("determiners") and not words[place - 1].among("prepositions")
        if words[place].is_mark or words[place].among("relatives") or named_anew:
            return False
        if words[place].among("finite") and not words[place - 1].among("determiners", "prepositions"):
            return True  # but not in "the left side"
    return False


def _subordinates(words: Sequence[Word], start: int, place: int) -> bool:
    """Tell whether a conjunction opens a clause: "as it is old", "so they left"; not "as big as this"."""
    word, after = words[place], words[place + 1]
    if word.text == "as" and any(each.among("comparing") for each in words[start:place]):
        return False
    if word.among("asking") and words[place - 1].among("openers"):
        return False
    return after.among("subjects") or (after.among("determiners") and _verb_soon(words, place + 1))


def begins_anew(words: Sequence[Word], start: int, place: int) -> bool:
    """Tell whether a clause begins at a word with no joint: "last year [now]", "no smoke [it hums]"."""
    word, before, after = words[place], words[place - 1], words[place + 1]
    if phrase_at("now", words, place):
        return True
    if not word.among("subjects", "determiners") or before.among(*_NOT_BEFORE):
        return False
    verb_next = after.among("finite") or (word.text == "it" and after.among("verbal", "onset"))
    if word.among("speakers"):  # "the fault I had" goes on, "without it I am lost" does not
        return not verb_next or before.among("objects")
    if word.among("subjects") and ("'" in word.text or verb_next):
        return True
    doubled = place - 2 >= start and words[place - 2].among("determiners")  # "the processor the"
    return (doubled or (place - 1 == start and words[start - 1].text == "no")) and _verb_soon(words, place)
