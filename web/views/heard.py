"""What was understood of a complaint, and what to doubt of it, in words for page and terminal."""

from collections.abc import Mapping
from dataclasses import dataclass

from kb.notes.family import FamilyNote
from kb.notes.models import squeeze
from search.answering.answer import Answer
from search.answering.knowledge import Knowledge
from search.bench import STILL_LOOKING
from search.learning import STILL_LEARNING
from search.reading.reading import Reading
from search.reading.text import is_stop_word
from web.views.state import SearchState

STANDS_OUT = 0.15  # chosen by us: a likeliest cause below one in seven is only a guess
# What is not called a fault: what is said to work, and what is only named.
_NO_FAULT = {"works": "in order", "part": "also", "board": "also", "action": "also"}
UNSETTLED = (STILL_LEARNING, STILL_LOOKING)  # said beside the probabilities, which they concern


@dataclass(frozen=True)
class Heard:
    """One thing understood. name: "family", "blinks", "fault" and so on. note: a doubt about it."""

    name: str
    said: str
    note: str = ""

    def __str__(self) -> str:
        return f"{self.name} {self.said} {self.note}".rstrip()


def left_out(reading: Reading) -> tuple[tuple[str, str], ...]:
    """Return the parts of a complaint that were left out, each with the reason: "denied", "past"."""
    past = f"past, or of the {reading.other_set}" if reading.other_set else "past"
    spans = [
        (*span, why) for why, found in (("denied", reading.denied), (past, reading.past)) for span in found
    ]
    said: list[tuple[str, str]] = []
    done = 0
    for start, end, why in sorted(spans):
        said.append((reading.text[max(start, done) : end].strip(), why))
        done = max(done, end)
    return tuple((text, why) for text, why in said if text)


def heard_in(answer: Answer, state: SearchState, knowledge: Knowledge) -> tuple[Heard, ...]:
    """Return what was understood."""
    reading, model, codes = answer.reading, model_said(answer, state), map(str.upper, answer.reading.codes)
    doubt = "from" if _is_listed(answer, state, knowledge.families) else "nearest to"
    told = model and model.upper() != reading.family.upper()
    kind = {term.concept: term.kind for term in knowledge.vocabulary.terms}
    concepts = [concept for concept in reading.concepts if kind.get(concept) != "device"]
    alone = [one for one in concepts if not any(f" {one} " in f" {other} " for other in {*concepts} - {one})]
    taken = (*reading.instead_of.items(), *reading.taken_for.items())
    heard = [
        Heard("family", reading.family, f"{doubt} {model}" if told else ""),
        Heard("blinks", str(reading.blinks or "")),
        *([] if reading.family else [Heard("make", reading.make), Heard("set", reading.device)]),
        *(
            Heard(
                name, ", ".join(each for each in alone if _NO_FAULT.get(kind.get(each, ""), "fault") == name)
            )
            for name in ("fault", "in order", "also")
        ),
        Heard("perhaps", reading.danger_heard),
        Heard("code", " ".join(each for each in codes if each not in reading.not_understood)),
        *(Heard(f"“{said}” taken as", meant) for said, meant in taken if not is_stop_word(meant)),
    ]
    only_words = Heard("only the words", " ".join(reading.words) or "(none)")
    strange = [Heard("not understood", ", ".join(reading.not_understood))] if reading.not_understood else []
    return (*([each for each in heard if each.said] or [only_words]), *strange)


def model_said(answer: Answer, state: SearchState) -> str:
    """Return the model or family as it was said, "" when none was."""
    return ("" if state.family == "none" else state.family) or answer.reading.model


def _is_listed(answer: Answer, state: SearchState, families: Mapping[str, FamilyNote]) -> bool:
    """Tell whether a family note lists the model that was said, with or without a suffix."""
    said = squeeze(model_said(answer, state))
    if not said or answer.reading.family not in families:
        return True
    listed = [name for each in families.values() for name in (*each.models, each.chassis_family)]
    return any(said.startswith(squeeze(name.partition("*")[0])) for name in listed)


def warnings_for(
    answer: Answer, state: SearchState, knowledge: Knowledge, *, asks_flashes: bool
) -> tuple[str, ...]:
    """Return what the technician must know before trusting the answer, in few words."""
    reading = answer.reading
    said = [notice for notice in answer.notices if notice not in UNSETTLED]
    if answer.unmet_device:
        said.insert(0, f"No repair of {answer.unmet_said} in this notebook yet.")
    if reading.family and not _is_listed(answer, state, knowledge.families):
        said.append(
            f"No family note lists {model_said(answer, state)}; {reading.family} has the nearest name. "
            "Read the label again before you trust the rest."
        )
    likeliest = [each.probability for each in answer.causes[:1]]
    likeliest += [each.probability for each in answer.known_in_general]
    guess = answer.causes and answer.cases and max(likeliest) < STANDS_OUT
    if guess and not (said or state.found):
        count = asks_flashes and not reading.blinks
        if not reading.family:
            remedy = f"Ask for the model on the label{' and the blink count' if count else ''}."
        elif count:
            remedy = "Count the blinks, if it has any."
        else:
            remedy = "Look at the past repairs below before you open it."
        said.append(f"Nothing stands out. {remedy}")
    return tuple(said)
