"""The charts of the family pages: figures in, a drawing and the words beside it out."""

from __future__ import annotations

import datetime

from markupsafe import Markup

from search.families.family_figures import Share
from search.families.trends import Recurring, Trend
from search.planning.bench_time import BenchTime
from search.stats.intervals import MedianInterval
from search.stats.survival import ComebackRate
from web.views.charts import describe_years, range_chart, share_chart, years_chart
from web.views.wording import say_count, say_minutes, say_share


def say_interval(low: float, high: float) -> str:
    """Say the interval of a share: "22 to 53 %"."""
    return f"{say_share(low).removesuffix(' %')} to {say_share(high)}"


def say_of(share: Share) -> str:
    """Say a share as counts, with its percentage only where enough cases stand behind it."""
    said = f"{share.count:,} of {share.total:,}"
    return f"{said}, {say_share(share.value)}" if share.shown else said


def say_share_and_interval(share: Share) -> str:
    """Say a share in full: counts, percentage where there are enough cases, and the 95 % interval."""
    low, high = share.interval
    return f"{say_of(share)} (95 % interval {say_interval(low, high)})"


def say_fix_time(fix_time: MedianInterval | None) -> str:
    """Say a median fix time with its interval, or why it has none."""
    if fix_time is None:
        return "no time recorded"
    if fix_time.low is None or fix_time.high is None:
        return f"{say_minutes(fix_time.median)} (median of {fix_time.size}, too few for an interval)"
    return f"{say_minutes(fix_time.median)} ({say_minutes(fix_time.low)} to {say_minutes(fix_time.high)})"


def say_comebacks(rate: ComebackRate) -> str:
    """Say how many repairs came back, the rate where there are enough of them."""
    counts = f"{rate.comebacks:,} of {say_count(rate.repairs, 'fixed repair')}"
    if rate.rate is None or rate.low is None or rate.high is None:
        return (
            f"{counts}; none was followed for {rate.days} days yet" if rate.repairs else "no fixed repair yet"
        )
    said = f"{say_share(rate.rate)}, " if rate.repairs >= 5 else ""
    return f"{counts} so far; by {rate.days} days {said}95 % interval {say_interval(rate.low, rate.high)}"


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


def recurring_bar(item: Recurring, total: int) -> Markup:
    """Draw what part of all cases a cause or a board makes up."""
    return share_bar(item.name, Share(count=item.cases, total=total))


def comeback_bar(what: str, rate: ComebackRate) -> Markup:
    """Draw a comeback rate with its interval; "" while none is known."""
    if rate.rate is None or rate.low is None or rate.high is None:
        return Markup("")
    return share_chart(
        f"Came back within {rate.days} days: {what}",
        say_comebacks(rate),
        share=rate.rate if rate.repairs >= 5 else None,
        low=min(rate.low, rate.rate),
        high=max(rate.high, rate.rate),
    )


def year_columns(what: str, years: tuple[tuple[int, int], ...], newest: datetime.date | None) -> Markup:
    """Draw cases a year; the year of the newest note is hollow until it is over."""
    numbers, counts = [year for year, _ in years], [count for _, count in years]
    unfinished = (
        newest is not None and numbers[-1:] == [newest.year] and (newest.month, newest.day) != (12, 31)
    )
    said = describe_years(numbers, counts, lambda count: say_count(count, "case"))
    if unfinished and newest is not None:
        said += f" (to {newest.day} {newest:%B})"
    return years_chart(f"Cases a year: {what}", said, years=numbers, counts=counts, unfinished=unfinished)


def trend_columns(trend: Trend) -> Markup:
    """Draw the cases a year of one cause."""
    said = ", ".join(
        f"{year}: {count} of {total}"
        for year, count, total in zip(trend.years, trend.counts, trend.totals, strict=True)
    )
    return years_chart(f"Cases a year: {trend.root_cause}", said, years=trend.years, counts=trend.counts)


def bench_time_range(time: BenchTime) -> Markup:
    """Draw the bench time to expect: the 90 % range as a band, the median as a line."""
    said = (
        f"median {say_minutes(time.median)}, 9 jobs in 10 {say_minutes(time.low)} to {say_minutes(time.high)}"
    )
    return range_chart(
        "Bench time to expect", said, low=time.low, median=time.median, high=time.high, top=time.high * 1.05
    )
