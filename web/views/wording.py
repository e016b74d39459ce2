"""How figures are said on page and terminal: with their unit and as many digits as they deserve."""

import math
from collections.abc import Iterable, Sequence

from kb.errors import say_count
from kb.notes.durations import format_minutes
from search.answering.answer import Advice, CauseAnswer
from search.answering.knowledge import LIVE
from search.families.case_group import BlinkFigures
from search.planning.bench_time import BenchTime, rounded
from search.stats.intervals import COMEBACK_DAYS, ComebackRate, MedianInterval, Share

NOT_KNOWN = "not known"
Groups = Sequence[tuple[str, Sequence[str]]]  # (family that the lines hold for, "" for any; lines)
ENOUGH_FOR_A_RANGE = 5  # repairs; with fewer "9 jobs in 10" means nothing; chosen by us
CAUSES_NAMED = 3  # of a blink count; chosen by us: more would not narrow it down


def say_minutes(minutes: float | None) -> str:
    """Say a time in whole minutes; "not known" for none."""
    if minutes is None or not math.isfinite(minutes):
        return NOT_KNOWN
    return format_minutes(max(round(minutes), 1 if minutes > 0 else 0))


def say_about(minutes: float | None) -> str:
    """Say an estimate, rounded."""
    return say_minutes(rounded(minutes) if minutes is not None and math.isfinite(minutes) else None)


def say_share(share: float | None) -> str:
    """Say a share within [0, 1] in whole per cent, never 0 or 100 for what is neither."""
    if share is None or not math.isfinite(share):
        return NOT_KNOWN
    if 0 < share < 0.01:
        return "under 1 %"
    if 0.99 < share < 1:
        return "over 99 %"
    return f"{share * 100:.0f} %"


def group_advice(lines: Iterable[Advice]) -> Groups:
    """Group lines of advice by the family that they hold for; first those for any family."""
    groups: dict[str, list[str]] = {"": []}
    for each in lines:
        groups.setdefault(each.if_family, []).append(each.line)
    return [(family, said) for family, said in groups.items() if said]


def say_record(cause: CauseAnswer) -> list[str]:
    """Say how repairs of a cause went: the time of the fix, and how often it was fixed.

    One repair has no "usual" time, and time spent without success is not the time of a fix.
    """
    time = "" if cause.profile.fix_time_min is None else say_about(cause.profile.fix_time_min)
    cases = say_count(cause.cases, "case")
    if not cause.profile.fixed:
        return [f"0 of {cases} fixed", *([f"{time} spent on it"] if time else [])]
    if cause.profile.fixed == 1:
        often = "fixed the one time" if cause.cases == 1 else f"fixed once in {cases}"
        return [f"{often}, in {time}" if time else often]
    return [*([f"usual fix {time}"] if time else []), f"{cause.profile.fixed:,} of {cases} fixed"]


def _history(cause: CauseAnswer, family: str) -> list[str]:
    return list(filter(None, ("; ".join(say_record(cause)), say_where(cause, family))))


def say_why(cause: CauseAnswer, family: str) -> str:
    """Say what speaks for a cause. family: the one that was said, if any cause was met in it."""
    return cause.why or "; ".join(_history(cause, family))


def say_facts(cause: CauseAnswer, family: str) -> list[str]:
    """Say what else is known of a cause."""
    also = f"also noted as {', '.join(cause.spellings)}" if cause.spellings else ""
    return list(filter(None, (cause.profile.board, *(_history(cause, family) if cause.why else ()), also)))


def say_against(cause: CauseAnswer) -> str:
    """Say what speaks against a cause; that no case was fixed is a fact about it, nothing against it."""
    against = f"against it: {cause.against}" if cause.against else ""
    note = cause.profile.check.note
    return "; ".join(filter(None, (against, "" if note == LIVE else note)))


def say_blinks(record: BlinkFigures) -> str:
    """Say what a blink count means by the service sheet, and what it was in past cases."""
    sheet = "the family's note gives it no meaning"
    if record.service_sheet:
        sheet = f"the service sheet says {record.service_sheet}"
    causes = ", ".join(f"{share.count:,} {cause}" for cause, share in record.causes[:CAUSES_NAMED])
    past = f"of {say_count(record.cases, 'past case')}: {causes}" if causes else "no past case has it"
    return f"{sheet}; {past}."


def say_where(cause: CauseAnswer, family: str) -> str:
    """Say in which families a cause was met; "" if only in the family that was said.

    A check that names C841 misleads on another chassis.
    """
    met = dict(cause.profile.by_family)
    here = met.pop(family, 0)
    others = ", ".join(list(met)[:3]) + (f" and {len(met) - 3} more" if len(met) > 3 else "")
    if family and here:
        return f"{here:,} of the {cause.cases:,} in {family}" if here < cause.cases else ""
    if not others:
        return ""
    return f"never in {family}, only in {others}" if family else f"seen in {others}"


def say_interval(low: float, high: float) -> str:
    """Say the interval of a share, as in "22 to 53 %"."""
    return f"{say_share(low).removesuffix(' %')} to {say_share(high)}"


def say_of(share: Share) -> str:
    """Say a share as counts, with a percentage only if there are enough cases."""
    said = f"{share.count:,} of {share.total:,}"
    return f"{said}, {say_share(share.value)}" if share.shown else said


def say_share_and_interval(share: Share) -> str:
    """Say a share as counts, a percentage if there are enough cases, and its 95 % interval."""
    return f"{say_of(share)} ({say_interval(*share.interval)})"


def say_usual(time: MedianInterval | None, *, fixed: int = 1) -> str:
    """Say how long the fix usually takes. fixed: number of repairs; with 0 the time was spent in vain."""
    if time is None:
        return "no time recorded"
    if not fixed:
        return f"{say_about(time.median)} spent, never fixed"
    return f"{'one repair took' if time.size == 1 else 'usual fix'} {say_about(time.median)}"


def say_fix_time(time: MedianInterval | None, *, fixed: int = 1) -> str:
    """Say a median fix time with its interval, or the number of repairs if few; fixed: as in say_usual()."""
    if time is None or time.size == 1 or not fixed:
        return say_usual(time, fixed=fixed)
    known = time.low is not None and time.high is not None
    spread = f"{say_about(time.low)} to {say_about(time.high)}" if known else f"{time.size} repairs"
    return f"{say_about(time.median)} ({spread})"


def say_bench_time(time: BenchTime, fix_time: MedianInterval | None) -> str:
    """Say the bench time to expect, with a range only if there are enough repairs."""
    repairs = fix_time.size if fix_time else 0
    median, low, high = say_about(time.median), say_about(time.low), say_about(time.high)
    if not repairs:
        return f"About {median} at the bench, going by other families"
    if repairs < ENOUGH_FOR_A_RANGE or low == high:
        return f"About {median} at the bench, going by {say_count(repairs, 'repair')}"
    return f"About {median} at the bench; 9 jobs in 10 take {low} to {high}"


def say_comebacks(rate: ComebackRate) -> str:
    """Say how many repairs came back, with the rate if there are enough."""
    if not rate.repairs:
        return "no fixed repair yet"
    counts = f"{rate.comebacks:,} of {say_count(rate.repairs, 'fixed repair')} came back"
    if rate.rate is None or rate.low is None or rate.high is None:
        return f"{counts}; none was followed for {COMEBACK_DAYS} days yet"
    said = f"{say_share(rate.rate)}, " if rate.repairs >= 5 else ""
    return f"{counts} so far; by {COMEBACK_DAYS} days {said}range {say_interval(rate.low, rate.high)}"


def say_chance(probability: float) -> str:
    """Say how often chance alone would do that, allowing for the number of causes tested."""
    if probability >= 0.1:
        return "well within chance"
    return "under 1 in 1,000" if probability < 0.001 else f"about 1 in {round(1 / probability):,}"


# Names of these functions in templates of page and terminal.
FILTERS = {"by_family": group_advice, "count": say_count, "minutes": say_minutes, "share": say_share}
