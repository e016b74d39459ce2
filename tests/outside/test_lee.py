"""Check that texts people call alike find each other: the Lee corpus of gensim's wheel.

Source: Lee, Pincombe and Welsh 2005, An Empirical Evaluation of Models of Text Document Similarity; 50 short
news texts, each pair rated from 0 to 1 by people. For 39 texts a partner is rated .6 or more.
"""

from importlib.util import find_spec
from pathlib import Path

import numpy as np

from search.index.postings import MemoryPostings
from search.reading.text import is_stop_word, tokenise
from search.scoring.bm25f import Collection
from tests.search.tables import word


def lee_data() -> tuple[list[str], np.ndarray]:
    """Read the 50 texts and the ratings, made symmetrical, from the installed package."""
    spec = find_spec("gensim")
    assert spec is not None
    assert spec.origin is not None
    folder = Path(spec.origin).parent / "test" / "test_data"
    texts = (folder / "lee.cor").read_text("latin-1").splitlines()
    ratings = np.loadtxt(folder / "similarities0-1.txt")
    return texts, np.maximum(ratings, ratings.T)


def scores_between(texts: list[str]) -> np.ndarray:
    """Score each text (row) as a query against every text (column)."""
    bodies = [[token.stem for token in tokenise(text) if not is_stop_word(token.text)] for text in texts]
    source = MemoryPostings([{"body": body} for body in bodies])
    return np.array([Collection(source).scores([word(term) for term in body]) for body in bodies])


def test_first_hit_is_a_text_that_people_call_alike() -> None:
    texts, ratings = lee_data()
    scores = scores_between(texts)
    np.fill_diagonal(scores, -1)
    np.fill_diagonal(ratings, 0)
    with_partner = np.flatnonzero((ratings >= 0.6).any(axis=1))
    hits = sum(ratings[row, scores[row].argmax()] >= 0.6 for row in with_partner)
    assert len(texts) == 50
    assert len(with_partner) == 39
    assert hits >= 33
