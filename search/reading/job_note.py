"""Read a technician's short note of a job into the fields of a case.

"HV-43L2 3 blinks, Q801 gone, 55 min" gives family, make, device, blinks, parts, cause and bench time. A
person confirms what was read, or it is imported with how sure it is.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from operator import itemgetter

from rapidfuzz import fuzz, process, utils

from kb.exchange.rows import FieldRead
from kb.notes.case import Outcome
from kb.notes.durations import find_durations, format_minutes
from kb.notes.family import FamilyNote
from search.reading.complaint import LONGEST_COMPLAINT, read_complaint
from search.reading.concepts import ConceptFinder, default_finder
from search.reading.text import tokenise
from search.reading.word_lists import word_lists

SAME_CAUSE = 90.0  # least likeness with a known cause, per cent; chosen by us (test_job_note)

_SAID = word_lists()["job_note"]
_DESIGNATOR, _PROOF, _WORK = (re.compile(_SAID[name]) for name in ("designator", "proof", "work"))
_CLAUSE_END, _GONE = (re.compile(_SAID[name], re.IGNORECASE) for name in ("clause_end", "gone"))
_OUTCOMES = word_lists()["outcomes"]


@dataclass(frozen=True, kw_only=True)
class KnownCauses:
    """The causes that a notebook knows.

    by_part: by family and designator, the cause of a part whose cases agree: {("HV-L2", "Q801"): name}.
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
    """Return the fields that a technician's note gives by front matter key, each with how sure it is.

    A long text is cut like a complaint. Confidence is a rough order chosen by us: .9 for what is written
    there, .6 for what follows from it, .4 for a guess.

    finder: None for the built-in vocabulary. causes: known ones, so that a cause keeps its name.
    """
    text = text[:LONGEST_COMPLAINT]
    finder = finder or default_finder()
    reading = read_complaint(text, finder=finder, families=families)
    parts = list(dict.fromkeys(" ".join(found[0].split()) for found in _DESIGNATOR.finditer(text)))
    symptoms = [hit.concept for hit in finder.find(tokenise(text)) if hit.kind == "symptom"]
    if not symptoms and reading.blinks is not None:
        symptoms = ["blinking light"]
    cause = _cause(text, reading.family, parts, causes or KnownCauses())
    said = [each for each, words in _OUTCOMES.items() if re.search(rf"\b(?:{words})\b", text, re.I)]
    read: dict[str, tuple[str | list[str], float]] = {
        "chassis_family": (reading.family, 0.9),
        "model": (reading.model, 0.9),
        "make": (reading.make, 0.9),
        "device": (reading.device, 0.9),
        "blinks": ("" if reading.blinks is None else str(reading.blinks), 0.9),
        "parts": (parts, 0.8),
        "symptom": (list(dict.fromkeys(symptoms)), 0.6),
        "root_cause": cause,
        "fix_time": _fix_time(text),
        "outcome": (said[0], 0.9) if said else (str(Outcome.FIXED) if cause[0] else "", 0.6),
    }
    return {name: FieldRead(value=value, confidence=sure) for name, (value, sure) in read.items() if value}


def _cause(text: str, family: str, parts: Sequence[str], causes: KnownCauses) -> tuple[str, float]:
    """Return the cause: a known one by name, else one by its part, else the clause that tells of it."""
    clauses = [clause.strip() for clause in _CLAUSE_END.split(text) if clause.strip()]
    nearest = partial(process.extractOne, scorer=fuzz.token_sort_ratio, processor=utils.default_process)
    named = filter(None, (nearest(each, causes.names, score_cutoff=SAME_CAUSE) for each in clauses))
    if best := max(named, key=itemgetter(1), default=None):
        return str(best[0]), 0.9
    telling = [clause for clause in clauses if _GONE.search(clause)]
    telling.sort(key=lambda clause: not _DESIGNATOR.search(clause))
    for part in parts:
        known = causes.by_part.get((family, part.split()[0]), "")
        if known and (not telling or any(part.split()[0] in clause for clause in telling)):
            return known, 0.6
    return telling[0] if telling else "", 0.4


def _fix_time(text: str) -> tuple[str, float]:
    """Return the bench time: a duration said to be that, else the last one that is not a test run."""
    durations = find_durations(text)
    working = [minutes for before, minutes in durations if _WORK.search(before)]
    others = [minutes for before, minutes in durations if not _PROOF.search(before)]
    if working:
        return format_minutes(working[-1]), 0.9
    return format_minutes(others[-1]) if others else "", 0.8 if len(others) == 1 else 0.5
