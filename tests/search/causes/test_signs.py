"""What is generally known of faults finds a cause of few cases in words that none of them used."""

import datetime
from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np
import pytest

from kb.notes.case import CaseNote, Outcome
from kb.terms import Fault, load_vocabulary
from search.causes import fault_signs, known_faults
from search.causes.model_store import CauseModel
from search.causes.notebook_causes import NotebookCauses
from search.causes.odds import CauseOdds
from search.causes.opinions.signs import OPINION
from search.causes.query_features import QueryFeatures, QueryMaker
from search.reading.complaint import read_complaint
from search.reading.concepts import default_finder, finder_for
from search.reading.vectors import load_meaning
from tests.search.causes.test_notebook_causes import state_of
from tests.search.labelled import past_cases

FAULTS = (
    Fault(
        devices=("washing machine",),
        names=("drum bearing worn", "bearing noisy"),
        signs=("roars like an aeroplane on the spin", "rumbles when it whirls"),
    ),
    Fault(
        devices=("washing machine",),
        names=("door lock failed",),
        signs=("hatch will not latch", "never clicks shut at the start"),
    ),
    Fault(
        devices=("dishwasher",),
        names=("spray arm blocked",),
        signs=("roars like an aeroplane on the spin", "glasses come out gritty"),
    ),
)
STUCK_BELT = Fault(
    devices=("washing machine",),
    names=("belt slipping",),
    signs=("squeals like a piglet as it starts to turn", "rubber smell and the drum lags behind"),
)
ROAR = "there is a roar of an aeroplane when it whirls and spins, the floor rumbles with it"
FRESH = known_faults.KnownFaults(
    faults=FAULTS[:1],
    said=[{"roar": 1}],
    names=np.ones((2, 64), np.float32),
    signs=np.ones((1, 64), np.float32),
)
# One case each; no complaint shares a word of the fault with the signs.
CASES = (
    ("washing machine", "drum bearing worn", "awful racket lately"),
    ("washing machine", "door lock failed", "refuses to begin"),
    ("washing machine", "strange wiring by a former owner", "odd behaviour"),
    ("dishwasher", "spray arm blocked", "crockery still dirty"),
)


forget_faults = known_faults.known_faults.cache_clear


@pytest.fixture(autouse=True)
def nothing_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Keep invented faults out of the cache folder, where all tests would find them."""
    monkeypatch.setattr(known_faults, "cache_folder", lambda: tmp_path / "cache")


def notes_of(cases: Sequence[tuple[str, str, str]]) -> list[CaseNote]:
    """Return a note for each device, cause and complaint."""
    return [
        CaseNote(
            case=f"20250101-{at}a2z",
            date=datetime.date(2025, 1, 1),
            device=device,
            chassis_family="F-1",
            complaint=complaint,
            symptom=("see complaint",),
            root_cause=cause,
            fix_time_min=30,
            outcome=Outcome.FIXED,
        )
        for at, (device, cause, complaint) in enumerate(cases)
    ]


@pytest.fixture
def causes(monkeypatch: pytest.MonkeyPatch) -> Iterator[NotebookCauses]:
    monkeypatch.setattr(known_faults, "load_faults", lambda: (*FAULTS, STUCK_BELT))
    forget_faults()
    yield NotebookCauses.learn(state_of(notes_of(CASES)), default_finder())
    forget_faults()


def asked(causes: NotebookCauses, complaint: str, device: str = "washing machine") -> CauseOdds:
    return causes.odds(read_complaint(f"{device}, {complaint}", finder=default_finder()))


def asked_of(causes: NotebookCauses) -> fault_signs.FaultOdds:
    """Return what signs of a washing machine say of its faults."""
    (query,) = causes.maker.queries([read_complaint(ROAR, finder=default_finder())])
    return causes.signs.odds(query, ["washing machine"])


def chance(causes: NotebookCauses, odds: CauseOdds, cause: str) -> float:
    return float(odds.probability[causes.table.cause_names.index(cause)])


def without_signs(causes: NotebookCauses) -> NotebookCauses:
    tuning = causes.model.tuning
    weights = {name: weight for name, weight in tuning.weights.items() if name != OPINION.name}
    causes.model = CauseModel(tuning=type(tuning)(weights=weights), linear=causes.model.linear)
    return causes


def test_words_that_no_case_used_find_the_cause(causes: NotebookCauses) -> None:
    odds = asked(causes, ROAR)
    assert chance(causes, odds, "drum bearing worn") > 2 * chance(causes, odds, "door lock failed")
    without = asked(without_signs(causes), ROAR)
    assert chance(causes, without, "drum bearing worn") < chance(causes, odds, "drum bearing worn")


def test_a_fault_of_another_device_says_nothing(causes: NotebookCauses) -> None:
    odds = asked(causes, "glasses gritty")
    logs = causes.signs.odds(
        causes.maker.queries([read_complaint("glasses gritty", finder=default_finder())])[0],
        ["washing machine"],
    ).of_causes
    assert logs[causes.table.cause_names.index("spray arm blocked")] == 0
    assert odds.sign_that_tells(causes.table.cause_names.index("spray arm blocked")) is None


def test_a_cause_that_is_no_known_fault_is_not_punished(causes: NotebookCauses) -> None:
    logs = causes.signs.odds(
        causes.maker.queries([read_complaint("roaring aeroplane", finder=default_finder())])[0], []
    ).of_causes
    assert logs[causes.table.cause_names.index("strange wiring by a former owner")] == 0
    assert logs.max() > 0 > logs.min()


def test_after_a_save_the_faults_of_devices_are_taken_over(causes: NotebookCauses) -> None:
    before = asked_of(causes)
    state = state_of(notes_of([*CASES, ("washing machine", "belt worn", "squeals")]))
    after = asked_of(NotebookCauses.learn(state, default_finder(), before=causes))
    afresh = asked_of(NotebookCauses.learn(state, default_finder()))
    assert after.of is before.of is not afresh.of
    assert after.of_causes.tolist() == afresh.of_causes.tolist()


def test_only_causes_of_the_notebook_get_a_probability(causes: NotebookCauses) -> None:
    odds = asked(causes, ROAR)
    assert len(odds.probability) == len(CASES)
    assert odds.probability.sum() + odds.not_in_notebook == pytest.approx(1)


def test_signs_of_a_fault_that_no_cause_is_speak_for_a_new_cause(causes: NotebookCauses) -> None:
    told = ("squeals like a piglet, rubber smell, drum lags", ROAR)
    unmet, met = (1 / (1 - asked(causes, each).not_in_notebook) - 1 for each in told)  # odds of a new cause
    assert unmet > 4 * met


def test_the_sign_that_speaks_for_a_cause_is_named(causes: NotebookCauses) -> None:
    odds = asked(causes, ROAR)
    names = causes.table.cause_names
    assert odds.sign_that_tells(names.index("drum bearing worn")) == "roars like an aeroplane on the spin"
    assert odds.sign_that_tells(names.index("door lock failed")) is None


def test_no_sign_is_named_that_the_owner_did_not_tell_of(causes: NotebookCauses) -> None:
    odds = asked(
        causes, "my aunt fetched me because it rumbles so that cups dance off the shelf and the cat hides"
    )
    drum = causes.table.cause_names.index("drum bearing worn")
    assert odds.sign_that_tells(drum) == ""
    assert asked(causes, "aeroplane").sign_that_tells(drum) == ""  # one word in common


def test_a_fault_that_is_known_for_any_device_serves_where_none_is_known_of_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    general = Fault(devices=(), names=("dry joint",), signs=("comes back when thumped",))
    monkeypatch.setattr(known_faults, "load_faults", lambda: (*FAULTS, general))
    known = known_faults.known_faults.__wrapped__(default_finder(), 64, False)
    of_dishwasher, of_kettle = known.of_devices(["dishwasher", "kettle"], default_finder()).tolist()
    assert of_dishwasher == [False, False, True, False]
    assert of_kettle == [False, False, False, True]


def unmet(causes: NotebookCauses, complaint: str) -> list[tuple[Fault, float]]:
    reading = read_complaint(complaint)
    return causes.odds(reading).faults_unmet(reading.device)


def test_faults_that_no_cause_here_is_are_named_for_what_is_new(causes: NotebookCauses) -> None:
    squeal = "washing machine squeals when it starts to turn, rubber smell, the drum lags behind"
    (first, chance), *others = unmet(causes, squeal)
    assert first is STUCK_BELT
    assert chance > 0.9
    # what this notebook has had is hardly new, and what only other devices have is none of these
    assert [fault.names[0] for fault, _ in others if fault in FAULTS[:2]] == [
        each.names[0] for each, _ in others
    ]
    assert sum(share for _, share in others) < 0.1


def test_words_alone_tell_of_which_set_a_new_fault_is(causes: NotebookCauses) -> None:
    (fault, _), *_ = unmet(causes, "squeals like a piglet, smells of rubber")
    assert fault.devices == ("washing machine",)


def test_faults_of_a_device_without_a_case_are_named(
    causes: NotebookCauses, monkeypatch: pytest.MonkeyPatch
) -> None:
    limed = Fault(devices=("kettle",), names=("kettle limed up",), signs=("takes an age to boil",))
    latch = Fault(devices=("kettle",), names=("lid latch broken",), signs=("lid flies open",))
    monkeypatch.setattr(known_faults, "load_faults", lambda: (*FAULTS, limed, latch))
    forget_faults()
    again = NotebookCauses.learn(state_of([]), default_finder())
    found = unmet(again, "the kettle takes an age until it boils")
    assert [fault for fault, _ in found] == [limed, latch]
    assert sum(chance for _, chance in found) == pytest.approx(1)


def test_a_notebook_without_a_known_fault_is_answered(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(known_faults, "load_faults", tuple)
    forget_faults()
    cases = past_cases([0, 1], n_causes=2)
    maker = QueryMaker(width=64, meaning=None)
    signs = fault_signs.FaultSigns(cases.met(1), np.zeros((2, 64)), ["kettle"], maker, default_finder())
    forget_faults()
    assert signs.odds(QueryFeatures(terms=(), row=np.zeros(64)), ["kettle"]).of_causes.tolist() == [0, 0]


@pytest.mark.parametrize("width", [64, 4_096])
def test_what_was_read_of_signs_is_kept(monkeypatch: pytest.MonkeyPatch, width: int) -> None:
    asked = default_finder(), width, load_meaning() is not None  # 4,096: the largest file that is written
    known = known_faults.known_faults.__wrapped__
    fresh = known(*asked)
    with monkeypatch.context() as patch:
        patch.setattr(known_faults, "_read", None)
        kept = known(*asked)
    assert (kept.faults, kept.said, kept.starts) == (fresh.faults, fresh.said, fresh.starts)
    for name in ("names", "signs"):
        assert np.array_equal(getattr(kept, name), getattr(fresh, name))
    assert kept.signs.any(axis=1).all()


def test_what_was_kept_of_other_words_or_damaged_is_read_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    known, read = known_faults.known_faults.__wrapped__, []
    monkeypatch.setattr(known_faults, "_read", lambda *asked: read.append(asked) or FRESH)
    for _ in range(2):
        known(default_finder(), 64, False)
    assert len(read) == 1
    (tmp_path / "terms.toml").write_text(
        '[[group]]\nconcept = "no power"\nkind = "symptom"\nphrases = ["as dead as a stone"]\n'
    )
    other = finder_for(load_vocabulary(tmp_path / "terms.toml"))
    (tmp_path / "signs.toml").write_text("# other signs")
    for width in (64, 32):
        known(other, width, False)
    before = set((tmp_path / "cache").iterdir())
    monkeypatch.setattr(known_faults, "SIGNS", tmp_path / "signs.toml")
    known(other, 32, False)
    assert len(read) == 4
    (path,) = set((tmp_path / "cache").iterdir()) - before
    for share in (0.0, 0.3, 0.9):
        path.write_bytes(path.read_bytes()[: int(share * path.stat().st_size)])
        known(other, 32, False)
    assert len(read) == 7
    known(other, 16, False)
    assert len(list((tmp_path / "cache").iterdir())) == 4  # the oldest is gone


def test_a_cache_that_takes_nothing_is_no_error(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "file").write_text("no folder")
    monkeypatch.setattr(known_faults, "cache_folder", lambda: tmp_path / "file")
    monkeypatch.setattr(known_faults, "_read", lambda *asked: FRESH)
    assert known_faults.known_faults.__wrapped__(default_finder(), 64, False) is FRESH
