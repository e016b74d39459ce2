"""The fitted parts of the causes' odds, and the odds themselves, against scikit-learn and scipy."""

import numpy as np
import pytest
from scipy.optimize import minimize
from scipy.special import log_softmax, logsumexp
from scipy.stats import entropy
from sklearn.discriminant_analysis import LinearDiscriminantAnalysis
from sklearn.naive_bayes import BernoulliNB

from search.causes.context import ComplaintContext, Corpus
from search.causes.linear import fit_means
from search.causes.novelty import uncertainty
from search.causes.odds import cause_odds
from search.causes.opinion import Opinion
from search.causes.opinions import OPINIONS
from search.causes.opinions.words import word_scores
from search.causes.pool import HeldOut, Tuning, fit_pool
from search.causes.query_features import QueryFeatures
from search.index.postings import MemoryPostings
from search.reading.complaint import WeightedTerm
from tests.search.labelled import past_cases


def test_pooled_odds_agree_with_scipy() -> None:
    rng = np.random.default_rng(4)
    causes = rng.integers(0, 5, 40).tolist()
    texts = [rng.choice(["dead", "hum", "smell", "click"], 2, replace=False).tolist() for _ in causes]
    corpus = Corpus(
        cases=past_cases(causes), source=MemoryPostings([{"complaint": text} for text in texts]), space=None
    )
    query = QueryFeatures(terms=[WeightedTerm("hum", 1.0, "hum")], row=np.zeros(1))
    linear = {"logistic": rng.normal(size=5), "means": rng.normal(size=5)}
    context = ComplaintContext(corpus, query, np.ones(40, np.bool_), linear)
    tuning = Tuning.usual()
    odds = cause_odds(context, tuning)
    joined = sum(tuning.weights[each.name] * each.scores(context) for each in OPINIONS)
    habits = np.bincount(causes, minlength=5) + 0.5
    mixture = tuning.prior_mixture
    expected = (1 - mixture) * np.exp(log_softmax(joined)) + mixture * habits / habits.sum()
    assert odds.probability / odds.probability.sum() == pytest.approx(expected)


def test_pool_weights_agree_with_scipys_general_minimiser() -> None:
    rng = np.random.default_rng(5)
    truth = rng.integers(0, 3, 150)
    scores = {name: np.eye(3)[truth] * 2 + rng.normal(size=(150, 3)) for name in ("one", "other")}
    said = np.stack(list(scores.values()), axis=1)
    held = HeldOut(truth, np.ones((150, 3), np.bool_), np.full(150, 1 / 3), said)
    opinions = [Opinion(name=name, log_scores=lambda c: c.counts, weight=0.5, most=3.0) for name in scores]
    tuned = fit_pool(held, Tuning(weights={"one": 0.5, "other": 0.5}), opinions)

    def loss(point: np.ndarray) -> float:  # type: ignore[type-arg]
        joined = point[0] * scores["one"] + point[1] * scores["other"]
        told = np.exp(joined[np.arange(150), truth] - logsumexp(joined, axis=1))
        mixture = 0.03 * point[2]
        lost = -np.log((1 - mixture) * told + mixture / 3).sum()
        away = point - [0.5, 0.5, 0.02 / 0.03]
        return float(lost + 6 * away @ away)  # held with 12 cases a step of 1, as search/causes/pool.py says

    theirs = minimize(
        loss, [0.5, 0.5, 0.02 / 0.03], method="Powell", bounds=[(0, 3), (0, 3), (0, 0.1 / 0.03)], tol=1e-9
    ).x
    ours = [tuned.weights["one"], tuned.weights["other"], tuned.prior_mixture / 0.03]
    assert ours == pytest.approx(theirs, abs=2e-3)


def test_uncertainty_is_scipys_entropy() -> None:
    chances = np.array([0.6, 0.3, 0.1])
    assert uncertainty(chances) == pytest.approx(entropy(chances) / np.log(3))


def test_words_rank_causes_as_scikit_learns_naive_bayes() -> None:
    words = ["dead", "hum", "smell", "click"]
    rng = np.random.default_rng(7)
    causes = np.repeat([0, 1, 2], 200)
    has = (
        rng.random((600, 4))
        < np.array([[0.7, 0.2, 0.2, 0.1], [0.2, 0.6, 0.1, 0.4], [0.3, 0.1, 0.8, 0.5]])[causes]
    )
    texts = [[word for word, there in zip(words, row, strict=True) if there] for row in has.tolist()]
    corpus = Corpus(
        cases=past_cases(causes.tolist()),
        source=MemoryPostings([{"complaint": text} for text in texts]),
        space=None,
    )
    asked = QueryFeatures(terms=[WeightedTerm(word, 1.0, word) for word in words[:2]], row=np.zeros(1))
    ours = word_scores(ComplaintContext(corpus, asked, np.ones(600, np.bool_), {}))
    theirs = BernoulliNB(alpha=1e-3).fit(has, causes).feature_log_prob_[:, :2].sum(axis=1)
    # Ours is a likelihood ratio against all cases, of the words said alone.
    assert ours - ours.max() == pytest.approx(theirs - theirs.max(), abs=0.03)


def test_class_means_without_shrinkage_are_linear_discriminant_analysis() -> None:
    rng = np.random.default_rng(9)
    classes = np.repeat([0, 1, 2], 100)
    rows = rng.normal(size=(300, 4)) + rng.normal(size=(3, 4))[classes]
    ours = fit_means(rows, classes, np.ones(300), 3, shrink=1e-6, kappa=0.0)
    theirs = LinearDiscriminantAnalysis(solver="lsqr", priors=[1 / 3] * 3).fit(rows, classes)
    asked = rng.normal(size=(20, 4))
    ridge = (
        1e-6
        * np.trace(np.cov((rows - np.stack([rows[classes == c].mean(0) for c in classes])).T, bias=True))
        / 4
    )
    scores = ours.scores(asked) / ridge  # ours are in units of the ridge
    shifted = theirs.decision_function(asked)
    assert scores - scores[:, :1] == pytest.approx(shifted - shifted[:, :1], rel=1e-3, abs=1e-3)
