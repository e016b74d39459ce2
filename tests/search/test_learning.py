"""Learning beside the answers: nobody waits for it, and no saved case is missing meanwhile."""

import logging
import threading
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import pytest

from kb.notebook import Notebook
from search.bench import STILL_LOOKING, Bench
from search.causes import notebook_causes
from search.index import case_index
from search.index.case_index import CaseIndex
from search.learning import STILL_LEARNING, WAIT_AFTER_SAVE_S

from .small_shop import FET, STRIP, repair, small_shop, wait_for_learning, write_repair

WAIT_S = 60  # how long a test waits for what must come


class Gate:
    """Stand in for learning: says that it began, and goes on when it may."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.began, self.may_go_on = threading.Semaphore(0), threading.Event()
        self.learned = 0
        fit_model = notebook_causes.fit_model

        def gated(*args: object, **kwargs: object) -> object:
            self.began.release()
            assert self.may_go_on.wait(WAIT_S)
            self.learned += 1
            return fit_model(*args, **kwargs)  # type: ignore[arg-type]

        monkeypatch.setattr(notebook_causes, "fit_model", gated)


@pytest.fixture(autouse=True)
def naps(monkeypatch: pytest.MonkeyPatch) -> list[float]:
    """How long learning would have waited each time, in seconds."""
    taken: list[float] = []
    monkeypatch.setattr("search.learning.sleep", taken.append)
    return taken


@pytest.fixture
def gate(monkeypatch: pytest.MonkeyPatch) -> Iterator[Gate]:
    made = Gate(monkeypatch)
    yield made
    made.may_go_on.set()


def beside(root: Path) -> Bench:
    return Bench(small_shop(root), look_again_s=0, learn_beside=True)


def test_answer_does_not_wait_for_the_first_learning(tmp_path: Path, gate: Gate) -> None:
    bench = beside(tmp_path)
    answer = bench.answer("dark but talking, six flashes")  # would never return if it waited
    assert gate.began.acquire(timeout=WAIT_S)
    assert STILL_LEARNING in answer.notices
    assert answer.causes[0].root_cause == "LED strip open circuit"
    total = sum(cause.probability for cause in answer.causes) + answer.other_causes + answer.not_in_notebook
    assert total == pytest.approx(1.0)
    gate.may_go_on.set()
    wait_for_learning()
    assert STILL_LEARNING not in bench.answer("dark but talking, six flashes").notices
    assert gate.learned == 1


def test_answer_does_not_wait_until_a_large_notebook_was_looked_at(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    Bench(small_shop(tmp_path)).answer("dead")
    may_look, look = threading.Event(), CaseIndex.look

    def wait_and_look(self: CaseIndex) -> object:
        assert may_look.wait(WAIT_S)
        return look(self)

    monkeypatch.setattr(CaseIndex, "look", wait_and_look)
    monkeypatch.setattr(case_index, "LARGE", 5)
    write_repair(tmp_path, repair("20260401-0ff0", {**STRIP, "complaint": "the wombat hums"}))
    bench = Bench(Notebook(tmp_path), learn_beside=True)
    answer = bench.answer("wombat")
    assert STILL_LOOKING in answer.notices
    assert "20260401-0ff0" not in [hit.note.case for hit in answer.cases if hit.note]
    may_look.set()
    looking = next((each for each in threading.enumerate() if each.name == "looking"), None)
    if looking is not None:
        looking.join(WAIT_S)
    answer = bench.answer("wombat")
    assert STILL_LOOKING not in answer.notices
    assert "20260401-0ff0" in [hit.note.case for hit in answer.cases if hit.note]
    wait_for_learning()


def test_answer_after_learning_beside_is_that_of_one_who_waited(tmp_path: Path, gate: Gate) -> None:
    bench = beside(tmp_path)
    bench.answer("dead")
    gate.may_go_on.set()
    wait_for_learning()
    waited = Bench(Notebook(tmp_path)).answer("dead")
    assert replace(bench.answer("dead"), took_ms=waited.took_ms) == waited


def test_saved_case_is_in_the_next_answer_while_a_thread_learns(tmp_path: Path, gate: Gate) -> None:
    bench = beside(tmp_path)
    bench.answer("dead")
    assert gate.began.acquire(timeout=WAIT_S)
    fields = {**FET, "complaint": "the wombat hums", "root_cause": "wombat loose", "date": "2025-01-02"}
    path = write_repair(tmp_path, repair("20250102-9999", fields))
    bench.refresh(only=[path.relative_to(tmp_path).as_posix()])
    answer = bench.answer("the wombat hums")
    assert answer.cases[0].note.case == "20250102-9999"
    assert "wombat loose" in [cause.root_cause for cause in answer.causes]
    assert STILL_LEARNING in answer.notices
    gate.may_go_on.set()
    wait_for_learning()
    assert STILL_LEARNING not in bench.answer("the wombat hums").notices
    assert gate.learned == 2  # the notes before the save, then those with it


def test_first_learning_begins_at_once_and_learning_after_a_save_waits(
    tmp_path: Path, gate: Gate, naps: list[float]
) -> None:
    gate.may_go_on.set()
    bench = beside(tmp_path)
    bench.answer("dead")
    wait_for_learning()
    assert naps == [0]
    path = write_repair(tmp_path, repair("20250102-9999", {**STRIP, "date": "2025-01-02"}))
    bench.refresh(only=[path.relative_to(tmp_path).as_posix()])
    bench.answer("dead")
    wait_for_learning()
    assert naps == [0, WAIT_AFTER_SAVE_S]
    assert gate.learned == 2


def test_case_saved_after_learning_is_answered_with_what_was_learned(tmp_path: Path, gate: Gate) -> None:
    gate.may_go_on.set()
    bench = beside(tmp_path)
    bench.answer("dead")
    wait_for_learning()
    gate.may_go_on.clear()
    path = write_repair(tmp_path, repair("20250102-9999", {**STRIP, "date": "2025-01-02"}))
    bench.refresh(only=[path.relative_to(tmp_path).as_posix()])
    answer = bench.answer("dark but talking, six flashes")
    assert "20250102-9999" in [hit.note.case for hit in answer.cases]
    assert STILL_LEARNING in answer.notices
    assert bench.causes.model.linear  # what was learned before, not the defaults


def test_failed_learning_leaves_answers_and_is_tried_again_on_the_next_change(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    tries = threading.Semaphore(0)

    def fail(*args: object, **kwargs: object) -> object:
        tries.release()
        raise ValueError("no luck")

    monkeypatch.setattr(notebook_causes, "fit_model", fail)
    bench = beside(tmp_path)
    with caplog.at_level(logging.CRITICAL):
        for _ in range(20):
            assert bench.answer("dead").causes
            wait_for_learning()
        assert tries.acquire(timeout=WAIT_S)
        # Not once an answer; the index may be taken up from disk again meanwhile, which is another try.
        assert sum(tries.acquire(blocking=False) for _ in range(20)) < 5
        path = write_repair(tmp_path, repair("20250102-9999", {**STRIP, "date": "2025-01-02"}))
        bench.refresh(only=[path.relative_to(tmp_path).as_posix()])
        bench.answer("dead")
        assert tries.acquire(timeout=WAIT_S)
        wait_for_learning()


def test_sixteen_ask_while_one_saves_and_a_thread_learns(tmp_path: Path) -> None:
    bench = beside(tmp_path)
    saving_done = threading.Event()

    def ask(number: int) -> int:
        asked = 0
        while asked < 3 or not (saving_done.is_set() or asked == 200):
            answer = bench.answer("dark but talking" if number % 2 else "went bang")
            shares = sum(cause.probability for cause in answer.causes)
            assert shares + answer.other_causes + answer.not_in_notebook == pytest.approx(1.0)
            asked += 1
        return asked

    def save() -> None:
        for number in range(5):
            fields = {**FET, "complaint": f"wombat {number} hums", "date": "2025-01-02"}
            path = write_repair(tmp_path, repair(f"20250102-999{number}", fields))
            bench.refresh(only=[path.relative_to(tmp_path).as_posix()])
            assert f"20250102-999{number}" in [
                hit.note.case for hit in bench.answer(f"wombat {number} hums").cases
            ]

    with ThreadPoolExecutor(17) as pool:
        asking = [pool.submit(ask, number) for number in range(16)]
        try:
            pool.submit(save).result()
        finally:
            saving_done.set()
        assert all(each.result() >= 3 for each in asking)
    wait_for_learning()
    assert STILL_LEARNING not in bench.answer("went bang").notices
