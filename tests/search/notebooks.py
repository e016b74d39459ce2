"""Small notebooks for the tests of the index."""

from pathlib import Path

from kb.notebook import Notebook

FAULTS = [
    ("dead", "PFC MOSFET shorted", "3"),
    ("no picture, sound is fine", "open LED strip", "6"),
    ("clicks and restarts", "dried-out capacitor on the 12 V rail", "2+3"),
    ("lines on the screen", "corroded ribbon connector", ""),
    ("no sound", "speaker amplifier IC shorted", "about 4"),
]


def note_text(case: str, **changes: str) -> str:
    """Return a note that can be read, with fields changed; number the fault by the last letters of `case`."""
    symptom, cause, blinks = FAULTS[sum(map(ord, case)) % len(FAULTS)]
    fields = {
        "case": case,
        "date": f"{case[:4]}-{case[4:6]}-{case[6:8]}",
        "device": "LED TV",
        "make": "Halvern",
        "model": "HV-43L2",
        "chassis_family": "HV-L2",
        "complaint": f"Owner says {symptom} since Tuesday",
        "symptom": f"[{symptom.split(',')[0]}]",
        "blinks": blinks,
        "root_cause": cause,
        "fix": "part replaced",
        "fix_time": "40 min",
        "outcome": "fixed",
        **changes,
    }
    head = "".join(f"{name}: {value}\n" for name, value in fields.items() if value)
    return f"---\n{head}---\nSeen on the bench: {symptom}, marker{case[-4:]}.\n"


def case_number(number: int) -> str:
    """Return the number of the nth case: two a day from 2024-01-01 on."""
    return f"2024{1 + number // 56 % 12:02d}{1 + number // 2 % 28:02d}-a{number:03d}"


def write_note(root: Path, case: str, **changes: str) -> Path:
    """Write a note where the notebook keeps it."""
    path = root / "cases" / case[:4] / f"{case}.md"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(note_text(case, **changes), encoding="utf-8")
    return path


def small_notebook(root: Path, count: int = 12) -> Notebook:
    """Make a notebook of that many cases."""
    (root / "cases").mkdir(parents=True, exist_ok=True)
    for number in range(count):
        write_note(root, case_number(number))
    return Notebook(root)
