import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from search.causes.priors import backed_off_shares, new_share


def test_shares_by_hand() -> None:
    # Whole notebook 6 and 2, of 2 causes at half a case each: (6.5, 2.5) / 9. Family 0 and 3, worth 5 cases
    # of the notebook's: (0 + 5 * 6.5/9, 3 + 5 * 2.5/9) / 8.
    shares = backed_off_shares(
        [np.array([6.0, 2.0]), np.array([0.0, 3.0])], kappas=[5.0], known=np.array([True, True])
    )
    assert shares.tolist() == pytest.approx([(5 * 6.5 / 9) / 8, (3 + 5 * 2.5 / 9) / 8])


def test_an_empty_family_has_the_shares_of_the_notebook() -> None:
    notebook, known = np.array([6.0, 2.0, 0.0]), np.array([True, True, False])
    alone = backed_off_shares([notebook], kappas=[], known=known)
    assert backed_off_shares([notebook, np.zeros(3)], kappas=[5.0], known=known) == pytest.approx(alone)


@given(
    st.lists(st.lists(st.floats(0, 50), min_size=4, max_size=4), min_size=1, max_size=4),
    st.lists(st.booleans(), min_size=4, max_size=4).filter(any),
    st.floats(0.1, 50),
)
def test_shares_sum_to_one_over_known_causes(
    levels: list[list[float]], known: list[bool], kappa: float
) -> None:
    mask = np.array(known)
    kappas = [kappa] * (len(levels) - 1)
    shares = backed_off_shares([np.array(level) * mask for level in levels], kappas=kappas, known=mask)
    assert shares.sum() == pytest.approx(1.0)
    assert (shares[mask] > 0).all()
    assert not shares[~mask].any()


def test_new_share_of_a_neighbourhood_is_drawn_to_the_wider_one() -> None:
    assert new_share(0, 0, parent=0.3, kappa=8.0) == pytest.approx(0.3)
    assert new_share(9, 10, parent=0.1, kappa=8.0) == pytest.approx((9 + 0.8) / 18)
