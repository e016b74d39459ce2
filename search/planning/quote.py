"""What to tell the owner: a price from bench time and parts, and whether the repair is worth it."""

from dataclasses import dataclass

from kb.settings import ShopSettings
from search.planning.bench_time import BenchTime, rounded
from search.records import JsonRecord
from search.stats.intervals import Share

# A repair is doubtful from this share of the set's worth, or of such sets given up; chosen by us
# (test_quote).
DOUBTFUL_SHARE = 0.5


@dataclass(frozen=True, kw_only=True)
class Quote(JsonRecord):
    """A price in the shop's currency, from the median and 90 % range of the bench time, plus parts."""

    median: float
    low: float
    high: float
    parts_cost: float
    currency: str
    sentence: str
    reasons: tuple[str, ...]
    likely_not_worth_it: bool


def quote(
    bench_time: BenchTime | None,
    shop: ShopSettings,
    *,
    parts_cost: float = 0.0,
    worth: float | None = None,
    past: Share | None = None,
) -> Quote | None:
    """Return the quote for a whole job; None without a labour rate or a bench time.

    It is likely not worth it when the median price is above DOUBTFUL_SHARE of what the set is worth, or when
    at least that share of enough past cases were not economic (past).
    """
    if shop.labour_rate is None or bench_time is None:
        return None
    minutes = map(rounded, (bench_time.median, bench_time.low, bench_time.high))  # as the page says them
    median, low, high = (price(each, shop, parts_cost) for each in minutes)
    reasons = []
    if worth is not None and median > DOUBTFUL_SHARE * worth:
        likely, half_of = money(median, shop), money(worth, shop)
        reasons.append(f"the likely price of {likely} is more than half of the {half_of} the set is worth")
    if past is not None and past.shown and past.value >= DOUBTFUL_SHARE:
        reasons.append(f"{past.count} of {past.total} such sets were not worth repairing")
    span = f"{low:.0f} to {money(high, shop)}" if round(low) != round(high) else money(high, shop)
    extent = "parts included" if parts_cost > 0 else "for the labour; parts come on top"
    sentence = (
        f"Such a repair usually costs about {money(median, shop)}, in nine cases of ten {span}, "
        f"{extent}; we ring you before it costs more."
    )
    if reasons:
        sentence += f" It is likely not worth it: {' and '.join(reasons)}."
    return Quote(
        median=median, low=low, high=high, parts_cost=parts_cost, currency=shop.currency, sentence=sentence,
        reasons=tuple(reasons), likely_not_worth_it=bool(reasons),
    )  # fmt: skip


def price(minutes: float, shop: ShopSettings, parts_cost: float) -> float:
    """Return the price of a job: labour by the minute plus parts, at least the minimum."""
    return max(shop.minimum_charge, minutes * (shop.labour_rate or 0.0) / 60 + parts_cost)


def money(amount: float, shop: ShopSettings) -> str:
    """Say an amount as on the telephone: whole units, then the currency."""
    return f"{amount:.0f} {shop.currency}".rstrip()
