"""Kaplan-Meier against a published trial and against lifelines and statsmodels."""

import warnings

import numpy as np
import pytest
from statsmodels.duration.survfunc import SurvfuncRight

from search.stats.intervals import kaplan_meier

with warnings.catch_warnings():
    # lifelines' own imports warn about its dependencies; that is not ours to mend.
    warnings.simplefilter("ignore")
    from lifelines import KaplanMeierFitter

# Freireich et al. 1963, weeks of remission under 6-mercaptopurine; "+" is censored. Read from
# lifelines.datasets.load_leukemia().
REMISSION = "6 6 6 6+ 7 9+ 10 10+ 11+ 13 16 17+ 19+ 20+ 22 23 25+ 32+ 32+ 34+ 35+"
# lifelines 0.30.3 and statsmodels 0.15.0 agree on these rows.
ROWS = [
    (6, 0.857143),
    (7, 0.806723),
    (10, 0.752941),
    (13, 0.690196),
    (16, 0.627451),
    (22, 0.537815),
    (23, 0.448179),
]


def remission(time: float) -> tuple[float, float, float]:
    words = REMISSION.split()
    weeks = [float(word.rstrip("+")) for word in words]
    return kaplan_meier(weeks, [not word.endswith("+") for word in words], time)


@pytest.mark.parametrize(("time", "share"), ROWS)
def test_kaplan_meier_gives_the_published_table(time: float, share: float) -> None:
    assert remission(time)[0] == pytest.approx(share, abs=1e-6)


def test_kaplan_meier_gives_the_log_log_interval_at_ten_weeks() -> None:
    assert remission(10)[1:] == pytest.approx((0.5032, 0.8894), abs=5e-5)
    assert remission(5.9)[0] == 1.0
    assert remission(12.9) == remission(10)


def test_kaplan_meier_agrees_with_lifelines_and_statsmodels() -> None:
    rng = np.random.default_rng(1958)
    for size in rng.integers(5, 200, size=25).tolist():
        days = rng.integers(1, 300, size=size)
        came = rng.random(size) < 0.4
        came[0] = True
        ours, low, high = kaplan_meier(days.tolist(), came.tolist(), 90)
        theirs = SurvfuncRight(days.astype(float), came.astype(int))
        passed = theirs.surv_times <= 90
        share = theirs.surv_prob[passed][-1] if passed.any() else 1.0
        assert ours == pytest.approx(share, abs=1e-9)
        fitter = KaplanMeierFitter().fit(days, came)
        assert ours == pytest.approx(float(fitter.predict(90)), abs=1e-9)
        bounds = fitter.confidence_interval_survival_function_.loc[:90].iloc[-1]
        if 0.0 < ours < 1.0:
            assert (low, high) == pytest.approx(tuple(bounds), abs=1e-6)
