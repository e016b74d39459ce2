"""Read a technician's short note of a job into the fields of a case.

"HV-43L2 3 blinks, Q801 gone, 55 min" gives family, make, device, blinks, parts, cause and bench
time. What is read is offered to be confirmed, or imported with how sure it is; nothing is made up.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from rapidfuzz import fuzz, process, utils

from kb.exchange.rows import FieldRead
from kb.notes.case import Outcome
from kb.notes.durations import find_durations, format_minutes
from kb.notes.family import FamilyNote
from search.reading.complaint import Reading, read_complaint
from search.reading.concepts import ConceptFinder, default_finder
from search.reading.text import tokenise

LONGEST_NOTE = 4_000  # characters, as of a complaint
SAME_CAUSE = 90.0  # per cent of likeness with a known cause; chosen by us (test_job_note)

# Reference designators as printed on boards (IEEE 315 class letters, from memory), then a value or type.
_DESIGNATOR = re.compile(
    r"\b(?:IC|BD|ZD|CN|RL|RLY|SW|VR|TH|NTC|MOV|FB|LED|[QDCRLFTUKXY])\d{1,4}[A-Z]?\b"
    r"(?:\s+(?=[\w.]*\d)(?!\d+\s*(?:min|h|hrs?|ohms?|v|volts?|blinks?|flashes)\b)[0-9A-Za-z][\w.]{1,14})?"
)
_CLAUSE_END = re.compile(r"[.;,\n]+(?:\s|$)|\s+-\s+|\s+(?:replaced|fitted|and then|so)\b", re.IGNORECASE)
_GONE = re.compile(
    r"\b(?:gone|blown|shorted|short|open|leaky|faulty|failed|dried|dry|cracked|burnt|corroded|worn"
    r"|stuck|seized|blocked|loose|broken|u/s|duff|high esr)\b",
    re.IGNORECASE,
)
_PROOF = re.compile(r"\b(?:soak\w*|ran|run|running|tested|test|on test|after|every|for)\W+(?:\w+\W+){0,2}$")
_WORK = re.compile(r"\b(?:took|labour|bench|time|total|job|in)\W+(?:\w+\W+){0,1}$")
_OUTCOMES = {
    Outcome.NO_FAULT_FOUND: r"nff|no fault found|could not fault",
    Outcome.NOT_ECONOMIC: r"ber|not economic|beyond economic|scrapped?|not worth",
    Outcome.NOT_FIXED: r"not fixed|not repaired|unrepaired|no cure",
    Outcome.FIXED: r"fixed|repaired|cured|ok now|works? (?:again|now|fine)|all good",
}


@dataclass(frozen=True, kw_only=True)
class KnownCauses:
    """The causes a notebook knows, in their spellings.

    by_part: cause of a part's designator in a family, where its cases agree: {("HV-L2", "Q801"): name}.
    """

    names: Sequence[str] = ()
    by_part: Mapping[tuple[str, str], str] = field(default_factory=dict)


def read_job_note(
    text: str,
    *,
    families: Sequence[FamilyNote] = (),
    finder: ConceptFinder | None = None,
    causes: KnownCauses | None = None,
) -> dict[str, FieldRead]:
    """Return the fields that a technician's note gives, each with how sure it is.

    Args:
        text: of a longer one the first LONGEST_NOTE characters are read.
        families: those of the notebook.
        finder: the vocabulary, the built-in one if None.
        causes: those the notebook knows, to call a cause what it was called before.

    Returns:
        Fields by front matter key. Confidence is 0 to 1, a rough order chosen by us: .9 for what stands
        there in so many words, .6 for what follows from it, .4 for a guess.
    """
    text = text[:LONGEST_NOTE]
    finder = finder or default_finder()
    reading = read_complaint(text, finder=finder, families=families)
    found = _of_the_set(reading)
    parts = _parts(text)
    if parts:
        found["parts"] = FieldRead(value=parts, confidence=0.8)
    symptoms = [hit.concept for hit in finder.find(tokenise(text)) if hit.kind == "symptom"]
    if symptoms:
        found["symptom"] = FieldRead(value=list(dict.fromkeys(symptoms)), confidence=0.6)
    elif reading.blinks is not None:
        found["symptom"] = FieldRead(value=["blinking light"], confidence=0.6)
    cause = _cause(text, reading.family, parts, causes or KnownCauses())
    if cause is not None:
        found["root_cause"] = cause
    minutes = _fix_time(text)
    if minutes is not None:
        found["fix_time"] = minutes
    said = next(
        (each for each, words in _OUTCOMES.items() if re.search(rf"\b(?:{words})\b", text, re.I)), None
    )
    if said is not None:
        found["outcome"] = FieldRead(value=str(said), confidence=0.9)
    elif cause is not None:
        found["outcome"] = FieldRead(value=str(Outcome.FIXED), confidence=0.6)
    return found


def _of_the_set(reading: Reading) -> dict[str, FieldRead]:
    said = {
        "chassis_family": reading.family,
        "model": reading.model,
        "make": reading.make,
        "device": reading.device,
        "blinks": "" if reading.blinks is None else str(reading.blinks),
    }
    return {name: FieldRead(value=value, confidence=0.9) for name, value in said.items() if value}


def _parts(text: str) -> list[str]:
    return list(dict.fromkeys(" ".join(found[0].split()) for found in _DESIGNATOR.finditer(text)))


def _cause(text: str, family: str, parts: Sequence[str], causes: KnownCauses) -> FieldRead | None:
    """Return the cause: a known one that is named, one known by its part, or the clause that tells of it."""
    clauses = [clause.strip() for clause in _CLAUSE_END.split(text) if clause and clause.strip()]
    named = [
        (score, name)
        for clause in clauses
        for name, score, _ in process.extract(
            clause, causes.names, scorer=fuzz.token_sort_ratio, processor=utils.default_process,
            limit=1, score_cutoff=SAME_CAUSE,
        )
    ]  # fmt: skip
    if named:
        return FieldRead(value=max(named)[1], confidence=0.9)
    telling = [clause for clause in clauses if _GONE.search(clause)]
    telling.sort(key=lambda clause: not _DESIGNATOR.search(clause))
    for part in parts:
        known = causes.by_part.get((family, part.split()[0]))
        if known and (not telling or any(part.split()[0] in clause for clause in telling)):
            return FieldRead(value=known, confidence=0.6)
    return FieldRead(value=telling[0], confidence=0.4) if telling else None


def _fix_time(text: str) -> FieldRead | None:
    """Return the bench time: a duration said to be that, else the last one that is no test run."""
    durations = find_durations(text)
    working = [minutes for before, minutes in durations if _WORK.search(before)]
    others = [minutes for before, minutes in durations if not _PROOF.search(before)]
    if working:
        return FieldRead(value=format_minutes(working[-1]), confidence=0.9)
    if others:
        return FieldRead(value=format_minutes(others[-1]), confidence=0.8 if len(others) == 1 else 0.5)
    return None
