"""What is measured of the program itself; `build` and `ask` each want a process of their own."""

import gc
import os
import resource
import shutil
import threading
import time
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import numpy as np

import web.cli.main  # noqa: F401  # sets how often circles are looked for, as for every command
from kb.notebook import Notebook
from kb.notes.case import CaseNote
from kb.storage.writing import remove_case, save_new_case
from search.bench import Bench
from search.index.postings import PostingCache
from search.scoring.bm25f import Collection, top
from tests.benchmarks.generate import generate_complaints
from tests.benchmarks.reference import largest_difference
from tests.search.small_shop import wait_for_learning
from web.app import create_app
from web.cli.serve import ready_for_threads
from web.views.state import family_address

Figures = dict[str, float]
QUERIES = 100
HANDS = 16  # technicians who search at once
REFERRED = 5  # complaints scored slowly as well
EACH = 8  # complaints that each of them asks
FAMILIES = 30  # whose pages are opened


def times_ms(
    work: Callable[[Any], object], questions: Iterable[Any], clock: Callable[[], float] = time.perf_counter
) -> list[float]:
    """Return how long each question takes by a clock in seconds."""
    times = []
    for question in questions:
        started = clock()
        work(question)
        times.append(1000 * (clock() - started))
    return times


def memory_mb() -> float:
    """Return what this process holds in memory now."""
    line = next(line for line in Path("/proc/self/status").read_text().splitlines() if "VmRSS" in line)
    return int(line.split()[1]) / 1024


def build(root: Path) -> Figures:
    """Index a notebook from nothing, and learn from it."""
    notebook = Notebook(root)
    shutil.rmtree(notebook.state_dir, ignore_errors=True)
    started = time.perf_counter()
    bench = Bench(notebook)
    searchable, busy_s = time.perf_counter(), sum(os.times()[:4])
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    _ = bench.causes
    return {
        "index_s": searchable - started,
        "index_cpu_s": busy_s,
        "index_peak_mb": peak_mb,
        "learn_s": time.perf_counter() - searchable,
        "learn_peak_mb": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024,
    }


def ask(root: Path) -> Figures:
    """Open a learned notebook as `serve` does, answer complaints, save a case, and let many search."""
    ready_for_threads()
    first, *complaints = generate_complaints(2 * QUERIES + 1)
    started, busy_s = time.perf_counter(), time.process_time()
    bench = Bench(Notebook(root), learn_beside=True)
    opened = time.perf_counter()

    def told(complaint: str) -> object:
        return bench.answer(complaint).as_json()  # which looks up what the answer itself leaves for later

    told(first)
    figures = {"start_s": time.perf_counter() - started, "first_ms": 1000 * (time.perf_counter() - opened)}
    figures["start_cpu_s"] = time.process_time() - busy_s
    gc.freeze()
    # What words and signs were not met yet is read once; then the answers are what a technician waits for.
    early, complaints = times_ms(told, complaints[:QUERIES]), complaints[QUERIES:]
    busy_s = time.process_time()
    answers = times_ms(told, complaints)
    figures["answer_cpu_ms"] = 1000 * (time.process_time() - busy_s) / len(answers)
    again = times_ms(told, complaints, time.process_time)
    snapshot = bench.knowledge.snapshot
    collection = Collection(snapshot.source)
    terms = [bench.read(complaint).terms for complaint in complaints]

    def rank(asked: Any) -> object:
        return top(collection.scores(asked), snapshot.table.date_days, snapshot.table.ids, 20)

    times_ms(rank, terms)
    ranking, rank_cpu = times_ms(rank, terms), times_ms(rank, terms, time.process_time)
    figures |= {"again_cpu_ms": float(np.median(again)), "rank_cpu_ms": float(np.median(rank_cpu))}
    figures |= {"early_ms": float(np.median(early)), "early_95_ms": float(np.quantile(early, 0.95))}
    figures |= {"answer_ms": float(np.median(answers)), "answer_95_ms": float(np.quantile(answers, 0.95))}
    figures |= {"rank_ms": float(np.median(ranking)), "rank_95_ms": float(np.quantile(ranking, 0.95))}
    figures["resident_mb"] = memory_mb()
    gc.unfreeze()
    caches = [each for each in gc.get_objects() if isinstance(each, PostingCache)]
    figures["caches_mb"] = sum(each.used_bytes for each in caches) / 1e6
    gc.freeze()
    pages = create_app(bench).test_client()
    spans = times_ms(pages.get, map(family_address, sorted(snapshot.table.family_names)[:FAMILIES]))
    figures["family_ms"] = float(np.median(spans))
    figures["difference"] = largest_difference(terms[:REFERRED], snapshot)
    saved = [_save(bench, f"wombat number {number} hums", figures) for number in range(3)]
    figures |= _many_hands(bench, told, complaints, saved)
    paths = [bench.notebook.case_path(case) or "" for case in saved]
    for case in saved:
        remove_case(bench.notebook, case)
    bench.refresh(only=paths)
    _ = bench.causes  # begins to learn, if need be
    wait_for_learning()
    return figures


def _save(bench: Bench, complaint: str, figures: Figures) -> str:
    """Save a case and note the time until an answer has it; the slowest counts."""
    fields = {
        "device": "LED TV", "chassis_family": "HA-A0", "complaint": complaint, "root_cause": "wombat loose",
        "date": "2030-01-02", "fix_time": "30 min", "outcome": "fixed", "fix": "fastened it",
        "symptom": "dead",
    }  # fmt: skip
    saved = save_new_case(bench.notebook, CaseNote.from_fields(fields))
    path = bench.notebook.case_path(saved.case)
    assert path is not None
    started, busy_s = time.perf_counter(), time.process_time()
    bench.refresh(only=[path])
    answer = bench.answer(complaint)
    figures["save_cpu_ms"] = max(figures.get("save_cpu_ms", 0.0), 1000 * (time.process_time() - busy_s))
    figures["save_ms"] = max(figures.get("save_ms", 0.0), 1000 * (time.perf_counter() - started))
    assert saved.case in [hit.note.case for hit in answer.cases if hit.note]
    return saved.case


def _many_hands(
    bench: Bench, told: Callable[[str], object], complaints: list[str], saved: list[str]
) -> Figures:
    """Let technicians ask while another saves, until all have been answered."""
    done = threading.Event()

    def save_on() -> None:
        while not done.is_set():
            saved.append(_save(bench, "another wombat hums", {}))

    busy_s = time.process_time()
    with ThreadPoolExecutor(HANDS + 1) as pool:
        saving = pool.submit(save_on)
        asking = [pool.submit(times_ms, told, complaints[at::HANDS][:EACH]) for at in range(HANDS)]
        failed = sum(each.exception() is not None for each in asking)
        done.set()
        failed += saving.exception() is not None
    times = [took for each in asking if each.exception() is None for took in each.result()]
    busy_s = time.process_time() - busy_s
    return {"hands_95_ms": float(np.quantile(times, 0.95)), "hands_cpu_s": busy_s, "hands_errors": failed}
