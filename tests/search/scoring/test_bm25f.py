"""Check BM25F and the choice of the best against slow references."""

import math
from collections.abc import Mapping, Sequence

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import search.scoring.bm25f
from search.index.codec import Posting
from search.index.postings import MemoryPostings
from search.reading.reading import WeightedTerm
from search.scoring.bm25f import FIELD_WEIGHTS, LENGTH_NORMALISATION, SATURATION, Collection, top
from tests.search.tables import word

Document = Mapping[str, Sequence[str]]


def slow_bm25f(
    terms: Sequence[WeightedTerm], documents: Sequence[Document], mask: Sequence[bool]
) -> list[float]:
    """Score one document at a time, straight from the formula."""
    within = [document for document, inside in zip(documents, mask, strict=True) if inside]
    mean = {
        field: sum(len(document.get(field, ())) for document in within) / len(within) if within else 0.0
        for field in FIELD_WEIGHTS
    }
    scores = []
    for document, inside in zip(documents, mask, strict=True):
        score = 0.0
        for term in terms if inside else ():
            containing = sum(any(term.term in d.get(f, ()) for f in FIELD_WEIGHTS) for d in within)
            total = 0.0
            for field, weight in FIELD_WEIGHTS.items():
                words = list(document.get(field, ()))
                if term.term in words:
                    b = LENGTH_NORMALISATION[field]
                    total += weight * words.count(term.term) / (1 - b + b * len(words) / mean[field])
            idf = math.log(1 + (len(within) - containing + 0.5) / (containing + 0.5))
            score += term.weight * idf * total / (SATURATION + total)
        scores.append(score)
    return scores


WORDS = st.sampled_from(["dead", "hum", "blink", "relay", "fan", "=no power"])
DOCUMENTS = st.lists(
    st.dictionaries(st.sampled_from(sorted(FIELD_WEIGHTS)), st.lists(WORDS, max_size=8)),
    min_size=1,
    max_size=12,
)
QUERY = st.lists(st.builds(word, WORDS, st.sampled_from([1.0, 0.5, 2.0])), max_size=5)


@given(DOCUMENTS, QUERY, st.data())
def test_bm25f_equals_the_formula_under_any_mask(
    documents: list[Document], terms: list[WeightedTerm], data: st.DataObject
) -> None:
    mask = data.draw(st.lists(st.booleans(), min_size=len(documents), max_size=len(documents)))
    given_mask = Collection(MemoryPostings(documents), np.array(mask)).scores(terms)
    assert given_mask == pytest.approx(slow_bm25f(terms, documents, mask), rel=1e-5)
    source = MemoryPostings(documents)
    source.alive = np.array(mask, np.bool_)
    assert Collection(source).scores(terms) == pytest.approx(slow_bm25f(terms, documents, mask), rel=1e-5)


def test_bm25f_prefers_a_word_in_the_complaint_to_one_in_the_body() -> None:
    documents = [
        {"body": ["hum", "fan"]},
        {"complaint": ["hum", "fan"]},
        {"complaint": ["dead"], "body": ["dead"]},
    ]
    scores = Collection(MemoryPostings(documents)).scores([word("hum")])
    assert scores[1] > scores[0] > 0
    assert scores[2] == 0


def test_bm25f_with_nothing_alive_scores_nothing() -> None:
    source = MemoryPostings([{"body": ["hum"]}])
    source.alive = np.array([False])
    assert Collection(source).scores([word("hum")]).tolist() == [0.0]


def test_bm25f_of_a_term_is_the_same_while_another_thread_works_out_the_next() -> None:
    documents = [{"complaint": ["dead"], "cause": ["hum"]}, {"complaint": ["hum"], "cause": ["dead"]}]

    class TakenInTurn(MemoryPostings):
        def postings(self, field: str, term: str) -> Posting:
            if (field, term) == ("cause", "dead"):
                shared.scores([word("hum")])  # half-way through "dead", as another thread may
            return super().postings(field, term)

    shared = Collection(TakenInTurn(documents))
    scores = shared.scores([word("dead")])
    assert scores == pytest.approx(Collection(MemoryPostings(documents)).scores([word("dead")]))
    assert scores[0] > scores[1]


def test_from_very_many_documents_on_one_more_changes_no_mean_length(monkeypatch: pytest.MonkeyPatch) -> None:
    documents: list[Document] = [{"body": ["hum"] * (1 + number % 7)} for number in range(999)]
    exact = Collection(MemoryPostings(documents)).scores([word("hum")])
    monkeypatch.setattr(search.scoring.bm25f, "ROUNDED_FROM", 999)
    rounded = Collection(MemoryPostings(documents)).scores([word("hum")])
    assert rounded == pytest.approx(exact, rel=1e-3)
    assert rounded.tolist() != exact.tolist()
    more = Collection(MemoryPostings([*documents, {"body": ["hum"]}])).scores([word("hum")])[:-1]
    assert more / more[0] == pytest.approx(rounded / rounded[0], rel=1e-6)  # for the idf, all alike


def test_bm25f_leaves_the_shared_arrays_as_they_were() -> None:
    source = MemoryPostings([{"body": ["hum"]}, {"body": ["hum", "hum"], "cause": ["hum"]}])
    before = Collection(source).scores([word("hum")])
    assert Collection(source).scores([word("hum")]).tolist() == before.tolist()
    assert source.postings("body", "hum")[1].tolist() == [1.0, 2.0]


@given(
    st.lists(st.tuples(st.integers(0, 3), st.integers(0, 3)), max_size=40),
    st.integers(0, 2) | st.integers(0, 45),
)
def test_top_equals_a_full_sort(rows: list[tuple[int, int]], limit: int) -> None:
    scores = np.array([score for score, _ in rows], np.float32)
    dates = np.array([date for _, date in rows], np.int64)
    ids = [f"case-{(number * 7) % 41:02d}" for number in range(len(rows))]
    wanted = sorted(np.flatnonzero(scores > 0), key=lambda row: (-scores[row], -dates[row], ids[row]))
    assert top(scores, dates, ids, limit).tolist() == wanted[:limit]


@pytest.mark.parametrize(
    ("scores", "dates", "ids", "best"),
    [
        pytest.param([1, 3, 2], [0, 0, 0], "abc", [1, 2], id="by-score"),
        pytest.param([2, 2, 2], [5, 9, 7], "abc", [1, 2], id="ties-by-newest-date"),
        pytest.param([2, 2, 2], [5, 5, 5], "cab", [1, 2], id="then-by-id"),
        pytest.param([0, 0, 1], [5, 5, 5], "abc", [2], id="nothing-that-scores-nothing"),
    ],
)
def test_top_breaks_ties(scores: list[float], dates: list[int], ids: str, best: list[int]) -> None:
    assert top(np.array(scores, np.float32), np.array(dates), list(ids), 2).tolist() == best
