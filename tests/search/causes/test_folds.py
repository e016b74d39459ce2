import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from search.causes.training import stratified_folds


@given(st.lists(st.integers(0, 5), min_size=5, max_size=80), st.integers(2, 5), st.integers(0, 3))
def test_folds_spread_every_class_and_are_repeatable(classes: list[int], folds: int, seed: int) -> None:
    labels = np.array(classes)
    fold = stratified_folds(labels, folds, seed=seed)
    assert (fold == stratified_folds(labels, folds, seed=seed)).all()
    for rows in (fold, *(fold[labels == each] for each in np.unique(labels))):
        sizes = np.bincount(rows, minlength=folds)
        assert sizes.max() - sizes.min() <= 1


def test_another_seed_deals_otherwise() -> None:
    labels = np.zeros(50, np.int64)
    assert (stratified_folds(labels, 5, seed=0) != stratified_folds(labels, 5, seed=1)).any()
