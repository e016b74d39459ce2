"""Plan a job: the order of checks and the bench time, from the causes it may turn out to be."""

from collections.abc import Sequence
from dataclasses import dataclass

from search.planning.bench_time import BenchTime, CauseTime, FixTimeSpread, expected_bench_time
from search.planning.checks import Check, CheckPlan, order_checks
from search.stats.arrays import FloatArray


@dataclass(frozen=True, kw_only=True, eq=False)
class SuspectedCause:
    """One cause the job may turn out to be.

    Attributes:
        check: the check that decides it, with its probability.
        fix_times_min: (n,) recorded fix times, minutes; may be empty.
        fixed_inside: whether its repair needs the set open.
    """

    check: Check
    fix_times_min: FloatArray
    fixed_inside: bool


@dataclass(frozen=True, kw_only=True)
class JobPlan:
    """The order of checks, and the bench time of the whole job (None when no fix time is known at all)."""

    checks: CheckPlan
    bench_time: BenchTime | None


def plan_job(
    causes: Sequence[SuspectedCause], *, opening_min: float, not_in_notebook: float, spread: FixTimeSpread
) -> JobPlan:
    """Return the order of checks and the bench time to expect.

    Args:
        causes: probabilities sum to at most 1.
        opening_min: minutes to open the set; 0 when it is open already.
        not_in_notebook: the chance that it is none of them.
        spread: how fix times scatter in general, for causes with few of them.
    """
    plan = order_checks([cause.check for cause in causes], opening_min=opening_min)
    times = []
    for place, found, opened in zip(plan.places, plan.finding_min, plan.opened, strict=True):
        cause = causes[place]
        # A cause found with the set still closed pays the opening for its repair.
        later = opening_min if cause.fixed_inside and not opened else 0.0
        times.append(
            CauseTime(
                probability=cause.check.probability,
                finding_min=found + later,
                fix_times_min=cause.fix_times_min,
            )
        )
    closed_throughout = not any(plan.opened)
    return JobPlan(
        checks=plan,
        bench_time=expected_bench_time(
            times,
            not_in_notebook=not_in_notebook,
            all_checks_min=plan.total_minutes + (opening_min if closed_throughout else 0.0),
            spread=spread,
        ),
    )
