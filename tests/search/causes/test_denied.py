"""What is denied counts against the causes that show it, and never for them."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from search.causes.context import ComplaintContext, Corpus
from search.causes.notebook_causes import NotebookCauses
from search.causes.odds import cause_odds
from search.causes.pool import Tuning
from search.causes.query_features import QueryFeatures
from search.index.postings import MemoryPostings
from search.reading.complaint import WeightedTerm, read_complaint
from search.reading.concepts import default_finder
from search.stats.arrays import FloatArray
from tests.search.causes.test_notebook_causes import invented_notes, state_of
from tests.search.labelled import past_cases

SYMPTOMS = ["dead", "hum", "smell"]


def _terms(*said: str) -> list[WeightedTerm]:
    return [WeightedTerm(word, 1.0, word) for word in said]


def _new(causes: list[int], texts: list[list[str]], *, denied: list[str]) -> float:
    """Return the chance of a cause that is not in the notebook for a complaint of three words."""
    return 1 - float(_probability(texts, causes, said=["dead", "dark", "cold"], denied=denied).sum())


def _probability(
    texts: list[list[str]], causes: list[int], *, said: list[str], denied: list[str]
) -> FloatArray:
    corpus = Corpus(
        cases=past_cases(causes), source=MemoryPostings([{"complaint": text} for text in texts]), space=None
    )
    query = QueryFeatures(terms=_terms(*said), denied_terms=_terms(*denied), row=np.zeros(1))
    none = np.zeros(corpus.cases.n_causes)
    usable = np.ones(len(causes), np.bool_)
    context = ComplaintContext(corpus, query, usable, {"logistic": none, "means": none})
    return cause_odds(context, Tuning.usual()).probability


@given(
    st.lists(
        st.tuples(st.lists(st.sampled_from(SYMPTOMS), max_size=3, unique=True), st.integers(0, 3)),
        min_size=3,
        max_size=10,
    ),
    st.lists(st.sampled_from(SYMPTOMS), max_size=2, unique=True),
    st.sampled_from(SYMPTOMS),
)
def test_denying_a_symptom_never_raises_a_cause_whose_cases_all_show_it(
    cases: list[tuple[list[str], int]], said: list[str], denied: str
) -> None:
    texts, causes = [text for text, _ in cases], [cause for _, cause in cases]
    before = _probability(texts, causes, said=said, denied=[])
    after = _probability(texts, causes, said=said, denied=[denied])
    for cause in set(causes):
        if all(denied in text for text, own in cases if own == cause):
            assert after[cause] <= before[cause] + 1e-12


def test_a_denied_symptom_speaks_against_the_cause_that_shows_it() -> None:
    texts = [["hum", "dead"]] * 4 + [["dead"]] * 4
    before, after = (
        _probability(texts, [0] * 4 + [1] * 4, said=["dead"], denied=denied) for denied in ([], ["hum"])
    )
    assert after[0] / after[1] < 0.4 * before[0] / before[1]


def test_what_no_case_shows_can_be_denied_at_no_cost() -> None:
    texts, causes = [["dead"], ["hum"]], [0, 1]
    one = _probability(texts, causes, said=["dead"], denied=[])
    other = _probability(texts, causes, said=["dead"], denied=["never heard of"])
    assert one == pytest.approx(other)


@pytest.fixture(scope="module")
def causes() -> NotebookCauses:
    return NotebookCauses.learn(state_of(invented_notes()), default_finder())


def test_what_was_last_year_changes_next_to_nothing(causes: NotebookCauses) -> None:
    now = "screen stays black but I hear the sound"
    plain, with_past = (
        causes.odds(read_complaint(text, finder=default_finder()))
        for text in (now, f"{now}. You fixed the fuse last year.")
    )
    assert np.abs(plain.probability - with_past.probability).max() < 0.03


def test_what_speaks_against_every_known_cause_speaks_for_a_new_one() -> None:
    texts = [["dead", "dark", "cold", "hum"]] * 4 + [["smell"]] * 4
    before, after = (_new([0] * 4 + [1] * 4, texts, denied=denied) for denied in ([], ["hum"]))
    assert after > 1.5 * before
    assert _new([0] * 4 + [1] * 4, texts, denied=["never heard of"]) == pytest.approx(before)


def test_a_plain_no_to_a_question_counts_more_than_an_idea_denied_in_passing(causes: NotebookCauses) -> None:
    at = causes.table.cause_names.index("standby capacitor worn")
    said, asked = (
        read_complaint("will not start", finder=default_finder(), no=no) for no in ([], ["clicks"])
    )
    passing = replace(said, denied_terms=(WeightedTerm("=clicks", 1.0, "clicking"),))
    after, between, before = (causes.odds(each).probability[at] for each in (asked, passing, said))
    assert after < between < before


def test_denied_words_of_a_complaint_reach_the_odds(causes: NotebookCauses) -> None:
    said = read_complaint("will not start", finder=default_finder())
    terms = read_complaint("clicks several times", finder=default_finder()).terms
    at = causes.table.cause_names.index("standby capacitor worn")
    before = causes.odds(said).probability[at]
    after = causes.odds(replace(said, denied_terms=terms)).probability[at]
    assert after < before


def test_a_cause_that_is_called_by_what_is_denied_falls_far() -> None:
    notes = [{"complaint": ["dead"], "cause": ["pump"]}, {"complaint": ["dead"], "cause": ["hose"]}]
    corpus = Corpus(cases=past_cases([0, 1]), source=MemoryPostings(notes), space=None)
    query = QueryFeatures(terms=_terms("dead"), denied_terms=_terms("pump"), row=np.zeros(1))
    none = np.zeros(corpus.cases.n_causes)
    context = ComplaintContext(corpus, query, np.ones(2, np.bool_), {"logistic": none, "means": none})
    pump, hose = cause_odds(context, Tuning.usual()).probability[:2]
    assert pump < hose / 5
