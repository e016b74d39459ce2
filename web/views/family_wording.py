"""How the figures of a family are said on both faces."""

from search.planning.bench_time import BenchTime
from search.stats.intervals import MedianInterval, Share
from search.stats.survival import COMEBACK_DAYS, ComebackRate
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
    """Say a share in full: counts, percentage where there are enough cases, and its 95 % interval."""
    return f"{say_of(share)} ({say_interval(*share.interval)})"


def say_usual(time: MedianInterval | None, *, fixed: int = 1) -> str:
    """Say how long the fix usually takes; with `fixed` 0 the time was spent and nothing was fixed."""
    if time is None:
        return "no time recorded"
    if not fixed:
        return f"{say_minutes(time.median)} spent, never fixed"
    return f"one repair took {say_minutes(time.median)}" if time.size == 1 else say_minutes(time.median)


def say_fix_time(time: MedianInterval | None, *, fixed: int = 1) -> str:
    """Say a median fix time with its interval, or how few repairs it is of; `fixed` as in say_usual."""
    if time is None or time.size == 1 or not fixed:
        return say_usual(time, fixed=fixed)
    if time.low is None or time.high is None:
        return f"{say_minutes(time.median)} ({time.size} repairs)"
    return f"{say_minutes(time.median)} ({say_minutes(time.low)} to {say_minutes(time.high)})"


def say_bench_time(time: BenchTime, fix_time: MedianInterval | None) -> str:
    """Say the bench time to expect; a range only where enough repairs stand behind it."""
    repairs = fix_time.size if fix_time else 0
    median, low, high = say_about(time.median), say_about(time.low), say_about(time.high)
    if not repairs:
        return f"About {median} at the bench, going by other families"
    if repairs < ENOUGH_FOR_A_RANGE or low == high:
        return f"About {median} at the bench, going by {say_count(repairs, 'repair')}"
    return f"About {median} at the bench; 9 jobs in 10 take {low} to {high}"


def say_comebacks(rate: ComebackRate) -> str:
    """Say how many repairs came back, the rate where there are enough of them."""
    if not rate.repairs:
        return "no fixed repair yet"
    counts = f"{rate.comebacks:,} of {say_count(rate.repairs, 'fixed repair')} came back"
    if rate.rate is None or rate.low is None or rate.high is None:
        return f"{counts}; none was followed for {COMEBACK_DAYS} days yet"
    said = f"{say_share(rate.rate)}, " if rate.repairs >= 5 else ""
    return f"{counts} so far; by {COMEBACK_DAYS} days {said}range {say_interval(rate.low, rate.high)}"


def say_chance(probability: float) -> str:
    """Say how often chance alone would look like that, after allowing for the number of causes tested."""
    if probability >= 0.1:
        return "well within chance"
    return "under 1 in 1,000" if probability < 0.001 else f"about 1 in {round(1 / probability):,}"
