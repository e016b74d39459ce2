import numpy as np
import pytest

from search.causes.novelty import FEATURES, CauseFit, NoveltyModel, fit_novelty


def _fit(chances: list[list[float]], support: list[list[float]], known: list[list[bool]]) -> CauseFit:
    return CauseFit(
        chances=np.array(chances),
        meaning=np.array(support) / 2,
        support=np.array(support),
        known=np.array(known),
    )


def test_features_by_hand() -> None:
    fit = _fit([[0.5, 0.5, 0.0]], [[0.2, 0.6, 0.9]], [[True, True, False]])
    # Two known causes, told apart not at all; the third is not known, however well it fits.
    assert fit.features() == pytest.approx(np.array([[1.0, 0.3, 0.6]]))


def test_without_its_own_cause_a_complaint_looks_newer() -> None:
    fit = _fit([[0.8, 0.1, 0.1]], [[0.9, 0.3, 0.2]], [[True, True, True]])
    before, after = fit.features()[0], fit.without(np.array([0])).features()[0]
    assert after[FEATURES.index("uncertainty")] == pytest.approx(1.0)
    assert before[FEATURES.index("uncertainty")] < 0.7
    assert after[FEATURES.index("support")] == pytest.approx(0.3)


def test_what_tells_new_from_known_is_learned() -> None:
    rng = np.random.default_rng(1)
    known = np.column_stack([rng.normal(0.3, 0.1, 200), rng.normal(0.5, 0.1, 200), rng.random(200)])
    new = np.column_stack([rng.normal(0.7, 0.1, 100), rng.normal(0.5, 0.1, 100), rng.random(100)])
    slopes = fit_novelty(known, new).slopes
    assert slopes["uncertainty"] > 5
    assert abs(slopes["meaning"]) < 2
    assert all(slopes[name] <= 0 for name in ("meaning", "support"))  # never the wrong way round


def test_a_handful_of_complaints_keeps_the_usual_model() -> None:
    few = np.random.default_rng(1).random((8, 3))
    assert fit_novelty(few, few) == NoveltyModel()
