"""Build an answer from the odds of the causes and the notes behind them."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from search.answering.advice import SPARKING, WIRING, cautions, comes_first, family_shares, opening_minutes
from search.answering.answer import (
    ADVICE_FIELDS,
    Advice,
    Answer,
    CaseHit,
    CauseAnswer,
    FamilyShare,
    KnownFault,
)
from search.answering.knowledge import Knowledge, Ruling
from search.answering.questions import questions_for
from search.answering.suspects import suspects_of
from search.causes.odds import CauseOdds
from search.families.case_group import blinks_said
from search.index.case_table import code_of
from search.planning.bench_time import expected_bench_time
from search.planning.checks import Check, order_checks
from search.reading.complaint import Reading

# All chosen by us.
CAUSES_CHECKED = 12  # most checks in the plan; nobody does more before thinking again
WORTH_A_CHECK = 0.01  # a cause less likely than this is not worth anybody's minutes
WORTH_BESIDE_NEW = 0.05  # nor a cause with less than this share of a new cause's chance
FAMILY_SHARE = 0.2  # share from which a family's advice is shown
UNNAMED_FAMILY = 0.1  # the same where nothing names the set
CAUSES_WARNED_OF = 5  # number of causes whose hazards are told
NO_PRICE_FROM = 0.5  # chance of a cause not in the notebook from which no price is named
LIKELY_RULED_OUT = 0.2  # probability of the causes ruled out from which a price needs a condition
FAULTS_NAMED, WORTH_NAMING = 3, 0.05  # most known faults named, and the least probability of one
# How often the likeliest known fault was right when the cause was new, measured on complaints written
# beforehand: where the set is known, and where words alone tell.
TOLD_RIGHT, TOLD_BY_WORDS = 0.8, 0.6
OTHER_DEVICES = 0.05  # most probability of all causes together for a device without a case


def build_answer(
    knowledge: Knowledge, reading: Reading, odds: CauseOdds, *, ruling: Ruling, cases: Sequence[CaseHit],
    notices: Sequence[str],
) -> Answer:  # fmt: skip
    """Return the answer to one complaint.

    For a device without a case only its hazards are shown, and no cause, check or advice of other devices.
    odds: before anything is ruled out. cases: past cases to show, best first. notices: sentences about the
    complaint and the notebook.
    """
    left, unmet = odds.without(ruling.codes), knowledge.unmet_device(reading)
    bare = Answer(
        reading=reading, caution=cautions(knowledge, reading), other_causes=1.0 - left.not_in_notebook,
        not_in_notebook=left.not_in_notebook, ruled_out=() if unmet else ruling.names, cases=tuple(cases),
        notices=tuple(notices), unmet_device=unmet,
    )  # fmt: skip
    if first := comes_first(knowledge, reading):
        return _without_causes(bare, odds, f"No price and no checks: {first}.")
    if unmet:
        without = _without_causes(bare, odds, f"No price: the notebook has no repair of {bare.unmet_said}.")
        return replace(without, known_in_general=_known_in_general(odds, reading, without.not_in_notebook))
    suspects, families = suspects_of(knowledge, reading, left), family_shares(knowledge, reading, left)
    listed = [code for each in suspects for code in each.codes]
    general = _known_in_general(odds, reading, left.not_in_notebook)
    # Where nothing tells what set it is, a new cause may be in a set of no family at all.
    least = (
        FAMILY_SHARE
        if reading.tells_set
        else UNNAMED_FAMILY / max(1.0 - left.not_in_notebook, UNNAMED_FAMILY)
    )
    shown = [each.chassis_family for each in families if each.share >= least]
    questions = questions_for(
        reading, suspects, left.not_in_notebook, *knowledge.symptom_counts, dangers=knowledge.finder.hazards
    )
    family = reading.family or reading.taken_to_be
    return replace(
        bare, causes=tuple(suspects), other_causes=float(np.delete(left.probability, listed).sum()),
        families=families, known_in_general=general, questions=questions,
        blink_records=blinks_said(knowledge.table, knowledge.families, reading.blinks, family),
        **_said_by_families(knowledge, reading, shown, suspects, general),
        **_checks_and_price(knowledge, bare, odds, ruling, suspects, families),
    )  # fmt: skip


def _checks_and_price(
    knowledge: Knowledge, bare: Answer, odds: CauseOdds, ruling: Ruling, suspects: Sequence[CauseAnswer],
    families: Sequence[FamilyShare],
) -> dict[str, Any]:  # fmt: skip
    """Return the parts of an answer about checks and price. odds: before anything is ruled out."""
    reading, new = bare.reading, bare.not_in_notebook
    opening_min, assumed = opening_minutes(knowledge, families)
    family = code_of(knowledge.table.family_names, reading.family)
    done = [knowledge.profile((code,), family).check for code in ruling.codes.tolist()]
    already_open = any(each.check and each.inside for each in done)
    plan = order_checks(_worth_doing(suspects, new), opening_min=0.0 if already_open else opening_min)
    ruled_out = float(odds.probability[ruling.codes].sum())
    condition, withheld = _quote_condition(knowledge, reading, suspects, new, ruled_out)
    said = {"plan": plan, "opening_assumed": assumed, "already_open": already_open}
    if withheld or not plan.checks:
        return {**said, "quote_condition": condition}
    unchecked, spread = max(0.0, 1.0 - sum(each.probability for each in plan.checks)), knowledge.basis.spread
    # The owner pays for opening the set even if it is open already.
    whole = replace(plan, opening_min=opening_min)
    time = expected_bench_time(whole, not_in_notebook=unchecked, spread=spread)
    return {**said, "quote_condition": condition, "bench_time": time}


def _worth_doing(suspects: Sequence[CauseAnswer], new: float) -> list[Check]:
    """Return the checks of the likely causes; one made for another appliance cannot be done on this one.

    new: chance of a cause that is not in the notebook.
    """
    own = [each for each in suspects if not each.other_device][:CAUSES_CHECKED]
    least = max(WORTH_A_CHECK, WORTH_BESIDE_NEW * new)
    return [each.check for each in own if each.probability >= least]


def _without_causes(bare: Answer, odds: CauseOdds, why: str) -> Answer:
    """Return an answer without causes and checks. why: the reason for no price."""
    others = min(float(odds.probability.sum()), OTHER_DEVICES)
    return replace(bare, other_causes=others, not_in_notebook=1.0 - others, quote_condition=why)


def _known_in_general(odds: CauseOdds, reading: Reading, new: float) -> tuple[KnownFault, ...]:
    """Return the known faults worth naming. new: chance of a cause that is not in the notebook."""
    right = new * (TOLD_RIGHT if reading.device else TOLD_BY_WORDS)
    faults = odds.faults_unmet(reading.device)[:FAULTS_NAMED] if right >= WORTH_NAMING else ()
    likely = [(each, right * share) for each, share in faults if right * share >= WORTH_NAMING]
    named = [(each.names[0], () if reading.device else each.devices, chance) for each, chance in likely]
    return tuple(KnownFault(fault=name, devices=sets, probability=chance) for name, sets, chance in named)


def _quote_condition(
    knowledge: Knowledge, reading: Reading, suspects: Sequence[CauseAnswer], new: float, ruled_out: float
) -> tuple[str, bool]:
    """Return why there is no price, or on what it depends, or ""; and whether there is none.

    new: chance of a cause that is not in the notebook. ruled_out: probability of the causes ruled out.
    """
    if not suspects:
        return "", False
    if not reading.tells_fault:
        return "No price: too little was said of the fault.", True
    if WIRING.intersection(reading.concepts):
        return "No price: plug, lead and socket come first, and the socket is the electrician's.", True
    likely_gone = ruled_out >= LIKELY_RULED_OUT
    if new >= NO_PRICE_FROM:
        why = "the likely causes were ruled out" if likely_gone else "none of these is likely"
        return f"No price: {why}, so it is probably something new.", True
    if suspects[0].probability >= NO_PRICE_FROM and not suspects[0].profile.fixed:
        return "No price: the likeliest cause was never repaired here.", True
    if not reading.tells_set and len(knowledge.table.device_names) > 1:
        return "No price until you know what set it is: ask for make and model.", True
    if likely_gone:
        return "The price holds only if it is one of the causes left; likely ones were ruled out.", False
    if new > suspects[0].probability:
        return (
            f"The price holds only if it is one of these causes, which is {100 * (1 - new):.0f} % likely.",
            False,
        )
    if reading.tells_set:
        return "", False
    return "Ask for make and model first: nothing says what set it is.", False


def _said_by_families(
    knowledge: Knowledge, reading: Reading, shown: Sequence[str], suspects: Sequence[CauseAnswer],
    general: Sequence[KnownFault],
) -> dict[str, Any]:  # fmt: skip
    """Return the cautions and the advice of an answer, each line of advice with its family."""
    likely = [knowledge.families[name] for name in shown if name in knowledge.families]
    if reading.device and not reading.family:
        likely = [family for family in likely if knowledge.same_device(family.device, reading.device)]
    # Hazards of causes in other devices are not hazards of this one.
    warned = [each for each in suspects[:CAUSES_WARNED_OF] if not each.other_device]
    told = cautions(knowledge, reading, likely, warned, [name for each in general for name in each.devices])
    # Where a spark could light gas, no line names a plug or a switch.
    sparks = not any(each.kind == "gas" and each.likely for each in told)
    if not (reading.family or reading.tells_fault):
        likely = []  # the label is asked for first, instead of "if it is ..."
    lines = {
        field: tuple(
            Advice(line, "" if reading.family else family.chassis_family)
            for family in likely
            for line in getattr(family, field)
            if sparks or not SPARKING.search(line)
        )
        for field in ADVICE_FIELDS
    }
    return {"caution": told, **lines}
