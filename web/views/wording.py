"""How figures are said on both faces: with their unit and as many digits as they deserve."""

import math
from collections.abc import Iterable, Sequence

from kb.notes.durations import format_minutes
from search.answering.answer import Advice, Answer, CauseAnswer
from search.families.blinks import BlinkFigures

NOT_KNOWN = "not known"
# Lines by the family that they hold for; those under "" hold for any.
Groups = Sequence[tuple[str, Sequence[str]]]
CAUSES_NAMED = 3  # of a blink count; chosen by us: more would not narrow anything


def say_minutes(minutes: float | None) -> str:
    """Say a time in whole minutes; "not known" for none."""
    if minutes is None or not math.isfinite(minutes):
        return NOT_KNOWN
    return format_minutes(max(round(minutes), 1 if minutes > 0 else 0))


def say_about(minutes: float | None) -> str:
    """Say an estimate: to five minutes from twenty on, for no estimate is better than that (chosen by us)."""
    if minutes is None or not math.isfinite(minutes) or minutes < 20:
        return say_minutes(minutes)
    return format_minutes(5 * round(minutes / 5))


def say_share(share: float | None) -> str:
    """Say a share within [0, 1] as a whole percentage that never claims 0 or 100 for what is neither."""
    if share is None or not math.isfinite(share):
        return NOT_KNOWN
    if 0 < share < 0.01:
        return "under 1 %"
    if 0.99 < share < 1:
        return "over 99 %"
    return f"{share * 100:.0f} %"


def group_advice(lines: Iterable[Advice]) -> Groups:
    """Gather the lines that hold for one family under its name; first those that hold anyway."""
    groups: dict[str, list[str]] = {"": []}
    for each in lines:
        groups.setdefault(each.if_family, []).append(each.line)
    return [(family, said) for family, said in groups.items() if said]


def say_count(number: int, one: str, many: str = "") -> str:
    """Say a number of things: "1 case", "12 cases"."""
    return f"{number:,} {one if number == 1 else many or one + 's'}"


def say_record(cause: CauseAnswer) -> list[str]:
    """Say how a cause went before: the time of its fix, and how often it was fixed.

    One repair has no "usual" time, and hours spent on what was never fixed are not the time of a fix.
    """
    time = "" if cause.fix_time_min is None else say_about(cause.fix_time_min)
    cases = say_count(cause.cases, "case")
    if not cause.fixed:
        said = [f"0 of {cases} fixed", f"{time} spent on it" if time else ""]
    elif cause.fixed == 1:
        often = "fixed the one time" if cause.cases == 1 else f"fixed once in {cases}"
        said = [f"{often}, in {time}" if time else often]
    else:
        said = [f"usual fix {time}" if time else "", f"{cause.fixed:,} of {cases} fixed"]
    return [each for each in said if each]


def say_blinks(record: BlinkFigures) -> str:
    """Say what a blink count means by the service sheet, and what it turned out to be in the notes."""
    sheet = (
        f"the service sheet says {record.service_sheet}"
        if record.service_sheet
        else "the family's note gives it no meaning"
    )
    causes = ", ".join(f"{share.count:,} {cause}" for cause, share in record.causes[:CAUSES_NAMED])
    past = f"of {say_count(record.cases, 'past case')}: {causes}" if causes else "no past case has it"
    return f"{sheet}; {past}."


def family_met(answer: Answer) -> str:
    """Return the family that was said where any of the causes was met in it, else ""."""
    family = answer.reading.family
    return family if any(family in dict(cause.by_family) for cause in answer.causes) else ""


def say_where(cause: CauseAnswer, family: str) -> str:
    """Say in which families a cause was met; "" where it is all the family that was said.

    A check that names C841 holds for the family it was written for, and misleads on another chassis.
    """
    met = dict(cause.by_family)
    here = met.pop(family, 0)
    others = ", ".join(list(met)[:3]) + (f" and {len(met) - 3} more" if len(met) > 3 else "")
    if family and here:
        return f"{here:,} of the {cause.cases:,} in {family}" if here < cause.cases else ""
    if not others:
        return ""
    return f"never in {family}, only in {others}" if family else f"seen in {others}"
