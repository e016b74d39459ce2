"""The quote: bench time in money, a sentence for the owner, and when to say no."""

from typing import Any

import pytest

from kb.settings import ShopSettings
from search.planning.bench_time import BenchTime
from search.planning.quote import Quote, quote
from search.stats.intervals import Share

HOUR = BenchTime(median=60, low=30, high=120)
SHOP = ShopSettings(labour_rate=40.0, currency="crowns")


def quoted(shop: ShopSettings = SHOP, *, time: BenchTime = HOUR, **said: Any) -> Quote:
    found = quote(time, shop, **said)
    assert found is not None
    return found


def test_quote_is_labour_for_the_bench_time_plus_parts() -> None:
    price = quoted(parts_cost=15)
    assert (price.low, price.median, price.high) == (35, 55, 95)
    assert price.sentence.startswith(
        "Such a repair usually costs about 55 crowns, in nine cases of ten 35 to 95 crowns, parts included"
    )
    assert not price.likely_not_worth_it
    assert price.as_json()["reasons"] == []


def test_quote_without_parts_never_claims_to_include_them() -> None:
    assert "for the labour; parts come on top;" in quoted().sentence
    assert "parts come on top" not in quoted(parts_cost=15).sentence


def test_quote_is_of_the_times_as_they_are_said() -> None:
    sentence = quoted(time=BenchTime(median=73.9, low=47.6, high=114.2)).sentence
    assert "about 50 crowns, in nine cases of ten 33 to 77 crowns" in sentence  # 75, 50 and 115 min


def test_quote_is_never_below_the_minimum() -> None:
    price = quoted(ShopSettings(labour_rate=40.0, minimum_charge=50.0))
    assert (price.low, price.median, price.high) == (50, 50, 80)


def test_quote_of_one_price_names_it_once() -> None:
    sentence = quoted(time=BenchTime(median=30, low=30, high=30)).sentence
    assert "in nine cases of ten 20 crowns" in sentence


def test_quote_doubts_a_repair_above_half_the_worth() -> None:
    assert not quoted(parts_cost=10, worth=100).likely_not_worth_it
    price = quoted(parts_cost=11, worth=100)
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
    past = Share(count=not_economic, total=cases)
    assert quoted(past=past).likely_not_worth_it is doubted


def test_quote_needs_a_rate_and_a_time() -> None:
    assert quote(HOUR, ShopSettings()) is None
    assert quote(None, SHOP) is None
