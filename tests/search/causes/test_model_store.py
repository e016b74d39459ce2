from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from search.causes.linear import LinearModel
from search.causes.model_store import CauseModel, LearnedFrom, keep, read_kept
from search.causes.opinions import OPINIONS
from search.causes.pool import Tuning

NOW = LearnedFrom(generation="7", cause_keys=["fuse open", "leaki"], cases=60, width=3)


def _kept(*, cases: int = 60, logistic: bool = True) -> CauseModel:
    linear = LinearModel(weights=np.arange(6, dtype=np.float32).reshape(3, 2), offset=np.array([0.5, -1.0]))
    tuning = replace(Tuning.usual(costly=logistic), cases=cases, prior_mixture=0.05)
    names = ["logistic", "means"] if logistic else ["means"]
    source = NOW._replace(cases=cases)
    return CauseModel(tuning=tuning, linear=dict.fromkeys(names, linear), source=source)


@pytest.mark.parametrize("logistic", [True, False])
def test_what_is_kept_is_read_back(tmp_path: Path, logistic: bool) -> None:
    kept = _kept(logistic=logistic)
    keep(tmp_path / "causes.model", kept)
    found = read_kept(tmp_path / "causes.model", NOW)
    assert found is not None
    model = found.for_state(NOW)
    assert model is not None
    assert model.tuning == kept.tuning
    before, after = kept.scores(np.ones(3)), model.scores(np.ones(3))
    assert set(after) == ({"logistic", "means"} if logistic else {"means"})
    assert all(after[name] == pytest.approx(before[name]) for name in before)
    assert [path.name for path in tmp_path.iterdir()] == ["causes.model"]


def test_a_missing_file_is_nothing(tmp_path: Path) -> None:
    assert read_kept(tmp_path / "causes.model", NOW) is None


@pytest.mark.parametrize("at", [0.0, 0.3, 0.6, 0.9])
def test_a_damaged_file_is_nothing(tmp_path: Path, at: float) -> None:
    path = tmp_path / "causes.model"
    keep(path, _kept())
    whole = path.read_bytes()
    path.write_bytes(whole[: int(at * len(whole))])
    assert read_kept(path, NOW) is None


def test_another_format_is_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    keep(tmp_path / "causes.model", _kept())
    monkeypatch.setattr("search.causes.model_store._FORMAT", 99)
    assert read_kept(tmp_path / "causes.model", NOW) is None


def test_a_model_of_other_opinions_is_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    keep(tmp_path / "causes.model", _kept())
    monkeypatch.setattr("search.causes.model_store.OPINIONS", OPINIONS[1:])
    assert read_kept(tmp_path / "causes.model", NOW) is None


def test_a_model_of_other_signs_is_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    keep(tmp_path / "causes.model", _kept())
    (tmp_path / "signs.toml").write_text("# other signs")
    monkeypatch.setattr("search.causes.model_store.SIGNS", tmp_path / "signs.toml")
    assert read_kept(tmp_path / "causes.model", NOW) is None


def test_a_folder_that_takes_nothing_is_no_error(tmp_path: Path) -> None:
    keep(tmp_path / "no such folder" / "causes.model", _kept())
    assert list(tmp_path.iterdir()) == []


def test_another_state_of_a_small_notebook_keeps_the_tuning_alone() -> None:
    kept, later = _kept(), NOW._replace(generation="8", cases=61)
    assert kept.for_state(later) is None
    assert kept.tuning_for(later) == kept.tuning
    assert kept.tuning_for(later._replace(cases=90)) is None
    assert kept.tuning_for(later._replace(width=9)) is None


def test_another_state_of_a_large_notebook_keeps_the_causes_it_knows() -> None:
    kept = _kept(cases=50_000)
    later = NOW._replace(generation="8", cases=50_001, cause_keys=["a new one", "fuse open", "leaki"])
    model = kept.for_state(later)
    assert model is not None
    before, after = kept.scores(np.ones(3)), model.scores(np.ones(3))
    for name in before:
        assert after[name][1:] == pytest.approx(before[name])
        assert after[name][0] == pytest.approx(-0.25)  # the middle of the known offsets, and no words


def test_first_cause_of_a_notebook_that_had_none_is_carried() -> None:
    nothing = LinearModel(weights=np.zeros((3, 0), np.float32), offset=np.zeros(0))
    source = LearnedFrom(generation="1", cause_keys=[], cases=0, width=3)
    model = CauseModel(tuning=Tuning.usual(), linear={"means": nothing}, source=source).carried_to(NOW)
    assert model is not None
    assert model.scores(np.ones(3))["means"].tolist() == [0.0, 0.0]
