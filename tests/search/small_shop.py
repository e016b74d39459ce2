"""A notebook of a few repairs in three families, for the tests of answers."""

import threading
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from kb.notebook import Notebook
from kb.notes.case import CaseNote
from kb.notes.family import FamilyNote
from kb.terms import load_vocabulary
from search.answering.knowledge import Knowledge
from search.index.postings import MemoryPostings
from search.index.segments import empty_segments
from search.index.snapshot import Snapshot
from tests.search.tables import documents_from_cases, table_of

TV = {"device": "LED TV", "make": "Halvern", "chassis_family": "HV-L2", "model": "HV-43L2"}
MICROWAVE = {"device": "microwave oven", "make": "Brackwater", "chassis_family": "BW-M7", "model": "BM-20M7"}
# Cases, but no family note: nobody has written one yet.
HOB = {"device": "induction hob", "make": "Corvessa", "chassis_family": "CV-I6", "model": "CI-60I6"}

FAMILY_NOTES = {
    "hv-l2": """---
chassis_family: HV-L2
device: LED TV
make: Halvern
models: [HV-43L2, HV-49L2]
opening_time: 14 min
before_power: [Look at the fuse F801, Press the flat cable home]
tell_owner: [Pull the plug and leave it out]
while_open: [Change C833]
caution: [heavy set, mains]
blink_meaning:
  "6": backlight protection
---
""",
    "bw-m7": """---
chassis_family: BW-M7
device: microwave oven
make: Brackwater
models: [BM-20M7]
opening_time: 8 min
before_power: [Check the door first]
tell_owner: [Leave it unplugged]
while_open: [All three door switches]
caution: [microwave high voltage, stored charge]
---
""",
}

STRIP = {
    **TV,
    "complaint": "Sound but the screen is dark, six flashes",
    "symptom": ["no backlight", "sound but no picture"],
    "blinks": "6",
    "root_cause": "LED strip open circuit",
    "board": "backlight",
    "check": "LED tester on CN803, string dark",
    "check_time": "5 min",
    "fix": "strips replaced",
    "parts": ["LED strips 43 set of 4"],
    "fix_time": "1 h 30 min",
    "proof": "3 h on a white picture",
    "outcome": "fixed",
}
FET = {
    **TV,
    "complaint": "Went off with a pop, three flashes",
    "symptom": ["dead"],
    "blinks": "3",
    "root_cause": "PFC MOSFET shorted",
    "board": "power supply",
    "check": "Q801 drain to source with the plug out",
    "check_time": "3 min",
    "fix": "Q801 and F801 replaced",
    "parts": ["Q801 20N60C3"],
    "fix_time": "55 min",
    "outcome": "fixed",
    "caution": ["stored charge"],
}
LOCK = {
    **TV,
    "complaint": "Volume stops at twenty",
    "symptom": ["low volume"],
    "root_cause": "hotel lock left on",
    "check": "open the menu with the remote control",
    "check_time": "2 min",
    "fix": "switched off",
    "fix_time": "15 min",
    "outcome": "no fault found",
}
DOOR = {
    **MICROWAVE,
    "complaint": "Everything went off when the door was opened",
    "symptom": ["dead", "fuse blown"],
    "root_cause": "door switch worn",
    "board": "door switches",
    "check": "S1 by ohmmeter, plug out",
    "check_time": "6 min",
    "fix": "all three switches",
    "fix_time": "40 min",
    "outcome": "fixed",
}
IGBT = {
    **HOB,
    "complaint": "One zone went off with a bang, five flashes",
    "symptom": ["one zone dead"],
    "blinks": "5",
    "root_cause": "IGBT shorted",
    "board": "left power board",
    "check": "Q1 to Q4 collector to emitter, disconnected",
    "fix": "Q1 and Q2 replaced",
    "fix_time": "1 h 35 min",
    "outcome": "fixed",
}
REPAIRS: dict[str, dict[str, Any]] = {
    "20240110-aaa1": STRIP,
    "20240214-aaa2": {**STRIP, "root_cause": "open circuit LED strip", "fix_time": "1 h 40 min"},
    "20240320-aaa3": {**STRIP, "complaint": "dark again, only sound", "comeback_of": "20240110-aaa1"},
    "20240401-bbb1": FET,
    "20240502-bbb2": {**FET, "complaint": "bang and then dead", "blinks": "3 or 4", "fix_time": "45 min"},
    "20240603-ccc1": LOCK,
    "20240704-ddd1": DOOR,
    "20240805-ddd2": {**DOOR, "root_cause": "worn door switch", "complaint": "starts only when slammed"},
    "20240906-eee1": IGBT,
    "20241007-eee2": {**IGBT, "complaint": "five blinks, left side dead", "outcome": "not economic"},
    "20241108-aaa4": {**STRIP, "comeback_of": "20240110-aaa1", "date": "2024-11-08"},
}
BAD_NOTE = "---\ncase: 20240909-fff1\ndate: soon\ndevice: LED TV\n---\nThe wombat module hums.\n"


def repair(case: str, fields: dict[str, Any]) -> CaseNote:
    """Return a case note; its date is that of its id."""
    return CaseNote.from_fields({"date": f"{case[:4]}-{case[4:6]}-{case[6:8]}", **fields, "case": case})


def write_repair(root: Path, note: CaseNote) -> Path:
    """Write a case note where a notebook keeps it."""
    path = root / "cases" / note.case[:4] / f"{note.case}.md"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(note.as_text(), encoding="utf-8")
    return path


def write_bad_note(root: Path) -> Path:
    """Write a note that cannot be read as a case."""
    path = root / "cases" / "2024" / "20240909-fff1.md"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(BAD_NOTE, encoding="utf-8")
    return path


def small_shop(root: Path) -> Notebook:
    """Make a notebook of REPAIRS, with notes for two of its three families."""
    for case, fields in REPAIRS.items():
        write_repair(root, repair(case, fields))
    (root / "families").mkdir()
    for name, text in FAMILY_NOTES.items():
        (root / "families" / f"{name}.md").write_text(text, encoding="utf-8")
    return Notebook(root)


def wait_for_learning() -> None:
    """Return when no bench of this process learns beside its answers."""
    for thread in threading.enumerate():
        if thread.name == "learning":
            thread.join()


def family_notes() -> dict[str, FamilyNote]:
    """Return the family notes by name."""
    notes = [FamilyNote.parse(text, file=f"families/{name}.md") for name, text in FAMILY_NOTES.items()]
    return {note.chassis_family: note for note in notes}


def knowledge_of(notes: Sequence[CaseNote], families: Mapping[str, FamilyNote] | None = None) -> Knowledge:
    """Return what answers know of some cases that are in no index."""
    vocabulary = load_vocabulary()
    documents = documents_from_cases(notes, vocabulary=vocabulary)
    source = MemoryPostings([document.terms for document in documents])
    return Knowledge(
        Snapshot(source, table_of(documents), "", empty_segments(0)), dict(families or {}), vocabulary
    )
