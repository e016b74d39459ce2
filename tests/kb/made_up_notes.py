"""Notes and strategies that the tests of kb share."""

import datetime
from collections.abc import Callable
from pathlib import Path
from typing import Any

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st

from kb.notebook import Notebook
from kb.notes.blinks import COLOURS, BlinkPattern, Group
from kb.notes.case import ALPHABET, CASE_FIELDS, CaseNote, Outcome
from kb.notes.family import FAMILY_FIELDS, FamilyNote

CASE_ID = "20260318-k7f2"
CASE_PATH = f"cases/2026/{CASE_ID}.md"
CASE_TEXT = f"""---
case: {CASE_ID}
date: 2026-03-18
device: LED TV
make: Halvern
chassis_family: HV-L2
complaint: Went off with a pop at teatime.
symptom: [dead, blinking standby light]
blinks: 3 or 4
root_cause: PFC MOSFET shorted
check_time: 6 min
parts: [Q801 20N60C3, R812 10R]
fix_time: 55 min
outcome: fixed
caution: [mains, stored charge]
tech: RK
---
Bulb limiter lit fully, then not at all.
"""


def unhurried(examples: int = 100) -> Callable[[Any], Any]:
    """Run so many examples, however slow the machine: no test of ours depends on timing."""
    return settings(
        max_examples=examples,
        deadline=None,
        suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture],
    )


def empty_notebook(folder: Path) -> Notebook:
    """Make a notebook without notes."""
    (folder / "cases").mkdir(parents=True)
    return Notebook(folder)


def put(nb: Notebook, relpath: str, text: str | bytes) -> str:
    """Put a file into the notebook the way an editor does, and return its path within it."""
    path = nb.root / relpath
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(text if isinstance(text, bytes) else text.encode("utf-8"))
    return relpath


def new_case(**changed: Any) -> CaseNote:
    """Return a good case that has no number yet."""
    fields = {
        "date": "2026-03-18",
        "device": "LED TV",
        "chassis_family": "HV-L2",
        "symptom": ["dead"],
        "root_cause": "PFC MOSFET shorted",
        "fix_time": "55 min",
        "outcome": "fixed",
    }
    return CaseNote.from_fields({**fields, **changed})


def _writable(text: str) -> bool:
    return not any(ord(character) in {0xFFFE, 0xFFFF} for character in text)


texts = st.text(
    st.characters(exclude_categories=("Cs", "Cc"), include_characters="\n\t\x85"), max_size=40
).filter(_writable) | st.sampled_from(
    ["no", "1:20", "012", "~", "null", "- a", "a: b", "a #b", "'", '"', "[x", "{y}", "*", "&", "!", "%", "@",
     "`", ">", "|", "---", "...", "?", ": ", "#", "=", "<<", "a\n\n  b", "  x",
     "Q801: 0.4 ohm", "say \"it's\""]
)  # fmt: skip
"""Texts a note can hold, the awkward ones for YAML often among them."""

filled_texts = texts.filter(lambda text: bool(text.strip()))
minutes = st.integers(0, 10_000)
days = st.dates(datetime.date(1950, 1, 1), datetime.date(2199, 12, 31))
groups = st.builds(Group, st.integers(1, 60), st.sampled_from(["", "long", "short"]))
patterns = st.builds(
    BlinkPattern,
    alternatives=st.lists(st.lists(groups, min_size=1, max_size=4).map(tuple), min_size=1, max_size=3).map(
        tuple
    ),
    colour=st.sampled_from(["", *COLOURS]),
    doubtful=st.booleans(),
)
case_ids = st.builds(
    lambda day, tail: f"{day:%Y%m%d}-{tail}", days, st.text(ALPHABET, min_size=4, max_size=4)
)


def unknown_fields(known: tuple[str, ...]) -> st.SearchStrategy[dict[str, Any]]:
    """Return fields the program does not know: texts, lists and mappings under names of any kind."""
    names = texts.map(lambda text: " ".join(text.split())).filter(
        lambda name: bool(name) and name not in known
    )
    values = st.recursive(
        texts, lambda inner: st.lists(inner, max_size=3) | st.dictionaries(names, inner, max_size=3)
    )
    return st.dictionaries(names, values, max_size=3)


cases = st.builds(
    CaseNote,
    case=case_ids,
    date=days,
    device=filled_texts,
    make=texts,
    model=texts,
    chassis_family=filled_texts,
    complaint=texts,
    symptom=st.lists(filled_texts, min_size=1, max_size=3),
    blinks=st.none() | patterns,
    root_cause=filled_texts,
    board=texts,
    check=texts,
    check_time=st.none() | minutes,
    fix=texts,
    parts=st.lists(filled_texts, max_size=3),
    fix_time=minutes,
    proof=texts,
    outcome=st.sampled_from(Outcome),
    comeback_of=texts,
    caution=st.lists(filled_texts, max_size=2),
    tech=texts,
    body=texts,
    unknown=unknown_fields((*CASE_FIELDS, "body")),
)
families = st.builds(
    FamilyNote,
    chassis_family=filled_texts,
    device=filled_texts,
    make=texts,
    models=st.lists(filled_texts, max_size=3),
    opening_time=st.none() | minutes,
    before_power=st.lists(filled_texts, max_size=3),
    tell_owner=st.lists(filled_texts, max_size=3),
    while_open=st.lists(filled_texts, max_size=3),
    caution=st.lists(filled_texts, max_size=2),
    blink_meaning=st.dictionaries(patterns, texts, max_size=3),
    boards=st.lists(filled_texts, max_size=3),
    body=texts,
    unknown=unknown_fields((*FAMILY_FIELDS, "body")),
)
