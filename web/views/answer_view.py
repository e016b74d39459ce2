"""Decide what is shown of an answer, for page and terminal alike."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

from kb.settings import settings_or_trouble
from search.answering.advice import hazards_said, may_ask_of_flashes, opening_minutes
from search.answering.answer import Answer, CaseHit, CauseAnswer, Question
from search.answering.knowledge import Knowledge
from search.bench import Bench
from search.planning.bench_time import BenchTime, expected_bench_time
from search.planning.checks import CheckPlan
from search.planning.quote import quote
from web.views.heard import UNSETTLED, Heard, heard_in, left_out, warnings_for
from web.views.owner_advice import advise_owner
from web.views.state import SearchState
from web.views.wording import Groups, say_about, say_minutes, say_share, say_where

BLINKING = "blinking light"  # the concept whose question asks for flashes
RARE_HAZARD = 6  # a hazard that at most one family in so many has is spelt out; chosen by us
SPELT_OUT = 2  # most hazards spelt out: more would push the likely causes off the first screen


@dataclass(frozen=True, kw_only=True)
class Step:
    """One step at the bench: a check, or opening the set (cause is "")."""

    what: str
    minutes: str
    cause: str = ""
    share: str = ""
    notes: tuple[str, ...] = ()
    reading: str = ""


@dataclass(frozen=True, kw_only=True)
class AnswerView:
    """What is shown of one answer to what `state` asks.

    left_out: the parts of a complaint that are denied or past, each with the reason. taken_to_be: says that
    the family which gives the blinks their meaning is assumed, or "". only_family: the only family of this
    kind of device, or "". unsettled: probabilities may change in a moment. spelt_out: hazards to say in full,
    as the owner tells of them or few families have them. family_met: the family that was said, if any cause
    was met in it, else "". other: what is beyond the causes listed, with its share. new_leads: a new cause is
    likelier than any known one, so it stands first. in_general: what a new cause may be, in a sentence, or
    "". found: the cause that it proved to be, if it is listed. family_gone_by: if no family was said, the one
    that the answer went by, if the found cause was met in it, else "". times: what the quote is made from,
    with labels. price: the sentence for the owner, or "". cases: past repairs to show, none of other devices.
    """

    answer: Answer
    state: SearchState
    left_out: Sequence[tuple[str, str]]
    heard: Sequence[Heard]
    taken_to_be: str
    only_family: str
    warnings: Sequence[str]
    unsettled: bool
    spelt_out: Sequence[str]
    family_met: str
    other: Sequence[tuple[str, str]]
    new_leads: bool
    in_general: str
    found: CauseAnswer | None
    family_gone_by: str
    steps: Sequence[Step]
    next: Step | None
    owner: Groups
    may_ask: bool
    asks_flashes: bool
    questions: Sequence[Question]
    times: Sequence[tuple[str, str]]
    price: str
    cases: Sequence[CaseHit]


def ask(bench: Bench, state: SearchState) -> Answer:
    """Ask the bench what the state says. Raises: BlinksError."""
    return bench.answer(
        state.q, family=state.family, blinks=state.blinks, rule_out=state.rule_out, limit=state.limit,
        literal=state.literal, yes=state.yes, no=state.no,
    )  # fmt: skip


def view_answer(answer: Answer, state: SearchState, bench: Bench) -> AnswerView:
    """Return what is shown of an answer."""
    knowledge, reading = bench.knowledge, answer.reading
    families, family, only = knowledge.families.values(), reading.family, reading.taken_to_be
    named = knowledge.vocabulary.caution_names
    listed = Counter(kind for each in families for kind in named(each.caution))
    likely = [each.kind for each in answer.caution if each.likely]
    told = hazards_said(knowledge, reading)
    may_ask = "gas" not in hazards_said(knowledge, replace(reading, danger_heard=""))
    kinds = [each.kind for each in answer.caution]
    asks_flashes = may_ask_of_flashes(knowledge, reading, kinds) and not answer.unmet_device
    asked = [each for each in answer.questions if asks_flashes or each.concept != BLINKING]
    met_in = (family in dict(cause.profile.by_family) for cause in answer.causes)
    found = next((each for each in answer.causes if each.root_cause == state.found), None)
    gone_by = {each.if_family for each in (*answer.before_power, *answer.while_open) if each.if_family}
    met = dict(found.profile.by_family) if found else {}
    known = ("other causes" if answer.causes else "a cause") + " in this notebook"
    other = {known: answer.other_causes, "a cause not in this notebook yet": answer.not_in_notebook}
    family_met = family if family and any(met_in) else ""
    steps = steps_of(answer, state, family_met)
    time = _job_time(answer, state, found, knowledge)
    price = quote(time, settings_or_trouble(bench.notebook.root)[0])
    striking = [kind for kind in likely if kind in told or RARE_HAZARD * listed[kind] <= len(families)]
    striking.sort(key=lambda kind: (kind not in told, kind not in knowledge.vocabulary.for_owner))
    return AnswerView(
        answer=answer, state=state, left_out=left_out(reading),
        heard=heard_in(answer, state, knowledge),
        taken_to_be=only and f"The set is taken to be {only}, the only {reading.make} {reading.device} here",
        only_family=knowledge.only_family("", reading.device),
        warnings=warnings_for(answer, state, knowledge, asks_flashes=asks_flashes),
        unsettled=not set(UNSETTLED).isdisjoint(answer.notices),
        spelt_out=striking[: SPELT_OUT if told or reading.device or family else 1],  # one of a guess
        other=[(what, say_share(share)) for what, share in other.items() if share > 0 and may_ask],
        new_leads=any(answer.not_in_notebook > each.probability for each in answer.causes[:1]),
        in_general=_in_general(answer),
        found=found, family_met=family_met,
        family_gone_by="".join(gone_by) if len(gone_by) == 1 and gone_by <= met.keys() and not family else "",
        steps=steps, next=next((step for step in steps if step.cause and not found), None),
        owner=advise_owner(answer.caution, answer.tell_owner, knowledge.vocabulary), may_ask=may_ask,
        asks_flashes=asks_flashes, questions=asked if may_ask else (),
        times=times_of(answer, state, time), price=price.sentence if price else "",
        cases=answer.cases if may_ask and not answer.unmet_device else (),
    )  # fmt: skip


def _job_time(
    answer: Answer, state: SearchState, found: CauseAnswer | None, knowledge: Knowledge
) -> BenchTime | None:
    """Return the bench time of the whole job, for the cause that was found, else over all causes."""
    if found is None or not found.profile.fixed:
        return None if state.found else answer.bench_time
    opening_min, _ = opening_minutes(knowledge, answer.families)
    plan = CheckPlan(checks=(replace(found.check, probability=1.0),), opening_min=opening_min)
    return expected_bench_time(plan, not_in_notebook=0.0, spread=knowledge.basis.spread)


def _in_general(answer: Answer) -> str:
    """Say which known faults that nobody here has met it may be; "" for none."""
    named = [
        f"{each.fault}{f' ({each.devices[0]})' if each.devices else ''} {say_share(each.probability)}"
        for each in answer.known_in_general
    ]
    return f"Never met here, but known in general: {', '.join(named)}." if named else ""


def steps_of(answer: Answer, state: SearchState, family_met: str) -> list[Step]:
    """Return the checks in order, with opening the set before the first inside check."""
    cause_of, noted = {each.root_cause: each for each in answer.causes}, dict(state.noted)
    steps = [
        Step(
            what=check.check or f"Look for it: {check.root_cause}", minutes=say_minutes(check.minutes),
            cause=check.root_cause, share=say_share(check.probability),
            notes=_notes(origin(cause_of[check.root_cause], answer, family_met), check.note, check.assumed),
            reading=noted.get(check.root_cause, ""),
        )
        for check in answer.plan.checks
    ]  # fmt: skip
    inside = next((place for place, check in enumerate(answer.plan.checks) if check.inside), None)
    if inside is not None and not answer.already_open:
        likely = answer.families[0].chassis_family if answer.families else ""
        doubt = likely and not answer.reading.family and not answer.opening_assumed
        what = f"Open the set, if it is {likely}" if doubt else "Open the set"
        opening = say_minutes(answer.plan.opening_min)
        steps.insert(inside, Step(what=what, minutes=opening, notes=_notes(answer.opening_assumed)))
    return steps


def _notes(*said: str | bool) -> tuple[str, ...]:
    """Return the notes without empty ones; True stands for "the time is a guess"."""
    return tuple("the time is a guess" if each is True else each for each in said if each)


def origin(cause: CauseAnswer, answer: Answer, family: str) -> str:
    """Say which family a check comes from, if it is not the set's own or that is not known; else ""."""
    if family:
        return "" if family in dict(cause.profile.by_family) else say_where(cause, family)
    return say_where(cause, "").replace("seen in", "in", 1) if len(answer.families) > 1 else ""


def times_of(answer: Answer, state: SearchState, time: BenchTime | None) -> list[tuple[str, str]]:
    """Return the times that a quote is made from, with labels. time: of the whole job."""
    said = []
    minutes = answer.plan.expected_minutes
    if minutes is not None and not state.found:
        if not answer.quote_condition:
            found = sum(each.probability for each in answer.plan.checks)
            said.append(("These checks find it", say_share(found)))
        said.append(("Checking takes, on average", say_about(minutes)))
    if time:
        low, high = say_about(time.low), say_about(time.high)
        said.append(("Whole job, for the quote", say_about(time.median)))
        said += [("9 jobs in 10 take", f"{low} to {high}")] if low != high else []
    return said
