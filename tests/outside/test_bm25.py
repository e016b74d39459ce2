"""Check scores against published worked examples and against other people's BM25."""

import math
from collections.abc import Callable

import numpy as np
import pytest
from rank_bm25 import BM25Okapi
from whoosh import fields, scoring
from whoosh.query import Or, Term

from search.index.codec import Posting
from search.index.postings import ListKey, MemoryPostings, Part, PostingCache
from search.index.segments import MemoryStorage
from search.scoring.bm25f import Collection, idf
from search.stats.arrays import FloatArray
from tests.search.tables import word

# Five small texts, mean length 2.4; query "a d"; k1 1.2, b .75.
TEXTS = ["a b", "a c c", "b c d d", "e", "f g"]
QUERY = ["a", "d"]


def classic_idf(documents: int, containing: int) -> float:
    """Return Robertson and Sparck Jones's ln((N - n + .5) / (n + .5)), below 0 for very common words."""
    return math.log((documents - containing + 0.5) / (containing + 0.5))


def okapi(inverse: Callable[[int, int], float]) -> FloatArray:
    """Score TEXTS by the classic BM25 with a given inverse document frequency, from our own posting lists."""
    source = MemoryPostings([{"body": text.split()} for text in TEXTS])
    scores = np.zeros(source.size)
    for name in QUERY:
        numbers, tf = source.postings("body", name)
        length = source.lengths("body")[numbers] / source.lengths("body").mean()
        scores[numbers] += inverse(source.size, len(numbers)) * tf * 2.2 / (tf + 1.2 * (0.25 + 0.75 * length))
    return scores


def test_bm25f_of_one_field_equals_the_lucene_form_of_bm25() -> None:
    # bm25s 0.3.16, method "lucene", gave .427058, .361018, .729629, 0, 0: the figures below over k1 + 1.
    source = MemoryPostings([{"body": text.split()} for text in TEXTS])
    scores = Collection(source, weights={"body": 1.0}, k1=1.2, b={"body": 0.75}).scores(
        [word(each) for each in QUERY]
    )
    assert scores * 2.2 == pytest.approx([0.939527, 0.794240, 1.605183, 0, 0], abs=1e-6)
    assert okapi(idf) == pytest.approx([0.939527, 0.794240, 1.605183, 0, 0], abs=1e-6)


def test_posting_lists_give_rank_bm25s_scores() -> None:
    # Reference: rank-bm25 0.2.2 (PyPI), BM25Okapi; idf ln((N - n + .5) / (n + .5)), here never below 0.
    theirs = BM25Okapi([text.split() for text in TEXTS], k1=1.2, b=0.75).get_scores(QUERY)
    ours = okapi(classic_idf)
    assert ours == pytest.approx(theirs, abs=1e-6)
    assert ours == pytest.approx([0.361092, 0.305253, 1.272077, 0, 0], abs=1e-6)


def test_scores_equal_those_of_whooshs_searcher() -> None:
    # Reference: Whoosh 2.7.4's own searcher; whoosh/scoring.py has idf ln(N / (n + 1)) + 1.
    words = fields.KEYWORD(scorable=True)
    index = MemoryStorage({}).create_index(fields.Schema(body=words))
    with index.writer() as writer:
        for text in TEXTS:
            writer.add_document(body=text)
    with index.searcher(weighting=scoring.BM25F()) as searcher:
        hits = searcher.search(Or([Term("body", word) for word in QUERY]), limit=None)
        theirs = {hit.docnum: hit.score for hit in hits}
    ours = okapi(lambda total, containing: math.log(total / (containing + 1)) + 1)
    assert ours == pytest.approx([1.621374, 1.370646, 2.218863, 0, 0], abs=1e-6)
    assert {number: float(ours[number]) for number in (0, 1, 2)} == pytest.approx(theirs, rel=1e-4)


def test_bm25f_equals_a_hand_calculation() -> None:
    # Formula: Robertson and Zaragoza 2009 (from memory). Title: weight 3, b .5, length 2 where the mean is
    # 4, once in it; body: weight 1, b .75, length 10 where the mean is 10, twice in it; 10 documents, the
    # word in 2 of them. So t = 3 / (.5 + .5 * 2 / 4) + 2 = 6, and the score is 6 / 7.2 * ln 3.4 by the
    # classic idf; ours has ln(1 + 3.4), so that no word ever counts against a case.
    titles = [["x", "o"], ["o"] * 6] + [["o"] * 4] * 8
    bodies = [["x", "x"] + ["o"] * 8, ["x"] + ["o"] * 9] + [["o"] * 10] * 8
    source = MemoryPostings([{"title": t, "body": b} for t, b in zip(titles, bodies, strict=True)])
    assert (source.lengths("title").mean(), source.lengths("body").mean()) == (4.0, 10.0)
    scores = Collection(
        source, weights={"title": 3.0, "body": 1.0}, k1=1.2, b={"title": 0.5, "body": 0.75}
    ).scores([word("x")])
    assert scores[0] == pytest.approx(6 / 7.2 * math.log(4.4), abs=1e-6)
    assert scores[0] / idf(10, 2) * classic_idf(10, 2) == pytest.approx(1.019813, abs=1e-6)


CONTAINING = {"president": 40_000, "lincoln": 300}
FREQUENCY = {"president": 15.0, "lincoln": 25.0}


class President:
    """The textbook's collection: half a million documents, of which only the first is spelled out."""

    size = 500_000
    cache_mb = 0.0
    alive = np.ones(500_000, np.bool_)

    def __init__(self) -> None:
        self.kept: PostingCache[ListKey, Posting] = PostingCache(0.0)
        self.parts = [Part("", 0, self.size, self.postings)]

    def postings(self, field: str, term: str) -> tuple[np.ndarray, np.ndarray]:
        frequencies = np.ones(CONTAINING[term], np.float32)
        frequencies[0] = FREQUENCY[term]
        return np.arange(CONTAINING[term], dtype=np.int32), frequencies

    def lengths(self, field: str) -> np.ndarray:
        return np.array([0.9, *[1.0] * (self.size - 1)], np.float32)


def test_bm25f_equals_the_textbooks_president_lincoln() -> None:
    # Croft, Metzler and Strohman, Search Engines: Information Retrieval in Practice, 7.2.2 (from memory):
    # 20.66 with roundings on the way, about 20.63 without. Classic idf, and the numerator k1 + 1.
    total = 0.0
    for name, containing in CONTAINING.items():
        scores = Collection(President(), weights={"body": 1.0}, k1=1.2, b={"body": 0.75}).scores([word(name)])
        total += 2.2 * float(scores[0]) / idf(500_000, containing) * classic_idf(500_000, containing)
    assert total == pytest.approx(20.66, abs=0.05)
