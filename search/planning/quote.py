"""What to tell the owner: a price from bench time and parts, and whether the repair is worth it."""

from dataclasses import dataclass

from search.planning.bench_time import BenchTime
from search.stats.intervals import wilson_interval

# Chosen by us: above half of what the set is worth, a repair is a gamble for its owner.
# test_quote_doubts_a_repair_above_half_the_worth would notice.
DOUBTFUL_SHARE_OF_WORTH = 0.5
# Chosen by us: as many cases as make a share worth a percentage, and at least half of them given up.
ENOUGH_CASES = 5
DOUBTFUL_SHARE_GIVEN_UP = 0.5


@dataclass(frozen=True, kw_only=True)
class PastTries:
    """How often such a repair was given up as not economic, of all past cases."""

    not_economic: int
    cases: int

    def as_json(self) -> dict[str, int | float]:
        """Return counts and the share's Wilson 95 % interval."""
        low, high = wilson_interval(self.not_economic, self.cases)
        return {"not_economic": self.not_economic, "cases": self.cases, "low": low, "high": high}


@dataclass(frozen=True, kw_only=True)
class Quote:
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

    def as_json(self) -> dict[str, object]:
        """Return the quote as it stands in the JSON answer."""
        return {
            "median": self.median,
            "low": self.low,
            "high": self.high,
            "parts_cost": self.parts_cost,
            "currency": self.currency,
            "sentence": self.sentence,
            "likely_not_worth_it": self.likely_not_worth_it,
            "reasons": list(self.reasons),
        }


def quote(
    bench_time: BenchTime,
    labour_rate_per_hour: float,
    parts_cost: float,
    *,
    currency: str = "",
    minimum_charge: float = 0.0,
    worth: float | None = None,
    past: PastTries | None = None,
) -> Quote:
    """Return the price of a job from its bench time (minutes) and its parts.

    A repair is likely not worth it when the median price is above DOUBTFUL_SHARE_OF_WORTH of the worth, or
    when of at least ENOUGH_CASES past cases at least DOUBTFUL_SHARE_GIVEN_UP were not economic.

    Args:
        bench_time: of the whole job.
        labour_rate_per_hour, parts_cost, minimum_charge: money, not negative, in one currency.
        currency: its word.
        worth: what the set is worth to its owner, where said.
        past: how such repairs ended, where known.

    Raises:
        ValueError: for a negative amount.
    """
    if min(labour_rate_per_hour, parts_cost, minimum_charge, worth or 0.0) < 0:
        raise ValueError("amounts of money below zero; write the rate, parts, minimum and worth from 0")
    median, low, high = (
        price(minutes, labour_rate_per_hour, parts_cost, minimum_charge=minimum_charge)
        for minutes in (bench_time.median, bench_time.low, bench_time.high)
    )
    reasons = _reasons(median, currency=currency, worth=worth, past=past)
    return Quote(
        median=median,
        low=low,
        high=high,
        parts_cost=parts_cost,
        currency=currency,
        sentence=_sentence(low, median, high, currency=currency, extent=_extent(parts_cost), reasons=reasons),
        reasons=reasons,
    )


def price(minutes: float, labour_rate_per_hour: float, parts_cost: float, *, minimum_charge: float) -> float:
    """Return what a job costs: labour by the minute, plus parts, never below the minimum."""
    return max(minimum_charge, minutes * labour_rate_per_hour / 60 + parts_cost)


def money(amount: float, currency: str) -> str:
    """Spell an amount as it is said on the telephone: whole units, the currency's word behind."""
    return f"{amount:.0f} {currency}".rstrip()


def _reasons(median: float, *, currency: str, worth: float | None, past: PastTries | None) -> tuple[str, ...]:
    reasons = []
    if worth is not None and median > DOUBTFUL_SHARE_OF_WORTH * worth:
        reasons.append(
            f"the likely price of {money(median, currency)} is more than half of the "
            f"{money(worth, currency)} the set is worth"
        )
    if (
        past is not None
        and past.cases >= ENOUGH_CASES
        and past.not_economic >= DOUBTFUL_SHARE_GIVEN_UP * past.cases
    ):
        reasons.append(f"{past.not_economic} of {past.cases} such sets were not worth repairing")
    return tuple(reasons)


def _extent(parts_cost: float) -> str:
    return "parts included" if parts_cost > 0 else "for the labour; parts come on top"


def _sentence(
    low: float, median: float, high: float, *, currency: str, extent: str, reasons: tuple[str, ...]
) -> str:
    span = f"{low:.0f} to {money(high, currency)}" if round(low) != round(high) else money(high, currency)
    price = (
        f"Such a repair usually costs about {money(median, currency)}, in nine cases of ten {span}, "
        f"{extent}; we ring you before it costs more."
    )
    if reasons:
        price += f" It is likely not worth it: {' and '.join(reasons)}."
    return price
