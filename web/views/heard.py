"""What was understood of a complaint, and what to doubt of it: the words for both faces."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from kb.notes.family import FamilyNote
from kb.notes.models import squeeze
from kb.terms import Vocabulary
from search.answering.answer import Answer
from search.answering.knowledge import Knowledge
from search.reading.reading import Reading
from web.views.state import SearchState

STANDS_OUT = 0.15  # chosen by us: below one in seven the likeliest cause is no better than a guess


@dataclass(frozen=True)
class Heard:
    """One thing understood. name: family, blinks, make, set, fault or words; note: a doubt about it."""

    name: str
    said: str
    note: str = ""

    def __str__(self) -> str:
        return f"{self.name} {self.said} {self.note}".rstrip()


def complaint_runs(reading: Reading) -> tuple[tuple[str, str], ...]:
    """Cut the complaint where words were left out of it."""
    spans = [(start, end, "denied") for start, end in reading.denied]
    spans += [(start, end, "past") for start, end in reading.past]
    runs: list[tuple[str, str]] = []
    done = 0
    for start, end, why in sorted(spans):
        runs += [(reading.text[done:start], ""), (reading.text[max(start, done) : end], why)]
        done = max(done, end)
    runs.append((reading.text[done:], ""))
    return tuple((text, why) for text, why in runs if text)


def heard_in(answer: Answer, state: SearchState, knowledge: Knowledge) -> tuple[Heard, ...]:
    """Return what was understood, each thing by its name."""
    reading, model = answer.reading, model_said(answer, state)
    doubt = "from" if _is_listed(answer, state, knowledge.families) else "nearest to"
    told = model and model.upper() != reading.family.upper()
    devices = {term.concept for term in knowledge.vocabulary.of_kind("device")}
    concepts = [concept for concept in reading.concepts if concept not in devices]
    heard = [
        Heard("family", reading.family, f"{doubt} {model}" if told else ""),
        Heard("blinks", str(reading.blinks or "")),
        *([] if reading.family else [Heard("make", reading.make), Heard("set", reading.device)]),
        Heard("fault", ", ".join(_said_once(concepts, reading.text, knowledge.vocabulary))),
        *(Heard("for", instead, said) for said, instead in reading.instead_of.items()),
        *(Heard("taken for", taken, said) for said, taken in reading.taken_for.items()),
    ]
    only_words = Heard("only the words", " ".join(reading.words) or "(none)")
    return tuple(each for each in heard if each.said) or (only_words,)


def _said_once(concepts: Sequence[str], text: str, vocabulary: Vocabulary) -> list[str]:
    """Leave out what is only part of a longer one, as "fuse" is of "trips the fuse"."""
    said = {concept: {_spaced(concept)} for concept in concepts}
    for term in vocabulary.terms:
        if term.concept in said:
            said[term.concept] |= {_spaced(each) for each in term.phrases}

    def stands_alone(concept: str) -> bool:
        own, left = said[concept], _spaced(text)
        others = [other for other in concepts if other != concept]
        for phrase in {phrase for other in others for phrase in said[other]} - own:
            if any(each in phrase for each in own):
                left = left.replace(phrase, " ")
        told = left == _spaced(text) or any(each in left for each in own)
        return told and not any(_spaced(concept) in _spaced(other) for other in others)

    return [*filter(stands_alone, concepts)]


def _spaced(text: str) -> str:
    words = " ".join(re.findall(r"[^\W_]+", text.casefold()))
    return f" {words} "


def model_said(answer: Answer, state: SearchState) -> str:
    """Return the model or family as it was said, "" when none was."""
    return ("" if state.family == "none" else state.family) or answer.reading.model


def _is_listed(answer: Answer, state: SearchState, families: Mapping[str, FamilyNote]) -> bool:
    """Tell whether the model said is one that a family note lists, with or without letters after it."""
    said = squeeze(model_said(answer, state))
    if not said or answer.reading.family not in families:
        return True
    listed = [name for each in families.values() for name in (*each.models, each.chassis_family)]
    return any(said.startswith(squeeze(name.partition("*")[0])) for name in listed)


def warnings_for(
    answer: Answer, state: SearchState, knowledge: Knowledge, *, asks_flashes: bool
) -> tuple[str, ...]:
    """Return what the technician must know before trusting the answer."""
    reading = answer.reading
    said = list(answer.notices)
    if answer.unmet_device:
        said.insert(0, f"No repair of {answer.unmet_said} in this notebook yet.")
    if reading.family and not _is_listed(answer, state, knowledge.families):
        said.append(
            f"No family note lists {model_said(answer, state)}; {reading.family} has the nearest name. "
            "Read the label again before you trust the rest."
        )
    if reading.not_understood:
        said.append(f"Not understood: {', '.join(reading.not_understood)}.")
    if answer.causes and answer.causes[0].probability < STANDS_OUT:
        count = asks_flashes and not reading.blinks
        if not reading.family:
            remedy = f"Ask for the model on the label{' and the blink count' if count else ''}."
        elif count:
            remedy = "Count the blinks, if it has any."
        else:
            remedy = "Look at the past repairs below before you open it."
        said.append(f"Nothing stands out. {remedy}")
    return tuple(said)
