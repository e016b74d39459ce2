import datetime
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pytest

from kb.notes.blinks import BlinkPattern
from kb.notes.case import CaseNote, Outcome
from search.causes.model_store import KEPT_FILE
from search.causes.notebook_causes import NotebookCauses
from search.index.case_table import CaseTable
from search.index.postings import MemoryPostings
from search.reading.complaint import read_complaint
from search.reading.concepts import default_finder
from search.reading.vectors import load_meaning
from search.stats.arrays import FloatArray
from tests.search.labelled import COMPLAINTS
from tests.search.tables import documents_from_cases, table_of

FAMILY_OF = {
    "backlight strip open": ("F-TV", "LED TV", "6"),
    "standby capacitor worn": ("F-TV", "LED TV", "2"),
    "mains fuse blown": ("F-TV", "LED TV", ""),
    "drain pump blocked": ("F-WM", "washing machine", "4"),
    "door switch worn": ("F-WM", "washing machine", ""),
    "fan full of dust": ("F-AV", "AV receiver", "6"),
}


@dataclass(frozen=True)
class MemoryState:
    """A state of an index that is not on disk."""

    source: MemoryPostings
    table: CaseTable
    generation: str
    vectors: Sequence[FloatArray] | None
    lexicon: None = None


def state_of(notes: Sequence[CaseNote], *, generation: str = "1", meaning: bool = True) -> MemoryState:
    """Return the state of an index that holds some notes."""
    documents = documents_from_cases(notes)
    space = load_meaning() if meaning else None
    vectors = None if space is None else space.vectors([note.complaint for note in notes])
    return MemoryState(
        source=MemoryPostings([document.terms for document in documents]),
        table=table_of(documents),
        generation=generation,
        vectors=None if vectors is None else [vectors.astype(np.float16)],
    )


def invented_notes() -> list[CaseNote]:
    """Return sixty cases of six causes, one a day, causes in turn."""
    start = datetime.date(2025, 1, 1)
    notes = []
    for turn in range(10):
        for at, (cause, complaints) in enumerate(COMPLAINTS.items()):
            family, device, blinks = FAMILY_OF[cause]
            day = start + datetime.timedelta(days=turn * 6 + at)
            notes.append(
                CaseNote(
                    case=f"{day:%Y%m%d}-{turn}a{at}z",
                    date=day,
                    device=device,
                    chassis_family=family,
                    complaint=complaints[turn],
                    symptom=("see complaint",),
                    blinks=BlinkPattern.parse(blinks) if blinks else None,
                    root_cause=cause,
                    fix_time_min=30,
                    outcome=Outcome.FIXED,
                )
            )
    return notes


@pytest.fixture(scope="module")
def causes() -> NotebookCauses:
    return NotebookCauses.learn(state_of(invented_notes()), default_finder())


def _first(causes: NotebookCauses, text: str, **said: object) -> str:
    odds = causes.odds(read_complaint(text, **said))  # type: ignore[arg-type]
    return causes.table.cause_names[int(odds.probability.argmax())]


def _case_causes(causes: NotebookCauses, text: str, count: int, **said: object) -> list[str]:
    weight = causes.odds(read_complaint(text, **said)).case_weight  # type: ignore[arg-type]
    rows = np.argsort(-weight, kind="stable")[:count]
    return [causes.table.note(int(row)).root_cause for row in rows]


@pytest.mark.parametrize(
    ("text", "cause"),
    [
        ("screen stays black but I hear the sound", "backlight strip open"),
        ("there is water left in the drum", "drain pump blocked"),
        ("loud bang, then completely dead", "mains fuse blown"),
        ("gets very hot and noisy", "fan full of dust"),
    ],
)
def test_words_alone_find_the_cause_and_its_cases(causes: NotebookCauses, text: str, cause: str) -> None:
    assert _first(causes, text) == cause
    assert _case_causes(causes, text, 3).count(cause) >= 2


def test_blinks_mean_what_they_mean_in_the_family(causes: NotebookCauses) -> None:
    six = BlinkPattern.parse("6")
    assert _first(causes, "", blinks=six, family="F-AV") == "fan full of dust"
    assert _first(causes, "", blinks=six, family="F-TV") == "backlight strip open"


def test_the_family_settles_what_words_leave_open(causes: NotebookCauses) -> None:
    dead_tv = causes.odds(read_complaint("dead", family="F-TV")).probability
    dead_washer = causes.odds(read_complaint("dead", family="F-WM")).probability
    fuse = causes.table.cause_names.index("mains fuse blown")
    switch = causes.table.cause_names.index("door switch worn")
    assert dead_tv[fuse] / dead_tv[switch] > dead_washer[fuse] / dead_washer[switch]


def test_without_meaning_words_still_answer() -> None:
    causes = NotebookCauses.learn(state_of(invented_notes(), meaning=False), default_finder())
    assert causes.meaning is None
    assert _first(causes, "water in the drum, will not drain") == "drain pump blocked"


def test_what_was_learned_is_kept_and_taken_up_again(tmp_path: Path) -> None:
    state = state_of(invented_notes())
    learned = NotebookCauses.learn(state, default_finder(), folder=tmp_path)
    stamp = (tmp_path / KEPT_FILE).read_bytes()
    taken_up = NotebookCauses.learn(state, default_finder(), folder=tmp_path)
    assert (tmp_path / KEPT_FILE).read_bytes() == stamp
    said = read_complaint("dead with a pop")
    assert taken_up.odds(said).probability == pytest.approx(learned.odds(said).probability, abs=1e-9)


def test_a_new_note_is_learned_with_the_tuning_that_was_kept(tmp_path: Path) -> None:
    notes = invented_notes()
    before = NotebookCauses.learn(state_of(notes[:-1]), default_finder(), folder=tmp_path)
    after = NotebookCauses.learn(state_of(notes, generation="2"), default_finder(), folder=tmp_path)
    assert after.model.tuning == before.model.tuning
    assert not np.array_equal(after.model.linear["means"].weights, before.model.linear["means"].weights)


def test_very_many_cases_are_learned_from_the_newest_of_each_cause(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("search.causes.notebook_causes._MOST_LEARNED", 12)
    causes = NotebookCauses(state_of(invented_notes()), default_finder())
    assert list(causes.history().queries) == list(range(48, 60))


def test_words_for_a_device_are_left_out_once_it_is_known(causes: NotebookCauses) -> None:
    said = replace(read_complaint("telly wont come on"), device="LED TV")
    bare = replace(read_complaint("wont come on"), device="LED TV")
    asked, known = causes.maker.queries([said, bare])
    assert [term.term for term in asked.terms] == [term.term for term in known.terms]
    width = causes.maker.width
    assert np.array_equal(asked.row[:width], known.row[:width])
    assert not np.array_equal(asked.row[width:], known.row[width:])  # a sentence keeps its subject


def test_a_past_case_and_the_same_complaint_asked_have_the_same_features(causes: NotebookCauses) -> None:
    note = causes.table.note(0)
    reading = replace(
        read_complaint(note.complaint, finder=default_finder()),
        family=note.chassis_family,
        device=note.device,
        blinks=note.blinks,
    )
    learned, (asked,) = causes.history().queries[0], causes.maker.queries([reading])
    assert np.array_equal(learned.row, asked.row)
    assert learned.vector is not None
    assert np.array_equal(learned.vector, asked.vector)
    assert (learned.terms, learned.family, learned.device, learned.blinks) == (
        asked.terms, asked.family, asked.device, asked.blinks
    )  # fmt: skip


def test_an_owners_words_are_asked_and_symptoms_where_there_are_none() -> None:
    told = invented_notes()[0]
    silent = told.model_copy(update={"complaint": "", "symptom": ("hums", "gets warm")})
    queries = NotebookCauses(state_of([told, silent]), default_finder()).history().queries
    assert "hum" not in [each.term for each in queries[0].terms]
    assert {"hum", "warm"} <= {each.term for each in queries[1].terms}


def test_a_notebook_of_eleven_cases_stays_humble() -> None:
    causes = NotebookCauses.learn(state_of(invented_notes()[:11]), default_finder())
    odds = causes.odds(read_complaint("dead", family="F-TV", blinks=BlinkPattern.parse("2")))
    assert odds.probability.max() < 0.8
    known = odds.probability[odds.probability > 0]
    assert known.min() > 1e-4


@pytest.mark.parametrize(("first", "second"), [(1, 1), (1, 2)])
def test_two_rare_causes_told_in_the_same_words_stand_near_each_other(first: int, second: int) -> None:
    notes = invented_notes()
    told = {
        "coil whines": ["whistles softly at night"] * first,
        "core of the transformer loose": ["at night it whistles softly"] * second,
    }
    for at, (cause, complaints) in enumerate(told.items()):
        for turn, complaint in enumerate(complaints):
            number = f"20260101-{at}{turn}wz"
            notes.append(
                notes[0].model_copy(
                    update={"case": number, "complaint": complaint, "root_cause": cause, "blinks": None}
                )
            )
    causes = NotebookCauses.learn(state_of(notes), default_finder())
    chances = causes.odds(read_complaint("whistles softly at night", finder=default_finder())).probability
    one, other = (chances[causes.table.cause_names.index(cause)] for cause in told)
    assert one + other > 0.5
    assert max(one, other) < 10 * min(one, other)  # fifty to one would be claimed on next to nothing
