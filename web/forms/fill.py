"""What the write-up form fills in by itself, and earlier cases that it may repeat."""

import datetime
from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

from rapidfuzz import fuzz, process, utils

from kb.errors import say_count
from kb.exchange.rows import FieldRead, split_list
from kb.notes.case import CaseNote
from kb.notes.models import find_family
from search.answering.knowledge import Knowledge
from search.bench import Bench
from search.index.case_table import code_of
from search.index.documents import days as day_number
from search.reading.complaint import LONGEST_COMPLAINT
from search.reading.job_note import read_job_note
from web.forms.note_form import Texts, joined, texts_from_reading

SURE = 0.9  # confidence of a field, below which the form says "Check this"
LIKE_CAUSE = 78.0  # least likeness to be taken for a known cause, per cent; chosen by us (test_fill)

# All chosen by us; test_alike would notice.
SAME_WORDS = 92.0  # per cent: one complaint typed twice differs by a slip of the finger
LIKE_WORDS = 70.0  # per cent: one fault told twice by the same owner
ASKED_ABOUT_DAYS = 180
AHEAD_DAYS = 31  # in a date further ahead the year is probably mistyped
DOUBLE_DAYS = 3  # one repair is written up twice within days, not weeks
LOOKED_AT = 20


def read_line(known: Knowledge, line: str) -> Mapping[str, FieldRead]:
    """Read fields from free text about a job, with the names of the notebook."""
    families = list(known.families.values())
    return read_job_note(line, families=families, finder=known.finder, causes=known.known_causes)


def from_line(bench: Bench, line: str, blank: Texts) -> tuple[Texts, dict[str, str]]:
    """Return the texts of the form for one line about a job, and where each guessed text comes from."""
    found = read_line(bench.knowledge, line)
    said = {name: each.value for name, each in found.items()}
    read = {name: joined(value) if isinstance(value, list) else value for name, value in said.items()}
    look = {name: "read from your line" for name, each in found.items() if each.confidence < SURE}
    known = bench.knowledge.profile_of(read.get("root_cause", ""), read.get("chassis_family", ""))
    if known and known.board and not read.get("board"):
        read["board"], look["board"] = known.board, "the board of this cause so far"
    return {**blank, **read, "body": line}, look


def symptoms_in(bench: Bench, concepts: Sequence[str]) -> list[str]:
    """Return the concepts that are symptoms."""
    symptoms = {term.concept for term in bench.knowledge.vocabulary.of_kind("symptom")}
    return [concept for concept in concepts if concept in symptoms]


def checks_done(
    knowledge: Knowledge, family: str, ruled_out: Sequence[str], noted: Mapping[str, str], found: str
) -> str:
    """Return the checks done as a markdown table, "" for none. found: the cause that it was, or ""."""
    if not ruled_out and not noted:
        return ""
    order = [cause for cause in dict.fromkeys((*ruled_out, *noted)) if cause != found] + [found]
    rows = ["Checks done, in order:", "", "| check | read | told |", "| --- | --- | --- |"]
    for cause in filter(None, order):
        said = "not it" if cause in ruled_out else "not decided"
        known = knowledge.profile_of(cause, family)
        check = (known and known.check.check) or f"looked for {cause}"
        told = it_was(cause) if cause == found else _cell(f"{cause}: {said}")
        rows.append(f"| {_cell(check)} | {_cell(noted.get(cause, ''))} | {told} |")
    return "\n".join(rows) + "\n"


def it_was(cause: str) -> str:
    """Return the line of the checks table for the cause that it was."""
    return _cell(f"{cause}: it was this")


def old_cause_told(old: str, new: str, body: str) -> str:
    """Return a notice if the text of a case with a new cause still tells of the old one, else ""."""
    told = bool(old) and old != new and it_was(old) in body
    return f"The text still says “{it_was(old)}”. Revise the note again and correct it there." if told else ""


def _cell(text: str) -> str:
    return " ".join(text.replace("\\", "\\\\").replace("|", "\\|").split())


def help_with(bench: Bench, typed: Mapping[str, str], today: datetime.date) -> dict[str, Any]:
    """Return what can be filled in or offered for what was typed so far.

    `fill`: by box, the text to put where nothing was typed. `says`: by box, a line on what was recognised.
    `offers`: by box, texts to choose from. `alike`: earlier cases that this one may repeat.
    """
    reading = bench.read(typed.get("complaint", "")[:LONGEST_COMPLAINT])
    symptoms = symptoms_in(bench, reading.concepts)
    fill = {**texts_from_reading(reading), "symptom": joined(symptoms), "complaint": ""}
    says: dict[str, str] = {}
    said = typed.get("model") or typed.get("chassis_family") or reading.model or reading.family
    match = find_family(said, list(bench.knowledge.families.values())) if said else None
    if match is not None:
        family = match.family
        fill |= {"chassis_family": family.chassis_family, "make": family.make, "device": family.device}
        box = "chassis_family" if typed.get("chassis_family") and not typed.get("model") else "model"
        says[box] = f"The nearest family is {family.chassis_family}. Read the label again."
        if match.exact:
            says[box] = f"{family.chassis_family}: {' '.join(filter(None, (family.make, family.device)))}."
    family_name = typed.get("chassis_family") or fill["chassis_family"]
    offers, says["root_cause"] = _of_cause(bench, typed.get("root_cause", ""), family_name)
    return {
        "fill": {name: text for name, text in fill.items() if text},
        "says": {name: text for name, text in says.items() if text},
        "offers": {**offers, "symptom": symptoms},
        "alike": _alike(bench, typed, fill, today),
    }


def _of_cause(bench: Bench, cause: str, family: str) -> tuple[dict[str, list[str]], str]:
    """Return what the cases of a cause offer for other boxes, and a line about its name."""
    knowledge = bench.knowledge
    if len(cause.strip()) < 3:
        return {}, ""
    ruling, said = knowledge.ruling([cause]), "This is"
    if not ruling.codes.size:
        near = process.extractOne(
            cause, knowledge.table.cause_names, scorer=fuzz.token_sort_ratio,
            processor=utils.default_process, score_cutoff=LIKE_CAUSE,
        )  # fmt: skip
        if near is None:
            return {}, ""
        ruling, said = knowledge.ruling([near[0]]), "This looks like"
    name, codes = ruling.names[0], tuple(ruling.codes.tolist())
    profile = knowledge.profile(codes, code_of(knowledge.table.family_names, family))
    counted = f"({say_count(len(profile.rows), 'case')})"
    says = f"{said} “{name}” {counted}." if name != cause else f"In the notebook {counted}."
    offers = {"board": [profile.board], "check": [profile.check.check], "proof": list(profile.proof)}
    offers |= {"parts": [joined(list(profile.parts))], "root_cause": [name] if name != cause else []}
    filled = {name: list(filter(None, texts)) for name, texts in offers.items()}
    return {name: texts for name, texts in filled.items() if texts}, says


def _alike(
    bench: Bench, typed: Mapping[str, str], fill: Mapping[str, str], today: datetime.date
) -> list[dict[str, Any]]:
    family = typed.get("chassis_family") or fill["chassis_family"]
    if not family or not (typed.get("complaint") or typed.get("root_cause")):
        return []
    symptom = tuple(split_list(typed.get("symptom") or fill["symptom"]))
    names = ("model", "complaint", "root_cause", "comeback_of")
    said: dict[str, Any] = {name: typed.get(name, "") for name in names}
    note = CaseNote.model_construct(date=today, chassis_family=family, symptom=symptom, **said)
    shown = {"case", "root_cause", "complaint"}
    return [
        {**each.earlier.model_dump(include=shown), "says": each.says, "comeback": each.comeback}
        for each in find_alike(bench, note)[:3]
    ]


class Alike(NamedTuple):
    """An earlier case to look at before saving: the same set come back, or the same repair written twice."""

    earlier: CaseNote
    comeback: bool

    @property
    def says(self) -> str:
        """Return the question to put to the technician."""
        return f"Is this the same {'set, come back' if self.comeback else 'repair, written up twice'}?"


def slips_in(bench: Bench, note: CaseNote, today: datetime.date) -> list[str]:
    """Return questions about likely slips in a new case."""
    newest = max(day_number(today), bench.knowledge.table.date_days.max(initial=0))
    ahead = day_number(note.date) > newest + AHEAD_DAYS
    found = [f"Is the date right? {note.date}"] if ahead else []
    match = find_family(note.model, list(bench.knowledge.families.values())) if note.model else None
    if match and match.exact and match.family.chassis_family != note.chassis_family:
        found.append(f"Is the family right? {note.model} is in the note of {match.family.chassis_family}.")
    return found


def find_alike(bench: Bench, note: CaseNote) -> list[Alike]:
    """Return the earlier cases that this one may repeat, possible doubles first."""
    asked = note.complaint or ", ".join(note.symptom)
    answer = bench.answer(asked, family=note.chassis_family, blinks=str(note.blinks or ""), limit=LOOKED_AT)
    doubles, again = [], []
    for earlier in (each.note for each in answer.cases if each.note):
        # Sets of the same model, or of the same family if a model is missing.
        kind = "model" if note.model and earlier.model else "chassis_family"
        same_kind = getattr(note, kind).casefold() == getattr(earlier, kind).casefold()
        if earlier.case in (note.case, note.comeback_of) or not same_kind:
            continue
        days = (note.date - earlier.date).days
        same_cause = bool(note.root_cause) and note.root_cause.casefold() == earlier.root_cause.casefold()
        told, like = (note.complaint, earlier.complaint), 0.0
        if all(told):
            like = fuzz.token_sort_ratio(*told, processor=utils.default_process)
        same_words = like >= SAME_WORDS if all(told) else set(earlier.symptom) == set(note.symptom)
        if same_cause and same_words and abs(days) <= DOUBLE_DAYS:
            doubles.append(Alike(earlier, comeback=False))
        elif (like >= LIKE_WORDS or same_cause) and 0 < days <= ASKED_ABOUT_DAYS and not note.comeback_of:
            again.append(Alike(earlier, comeback=True))
    return doubles + again
