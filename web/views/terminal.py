"""An answer as lines of text, in the order in which it is needed: cautions first."""

from __future__ import annotations

import shutil
import textwrap
from collections.abc import Iterable, Iterator

import click

from search.answering.answer import Advice, Answer, CaseHit, CauseAnswer, Caution, CheckAnswer
from web.views.wording import (
    family_met,
    group_advice,
    say_about,
    say_blinks,
    say_minutes,
    say_record,
    say_share,
    say_where,
)

BAR_WIDTH = 20  # characters, chosen by us: 5 % a block
WIDEST = 100  # characters, chosen by us: longer lines are hard to follow
TOLD_IN_FULL = 0.1  # chosen by us: a cause from this probability on has its parts and its proof told
CAUSES_SHOWN, CHECKS_SHOWN = 6, 8  # chosen by us: one screen of a terminal; --json gives all


def width() -> int:
    """Return the width to fill, in characters."""
    return min(shutil.get_terminal_size((80, 24)).columns, WIDEST)


def wrapped(text: str, *, first: str = "", rest: str = "") -> list[str]:
    """Return `text` in lines no wider than the terminal."""
    indent = rest or " " * len(first)
    return textwrap.wrap(text, width(), initial_indent=first, subsequent_indent=indent) or [first]


def heading(text: str) -> list[str]:
    """Return a section's heading."""
    return ["", click.style(text.upper(), bold=True)]


def bar(share: float) -> str:
    """Draw a share within [0, 1] as a bar of fixed width."""
    full = round(share * BAR_WIDTH)
    return "█" * full + "·" * (BAR_WIDTH - full)


def bullets(title: str, items: Iterable[Advice | str]) -> Iterator[str]:
    """Give a headed list, nothing at all when it is empty."""
    items = list(items)
    if items:
        yield from heading(title)
    for family, said in group_advice(items):
        if family:
            yield f"  If it is {family}:"
        for item in said:
            yield from wrapped(item, first="  - ", rest="    ")


def answer_lines(answer: Answer) -> Iterator[str]:
    """Give the answer line by line."""
    yield from caution_lines(answer.caution)
    yield from reading_lines(answer)
    # A set whose family is said stands on the bench; one that nobody has named yet is on the telephone.
    advice = [("Before power", answer.before_power), ("Tell the owner", answer.tell_owner)]
    for title, lines in advice if answer.reading.family else reversed(advice):
        yield from bullets(title, lines)
    yield from bullets("Ask the owner", [question.question for question in answer.questions])
    yield from heading("Likely causes")
    if answer.unmet_device:
        yield from wrapped(f"No repair of a {answer.unmet_device} in this notebook yet.", first="  ")
    for cause in answer.causes[:CAUSES_SHOWN]:
        yield from cause_lines(cause, family_met(answer))
    rest = answer.other_causes + sum(cause.probability for cause in answer.causes[CAUSES_SHOWN:])
    if rest > 0:
        yield f"  {'':{BAR_WIDTH}} {say_share(rest):>9}  other causes in this notebook"
    yield f"  {'':{BAR_WIDTH}} {say_share(answer.not_in_notebook):>9}  not in this notebook yet"
    for cause_name in answer.ruled_out:
        yield f"  {'':{BAR_WIDTH}} {'ruled out':>9}  {cause_name}"
    yield from check_lines(answer)
    if answer.quote_condition:
        yield from wrapped(answer.quote_condition, first="  ")
    yield from bullets("While it is open", answer.while_open)
    yield from heading("Past repairs")
    for hit in answer.cases:
        yield from hit_lines(hit)
    if not answer.cases:
        yield "  none that shares a word with this"
    yield ""
    yield from wrapped(
        "One shop's own experience. Live mains, gas and microwave high voltage are for people trained and, "
        "where the law asks, licensed; local codes come first."
    )


def caution_lines(cautions: Iterable[Caution]) -> Iterator[str]:
    """Give the hazards, black on yellow where the terminal has colours."""
    cautions = list(cautions)
    sentences = [": ".join(filter(None, (each.kind.upper(), each.says))) for each in cautions if each.likely]
    possible = ", ".join(each.kind.upper() for each in cautions if not each.likely)
    for said in [*sentences, *([f"Less likely: {possible}"] if possible else [])]:
        for line in wrapped(said, first=" /!\\  ", rest="      "):
            yield click.style(f"{line:<{width()}}", fg="black", bg="bright_yellow")


def reading_lines(answer: Answer) -> Iterator[str]:
    """Give what was understood, and what was searched instead of what was typed."""
    reading = answer.reading
    facts = (
        ("family", reading.family),
        ("model", reading.model),
        ("make", reading.make),
        ("device", reading.device),
        ("blinks", str(reading.blinks or "")),
        ("meaning", ", ".join(reading.concepts)),
    )
    understood = "; ".join(f"{name} {said}" for name, said in facts if said)
    yield from heading("Understood")
    yield from wrapped(understood or "only the words themselves", first="  ")
    if answer.families and not reading.family:
        likely = ", ".join(f"{each.chassis_family} {say_share(each.share)}" for each in answer.families[:4])
        yield from wrapped(f"No family is known; going by the causes: {likely}", first="  ")
    for said, instead in reading.instead_of.items():
        yield f"  searched {instead!r} for {said!r}"
    for said, device in reading.taken_for.items():
        yield f"  took {said!r} for {device}"
    if reading.not_understood:
        yield from wrapped(f"not understood: {', '.join(reading.not_understood)}", first="  ")
    denied = [reading.text[start:end] for start, end in (*reading.denied, *reading.past)]
    if denied:
        yield from wrapped(
            f"not so now, or of the past: {'; '.join(denied)} (--literal takes it as said)", first="  "
        )
    for blink in answer.blink_records:
        yield from wrapped(
            f"{blink.pattern} in {reading.family}: {say_blinks(blink)}", first="  ", rest="    "
        )
    for notice in answer.notices:
        yield from wrapped(notice, first="  ! ", rest="    ")


def cause_lines(cause: CauseAnswer, family: str) -> Iterator[str]:
    """Give one cause: its bar, what is known of it, the cases behind it. family: the one said, or ""."""
    name = click.style(cause.root_cause, bold=True)
    yield f"  {bar(cause.probability)} {say_share(cause.probability):>9}  {name}"
    facts = [cause.board, *say_record(cause), say_where(cause, family), ", ".join(cause.evidence[:3])]
    known = "; ".join(fact for fact in facts if fact)
    against = f"against it: {cause.against}" if cause.against else ""
    spellings = f"also noted as {', '.join(cause.spellings)}" if cause.spellings else ""
    for line in filter(None, (cause.why, against, known, spellings)):
        yield from wrapped(line, first=" " * (BAR_WIDTH + 14))
    if cause.probability >= TOLD_IN_FULL:
        parts = f"parts {', '.join(cause.parts)}" if cause.parts else ""
        proof = f"proved before by {cause.proof[0]}" if cause.proof else ""
        told = "; ".join(each for each in (parts, proof) if each)
        if told:
            yield from wrapped(told, first=" " * (BAR_WIDTH + 14))


def check_lines(answer: Answer) -> Iterator[str]:
    """Give the order of checks, the opening where it falls due, and the times to expect."""
    if not answer.checks:
        return
    yield from heading("Check in this order")
    opened = answer.already_open
    for check in answer.checks[:CHECKS_SHOWN]:
        if check.inside and not opened:
            opened = True
            assumed = " (assumed)" if answer.opening_assumed else ""
            yield f"  {say_minutes(answer.opening_min):>10}  open the set{assumed}"
        yield from check_line(check)
    if answer.expected_minutes is not None:
        naive = ""
        expected, other = say_about(answer.expected_minutes), say_about(answer.naive_minutes)
        if answer.naive_minutes is not None and other != expected:
            naive = f"; likeliest first: {other}"
        if not answer.quote_condition:
            yield f"  These checks find it: {say_share(sum(check.probability for check in answer.checks))}"
        yield f"  Checking takes, on average: {expected}{naive}"
    if answer.bench_time is not None:
        time = answer.bench_time
        yield (
            f"  Whole job, for a quote: {say_about(time.median)}, "
            f"9 in 10 within {say_about(time.low)} to {say_about(time.high)}"
        )


def check_line(check: CheckAnswer) -> list[str]:
    """Return one check with its time and the cause that it decides."""
    decides = f"{check.root_cause}, {say_share(check.probability)}"
    said = f"{check.check} ({decides})" if check.check else decides
    said = f"{said}; {check.note}" if check.note else said
    assumed = "*" if check.assumed else " "
    return wrapped(said, first=f"  {say_minutes(check.minutes):>10}{assumed} ", rest=" " * 14)


def hit_lines(hit: CaseHit) -> Iterator[str]:
    """Give one past repair."""
    if not hit.readable:
        yield f"  {hit.file}: needs attention; matches {', '.join(hit.matched)}"
        return
    title = hit.root_cause or "cause not found"
    facts = (title, hit.model or hit.chassis_family, say_minutes(hit.fix_time_min), hit.outcome)
    yield from wrapped(
        f"{click.style(hit.case, bold=True)}  {'; '.join(facts)}",
        first="  ",
        rest=" " * 17,
    )
    if hit.matched:
        yield from wrapped(f"matches {', '.join(hit.matched)}", first=" " * 17)
