"""The quote: bench time in money, a sentence for the owner, and when to say no."""

import pytest

from search.planning.bench_time import BenchTime
from search.planning.quote import PastTries, quote

HOUR = BenchTime(median=60, low=30, high=120)


def test_quote_is_labour_for_the_bench_time_plus_parts() -> None:
    price = quote(HOUR, 40, 15, currency="crowns")
    assert (price.low, price.median, price.high) == (35, 55, 95)
    assert price.sentence.startswith(
        "Such a repair usually costs about 55 crowns, in nine cases of ten 35 to 95 crowns, parts included"
    )
    assert not price.likely_not_worth_it
    assert price.as_json()["reasons"] == []


def test_quote_without_parts_never_claims_to_include_them() -> None:
    assert "for the labour; parts come on top;" in quote(HOUR, 40, 0).sentence
    assert "parts come on top" not in quote(HOUR, 40, 15).sentence


def test_quote_is_never_below_the_minimum() -> None:
    price = quote(HOUR, 40, 0, minimum_charge=50)
    assert (price.low, price.median, price.high) == (50, 50, 80)


def test_quote_of_one_price_names_it_once() -> None:
    sentence = quote(BenchTime(median=30, low=30, high=30), 40, 0, currency="crowns").sentence
    assert "in nine cases of ten 20 crowns" in sentence


def test_quote_doubts_a_repair_above_half_the_worth() -> None:
    assert not quote(HOUR, 40, 10, worth=100).likely_not_worth_it
    price = quote(HOUR, 40, 11, worth=100, currency="crowns")
    assert price.reasons == (
        "the likely price of 51 crowns is more than half of the 100 crowns the set is worth",
    )
    assert price.sentence.endswith("the set is worth.")


@pytest.mark.parametrize(
    ("not_economic", "cases", "doubted"),
    [
        pytest.param(3, 6, True, id="half-of-six"),
        pytest.param(2, 6, False, id="third-of-six"),
        pytest.param(4, 4, False, id="too-few-cases"),
    ],
)
def test_quote_doubts_what_was_mostly_given_up(not_economic: int, cases: int, doubted: bool) -> None:
    past = PastTries(not_economic=not_economic, cases=cases)
    assert quote(HOUR, 40, 0, past=past).likely_not_worth_it is doubted


def test_past_tries_carry_their_interval() -> None:
    values = PastTries(not_economic=18, cases=20).as_json()
    assert (values["low"], values["high"]) == pytest.approx((0.698966, 0.972134), abs=1e-6)


def test_quote_refuses_amounts_below_zero() -> None:
    with pytest.raises(ValueError, match="below zero"):
        quote(HOUR, -1, 0)
