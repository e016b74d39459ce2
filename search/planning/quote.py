"""What to tell the owner: a price from bench time and parts, and whether the repair is worth it."""

from dataclasses import dataclass
from typing import Any

from kb.settings import ShopSettings
from search.planning.bench_time import BenchTime
from search.records import JsonRecord
from search.stats.intervals import Share

# Both chosen by us: above half of what the set is worth, a repair is a gamble for its owner; so is a set of
# which half were given up. test_quote_doubts_a_repair_above_half_the_worth would notice.
DOUBTFUL_SHARE_OF_WORTH = 0.5
DOUBTFUL_SHARE_GIVEN_UP = 0.5


@dataclass(frozen=True, kw_only=True)
class Quote(JsonRecord):
    """A price range, in the shop's currency, and the sentence for the owner.

    Attributes:
        median, low, high: labour for the bench time's median and 90 % range, plus parts, never below the
            minimum charge.
        reasons: why the repair is likely not worth it; empty when nothing speaks against it.
    """

    median: float
    low: float
    high: float
    parts_cost: float
    currency: str
    sentence: str
    reasons: tuple[str, ...]

    @property
    def likely_not_worth_it(self) -> bool:
        """Whether anything speaks against the repair."""
        return bool(self.reasons)

    def as_json(self) -> dict[str, Any]:
        """Return the quote as it stands in JSON."""
        return {**super().as_json(), "likely_not_worth_it": self.likely_not_worth_it}


def quote(
    bench_time: BenchTime | None,
    shop: ShopSettings,
    *,
    parts_cost: float = 0.0,
    worth: float | None = None,
    past: Share | None = None,
) -> Quote | None:
    """Return the price of a job; None without a labour rate or a known bench time.

    A repair is likely not worth it when the median price is above DOUBTFUL_SHARE_OF_WORTH of the worth, or
    when at least DOUBTFUL_SHARE_GIVEN_UP of enough past cases were not economic.

    Args:
        bench_time: of the whole job.
        shop: labour rate, minimum charge and currency.
        parts_cost: from 0.
        worth: what the set is worth to its owner, where said.
        past: how many such repairs were not economic, of all past ones.
    """
    if shop.labour_rate is None or bench_time is None:
        return None
    median, low, high = (
        price(minutes, shop, parts_cost) for minutes in (bench_time.median, bench_time.low, bench_time.high)
    )
    reasons = _reasons(median, currency=shop.currency, worth=worth, past=past)
    return Quote(
        median=median,
        low=low,
        high=high,
        parts_cost=parts_cost,
        currency=shop.currency,
        sentence=_sentence(low, median, high, currency=shop.currency, parts_cost=parts_cost, reasons=reasons),
        reasons=reasons,
    )


def price(minutes: float, shop: ShopSettings, parts_cost: float) -> float:
    """Return what a job costs: labour by the minute, plus parts, never below the minimum."""
    return max(shop.minimum_charge, minutes * (shop.labour_rate or 0.0) / 60 + parts_cost)


def money(amount: float, currency: str) -> str:
    """Spell an amount as it is said on the telephone: whole units, the currency's word behind."""
    return f"{amount:.0f} {currency}".rstrip()


def _reasons(median: float, *, currency: str, worth: float | None, past: Share | None) -> tuple[str, ...]:
    reasons = []
    if worth is not None and median > DOUBTFUL_SHARE_OF_WORTH * worth:
        reasons.append(
            f"the likely price of {money(median, currency)} is more than half of the "
            f"{money(worth, currency)} the set is worth"
        )
    if past is not None and past.shown and past.value >= DOUBTFUL_SHARE_GIVEN_UP:
        reasons.append(f"{past.count} of {past.total} such sets were not worth repairing")
    return tuple(reasons)


def _sentence(
    low: float, median: float, high: float, *, currency: str, parts_cost: float, reasons: tuple[str, ...]
) -> str:
    span = f"{low:.0f} to {money(high, currency)}" if round(low) != round(high) else money(high, currency)
    extent = "parts included" if parts_cost > 0 else "for the labour; parts come on top"
    price = (
        f"Such a repair usually costs about {money(median, currency)}, in nine cases of ten {span}, "
        f"{extent}; we ring you before it costs more."
    )
    return f"{price} It is likely not worth it: {' and '.join(reasons)}." if reasons else price
