"""Time learning and asking on an invented notebook of many cases and causes; run by hand.

python -m tests.benchmarks.causes_at_scale [CASES] [CAUSES]
"""

import datetime
import sys
import time
from dataclasses import dataclass

import numpy as np

from kb.notes.case import CaseNote, Outcome
from search.causes.notebook_causes import NotebookCauses
from search.index.case_table import CaseTable
from search.index.postings import MemoryPostings
from search.reading.complaint import read_complaint
from search.reading.concepts import default_finder
from search.reading.vectors import load_meaning
from search.stats.arrays import FloatArray
from tests.search.tables import documents_from_cases, table_of

_WORDS_EACH = 12


def invented_cases(cases: int, causes: int, seed: int = 1) -> list[CaseNote]:
    """Make up cases whose words depend on their cause, causes with Zipf's frequencies."""
    rng = np.random.default_rng(seed)
    syllables = ["ba", "ko", "lim", "ter", "su", "pra", "den", "vi", "mo", "gal", "ren", "tip"]
    words = ["".join(rng.choice(syllables, 3)) for _ in range(20_000)]
    frequency = 1 / np.arange(10, len(words) + 10)
    frequency /= frequency.sum()
    of_cause = rng.integers(0, len(words), (causes, 30))
    share = 1 / np.arange(1, causes + 1) ** 0.7
    chosen = rng.choice(causes, cases, p=share / share.sum())
    common = rng.choice(len(words), (cases, _WORDS_EACH), p=frequency)
    own = of_cause[chosen[:, None], rng.integers(0, 30, (cases, 4))]
    start = datetime.date(2000, 1, 1)
    return [
        CaseNote.model_construct(
            **{
                **{name: field.default for name, field in CaseNote.model_fields.items()},
                "case": f"c{at:07d}",
                "date": start + datetime.timedelta(days=at * 9000 // cases),
                "device": f"device {cause % 9}",
                "chassis_family": f"F-{cause % 200}",
                "complaint": " ".join(words[word] for word in (*common[at], *own[at])),
                "symptom": (),
                "root_cause": f"{words[of_cause[cause, 0]]} {words[of_cause[cause, 1]]} failed",
                "fix_time_min": 30,
                "outcome": Outcome.FIXED,
            }
        )
        for at, cause in enumerate(chosen.tolist())
    ]


@dataclass(frozen=True)
class MadeUpState:
    """A state of an index that never was on disk."""

    source: MemoryPostings
    table: CaseTable
    generation: str
    vectors: FloatArray | None
    lexicon: None = None


def main() -> None:
    """Print what learning and asking take."""
    count, causes = (int(text) for text in (*sys.argv[1:], "100000", "3000")[:2])
    notes = invented_cases(count, causes)
    documents = documents_from_cases(notes)
    meaning = load_meaning()
    vectors = meaning.vectors([note.complaint for note in notes]).astype(np.float16) if meaning else None
    state = MadeUpState(MemoryPostings([d.terms for d in documents]), table_of(documents), "1", vectors)
    print(f"{state.table.size} cases, {len(state.table.cause_names)} causes", flush=True)
    begin, cpu = time.perf_counter(), time.process_time()
    learned = NotebookCauses.learn(state, default_finder(), progress=lambda done, of: print(f"  {done}/{of}"))
    took_s, cpu_s = time.perf_counter() - begin, time.process_time() - cpu
    print(f"learned in {took_s:.1f} s ({cpu_s:.1f} s of processor time): {learned.model.tuning}")
    took: list[float] = []
    cpu_ms: list[float] = []
    right = 0
    for note in invented_cases(60, causes, seed=1)[:60]:
        asked = read_complaint(note.complaint)
        begin, cpu = time.perf_counter(), time.process_time()
        odds = learned.odds(asked)
        took.append((time.perf_counter() - begin) * 1000)
        cpu_ms.append((time.process_time() - cpu) * 1000)
        right += state.table.cause_names[int(odds.probability.argmax())] == note.root_cause
    print(f"asked: median {np.median(took):.1f} ms, 95th percentile {np.quantile(took, 0.95):.1f} ms")
    print(f"processor time of one complaint: median {np.median(cpu_ms):.1f} ms; right first: {right} of 60")


if __name__ == "__main__":
    main()
