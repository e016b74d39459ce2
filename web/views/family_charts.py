"""How the figures of a family are said and drawn."""

from __future__ import annotations

import datetime

from markupsafe import Markup

from search.families.family_figures import Share
from search.families.trends import Trend
from search.planning.bench_time import BenchTime
from search.stats.intervals import MedianInterval
from search.stats.survival import COMEBACK_DAYS, ComebackRate
from web.views.charts import share_chart, years_chart
from web.views.wording import say_about, say_count, say_minutes, say_share

ENOUGH_FOR_A_RANGE = 5  # chosen by us: of fewer repairs "9 jobs in 10" is an empty phrase


def say_interval(low: float, high: float) -> str:
    """Say the interval of a share: "22 to 53 %"."""
    return f"{say_share(low).removesuffix(' %')} to {say_share(high)}"


def say_of(share: Share) -> str:
    """Say a share as counts, with its percentage only where enough cases stand behind it."""
    said = f"{share.count:,} of {share.total:,}"
    return f"{said}, {say_share(share.value)}" if share.shown else said


def say_share_and_interval(share: Share) -> str:
    """Say a share in full: counts, percentage where there are enough cases, and the 95 % interval."""
    return f"{say_of(share)} (95 % interval {say_interval(*share.interval)})"


def say_fix_time(fix_time: MedianInterval | None) -> str:
    """Say a median fix time with its interval, or how few repairs it is of."""
    if fix_time is None:
        return "no time recorded"
    median = say_minutes(fix_time.median)
    if fix_time.size == 1:
        return f"one repair took {median}"
    if fix_time.low is None or fix_time.high is None:
        return f"{median} ({fix_time.size} repairs)"
    return f"{median} ({say_minutes(fix_time.low)} to {say_minutes(fix_time.high)})"


def say_bench_time(time: BenchTime, fix_time: MedianInterval | None) -> str:
    """Say the bench time to expect; a range only where enough repairs stand behind it."""
    repairs = fix_time.size if fix_time else 0
    median, low, high = say_about(time.median), say_about(time.low), say_about(time.high)
    if not repairs:
        return f"{median} at the bench, going by other families"
    if repairs < ENOUGH_FOR_A_RANGE or low == high:
        return f"{median} at the bench, going by {say_count(repairs, 'repair')}"
    return f"{median} at the bench; 9 jobs in 10 take {low} to {high}"


def say_comebacks(rate: ComebackRate) -> str:
    """Say how many repairs came back, the rate where there are enough of them."""
    if not rate.repairs:
        return "no fixed repair yet"
    counts = f"{rate.comebacks:,} of {say_count(rate.repairs, 'fixed repair')}"
    if rate.rate is None or rate.low is None or rate.high is None:
        return f"{counts}; none was followed for {COMEBACK_DAYS} days yet"
    said = f"{say_share(rate.rate)}, " if rate.repairs >= 5 else ""
    return f"{counts} so far; by {COMEBACK_DAYS} days {said}95 % interval {say_interval(rate.low, rate.high)}"


def say_chance(probability: float) -> str:
    """Say how often chance alone would look like that, after allowing for the number of causes tested."""
    if probability >= 0.1:
        return "well within chance"
    if probability < 0.001:
        return "chance alone: under 1 in 1,000"
    return f"chance alone: about 1 in {round(1 / probability):,}"


def share_bar(what: str, share: Share) -> Markup:
    """Draw a share with its interval; of too few cases only the interval."""
    low, high = share.interval
    return share_chart(
        f"Share: {what}",
        say_share_and_interval(share),
        share=share.value if share.shown else None,
        low=low,
        high=high,
    )


def year_columns(what: str, years: tuple[tuple[int, int], ...], newest: datetime.date | None) -> Markup:
    """Draw cases a year; the year of the newest note is hollow until it is over."""
    numbers, counts = [year for year, _ in years], [count for _, count in years]
    unfinished = bool(newest and numbers[-1:] == [newest.year] and (newest.month, newest.day) != (12, 31))
    said = ", ".join(f"{year}: {say_count(count, 'case')}" for year, count in years)
    if unfinished and newest:
        said += f" (to {newest.day} {newest:%B})"
    return years_chart(f"Cases a year: {what}", said, years=numbers, counts=counts, unfinished=unfinished)


def trend_columns(trend: Trend) -> Markup:
    """Draw the cases a year of one cause."""
    years = zip(trend.years, trend.counts, trend.totals, strict=True)
    said = ", ".join(f"{year}: {count} of {total}" for year, count, total in years)
    return years_chart(f"Cases a year: {trend.root_cause}", said, years=trend.years, counts=trend.counts)
