from collections.abc import Sequence
from typing import cast

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from search.causes.context import ComplaintContext, Corpus
from search.causes.fault_signs import DeviceFaults, FaultOdds, FaultSigns, Pairs
from search.causes.opinions.words import word_scores
from search.causes.query_features import QueryFeatures
from search.index.postings import MemoryPostings
from search.reading.complaint import WeightedTerm
from tests.search.labelled import past_cases

WORDS = ["dead", "hum", "=no power"]
ASKED = [WeightedTerm("dead", 1.0, "dead"), WeightedTerm("=no power", 0.5, "off")]


def _scores(texts: list[list[str]], causes: list[int], mask: list[bool] | None = None) -> np.ndarray:  # type: ignore[type-arg]
    source = MemoryPostings([{"complaint": text} for text in texts])
    usable = np.ones(len(texts), np.bool_) if mask is None else np.array(mask)
    corpus = Corpus(cases=past_cases(causes, n_causes=3), source=source, space=None)
    return word_scores(ComplaintContext(corpus, QueryFeatures(terms=ASKED, row=np.zeros(1)), usable, {}))


def test_scores_by_hand() -> None:
    found = _scores([["dead"], ["dead", "hum"], ["hum"], ["hum"]], [0, 0, 1, 1])
    # "dead" stands in half of all cases, in both of the first cause's, in none of the second's; each cause is
    # shrunk with two cases of the notebook; the trade idea stands nowhere and is left out.
    assert found[:2] == pytest.approx([np.log((2 + 1) / (4 * 0.5)), np.log((0 + 1) / (4 * 0.5))])
    assert found[2] == pytest.approx(0.0)  # a cause without cases is as likely as any


def test_signs_stand_in_for_cases_by_hand() -> None:
    class Signs:
        names_of = list

        def odds(self, query: QueryFeatures, devices: Sequence[str]) -> FaultOdds:
            # The second cause is for certain the fault whose signs have "dead" three times as often as usual.
            one = np.ones(1)
            of = DeviceFaults(at=np.array([0]), faults=(), signs=np.zeros((1, 1)), sizes=one)
            pairs = Pairs(np.array([1]), np.array([0]), one, none=np.array([1.0, 0.0, 1.0]))
            oftener = {"dead": np.full(1, 3.0)}
            return FaultOdds(signs=signs, query=query, of=of, pairs=pairs, odds=one, oftener=oftener)

    source = MemoryPostings([{"complaint": text} for text in [["dead"], ["hum"], ["hum"], ["hum"]]])
    signs = cast("FaultSigns", Signs())
    corpus = Corpus(
        cases=past_cases([0, 0, 1, 1], n_causes=3), source=source, space=None, signs=lambda: signs
    )
    asked = ComplaintContext(corpus, QueryFeatures(terms=ASKED, row=np.zeros(1)), np.ones(4, np.bool_), {})
    # A quarter of all cases have it: so has each cause beside its own two, or three times as many.
    assert word_scores(asked) == pytest.approx(
        [np.log((1 + 2 * 0.25) / (4 * 0.25)), np.log((0 + 2 * 0.75) / (4 * 0.25)), 0.0]
    )


def test_rows_that_may_not_be_used_do_not_count() -> None:
    texts, causes = [["dead"], ["hum"], ["dead"]], [0, 0, 1]
    assert _scores(texts, causes, [True, True, False]) == pytest.approx(_scores(texts[:2], causes[:2]))
    assert not _scores(texts, causes, [False] * 3).any()


@given(
    st.lists(st.lists(st.sampled_from(WORDS), max_size=3), min_size=6, max_size=6),
    st.lists(st.integers(0, 2), min_size=6, max_size=6),
    st.integers(0, 5),
)
def test_a_case_with_one_more_of_the_words_never_lowers_its_cause(
    texts: list[list[str]], causes: list[int], at: int
) -> None:
    # A word that stood nowhere is told apart from one that stands in this case alone.
    texts = [[*texts[0], "dead"], *texts[1:]]
    before = _scores(texts, causes)
    after = _scores([text if row != at else [*text, "dead"] for row, text in enumerate(texts)], causes)
    own = causes[at]
    for other in {0, 1, 2} - {own}:
        assert after[own] - after[other] >= before[own] - before[other] - 1e-9
