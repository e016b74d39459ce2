"""Score notes slowly, to check at scale what is scored quickly."""

import math
from collections import defaultdict
from collections.abc import Sequence

import numpy as np

from search.index.snapshot import Snapshot
from search.reading.reading import WeightedTerm
from search.scoring.bm25f import FIELD_WEIGHTS, LENGTH_NORMALISATION, ROUNDED_FROM, SATURATION, Collection


def slow_scores(terms: Sequence[WeightedTerm], snapshot: Snapshot) -> dict[int, float]:
    """Return the score of each note above 0: straight from the formula, as Whoosh walks the postings."""
    reader, alive = snapshot.segments.reader(), snapshot.table.alive.tolist()
    lengths = {field: snapshot.source.lengths(field).tolist() for field in FIELD_WEIGHTS}
    notes = sum(alive)
    mean = {
        field: math.fsum(length for length, lives in zip(of, alive, strict=True) if lives) / notes
        for field, of in lengths.items()
    }
    if notes >= ROUNDED_FROM:
        mean = {field: float(f"{own:.3g}") for field, own in mean.items()}
    scores: dict[int, float] = defaultdict(float)
    for term in terms:
        totals: dict[int, float] = defaultdict(float)
        for field, weight in FIELD_WEIGHTS.items():
            if (field, term.term.encode()) not in reader:
                continue
            matcher, b = reader.postings(field, term.term.encode()), LENGTH_NORMALISATION[field]
            while matcher.is_active():
                note = matcher.id()
                if alive[note]:
                    totals[note] += (
                        weight * matcher.weight() / (1 - b + b * lengths[field][note] / mean[field])
                    )
                matcher.next()
        idf = math.log(1 + (notes - len(totals) + 0.5) / (len(totals) + 0.5))
        for note, total in totals.items():
            scores[note] += term.weight * idf * total / (SATURATION + total)
    return scores


def largest_difference(asked: Sequence[Sequence[WeightedTerm]], snapshot: Snapshot) -> float:
    """Return how far any score is from the slow one at most, as a share of the best score."""
    worst = 0.0
    for terms in asked:
        quick, slow = Collection(snapshot.source).scores(terms), np.zeros(snapshot.table.size)
        for note, score in slow_scores(terms, snapshot).items():
            slow[note] = score
        worst = max(worst, float(np.abs(quick - slow).max() / max(slow.max(), 1e-9)))
    return worst
