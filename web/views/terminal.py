"""An answer as lines of text, in the order in which it is needed: cautions first."""

import shutil
import textwrap
from collections.abc import Iterable, Iterator

import click

from search.answering.answer import CaseHit, CauseAnswer, Caution
from web.views.answer_view import CAUSES_FIRST, CHECKS_SHOWN, AnswerView
from web.views.wording import (
    Groups,
    group_advice,
    say_against,
    say_blinks,
    say_facts,
    say_minutes,
    say_share,
    say_why,
)

BAR_WIDTH = 20  # characters, chosen by us: 5 % a block
WIDEST = 100  # characters, chosen by us: longer lines are hard to follow
TOLD_IN_FULL = 0.1  # chosen by us: a cause from this probability on has its parts and its proof told
CAUSES_NEXT = 3  # chosen by us: of the causes after the first, as many as one screen holds
# What was made of a word.
BENT = {"for": "searched {said!r} for {note!r}", "taken for": "read {note!r} as {said}"}


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


def bullets(title: str, groups: Groups) -> Iterator[str]:
    """Give a headed list, nothing at all when it is empty."""
    if any(said for _, said in groups):
        yield from heading(title)
    for family, said in groups:
        if family:
            yield f"  If it is {family}:"
        for item in said:
            yield from wrapped(item, first="  - ", rest="    ")


def answer_lines(view: AnswerView) -> Iterator[str]:
    """Give the answer line by line."""
    answer = view.answer
    yield from caution_lines(answer.caution)
    yield from reading_lines(view)
    before = bullets("Before power", group_advice(answer.before_power))
    owner = bullets("Tell the owner", view.owner)
    if view.on_phone:
        yield from owner
        yield from bullets("Ask the owner", [("", [each.question for each in view.questions])])
    yield from before
    if not view.on_phone:
        yield from owner
    yield from heading("Likely causes")
    for cause in answer.causes[: CAUSES_FIRST + CAUSES_NEXT]:
        yield from cause_lines(cause, view.family_met)
    rest = sum(cause.probability for cause in answer.causes[CAUSES_FIRST + CAUSES_NEXT :])
    for what, share in (*([("less likely causes", say_share(rest))] if rest > 0 else []), *view.other):
        yield f"  {'':{BAR_WIDTH}} {share:>9}  {what}"
    for cause_name in answer.ruled_out:
        yield f"  {'':{BAR_WIDTH}} {'ruled out':>9}  {cause_name}"
    yield from check_lines(view)
    yield from bullets("While it is open", group_advice(answer.while_open))
    yield from heading("Past repairs")
    for hit in view.cases:
        yield from hit_lines(hit)
    if not view.cases:
        missing = f"of a {answer.unmet_device}" if answer.unmet_device else "that shares a word with this"
        yield f"  none {missing}"
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


def reading_lines(view: AnswerView) -> Iterator[str]:
    """Give what was understood, and what was searched instead of what was typed."""
    answer, reading = view.answer, view.answer.reading
    yield from heading("Understood")
    heard = [f"{each.name} {each.said} {each.note}".rstrip() for each in view.heard if each.name not in BENT]
    yield from wrapped("; ".join(heard), first="  ")
    left_out = [f"{text.strip()!r} ({why})" for text, why in view.complaint if why]
    if left_out:
        yield from wrapped(f"left out: {', '.join(left_out)}", first="  ")
    if answer.families and not reading.family:
        likely = ", ".join(f"{each.chassis_family} {say_share(each.share)}" for each in answer.families[:4])
        yield from wrapped(f"No family is known; going by the causes: {likely}", first="  ")
    for each in view.heard:
        if each.name in BENT:
            yield f"  {BENT[each.name].format(said=each.said, note=each.note)}"
    for blink in answer.blink_records:
        said = f"{blink.pattern} in {reading.family}: {say_blinks(blink)}"
        yield from wrapped(said, first="  ", rest="    ")
    for warning in view.warnings:
        yield from wrapped(warning, first="  ! ", rest="    ")


def cause_lines(cause: CauseAnswer, family: str) -> Iterator[str]:
    """Give one cause: its bar, why it is likely, what is known of it, the cases behind it."""
    name = click.style(cause.root_cause, bold=True)
    yield f"  {bar(cause.probability)} {say_share(cause.probability):>9}  {name}"
    known = (say_why(cause, family), say_against(cause), *say_facts(cause, family))
    said = "; ".join(filter(None, (*known, ", ".join(cause.evidence[:3]))))
    yield from wrapped(said, first=" " * (BAR_WIDTH + 14))
    if cause.probability >= TOLD_IN_FULL:
        parts = f"parts {', '.join(cause.parts)}" if cause.parts else ""
        proof = f"proved before by {cause.proof[0]}" if cause.proof else ""
        told = "; ".join(filter(None, (parts, proof)))
        if told:
            yield from wrapped(told, first=" " * (BAR_WIDTH + 14))


def check_lines(view: AnswerView) -> Iterator[str]:
    """Give the order of checks, the opening where it falls due, and the times to expect."""
    if view.steps:
        yield from heading("Check in this order")
    for step in view.steps[:CHECKS_SHOWN]:
        told = "; ".join(filter(None, (step.cause and f"{step.cause}, {step.share}", *step.notes)))
        said = f"{step.what} ({told})" if told else step.what
        mark = "*" if step.assumed else " "
        yield from wrapped(said, first=f"  {step.minutes:>10}{mark} ", rest=" " * 14)
    for label, said in view.times:
        yield f"  {label}: {said}"
    for line in filter(None, (view.price, view.answer.quote_condition)):
        yield from wrapped(line, first="  ")


def hit_lines(hit: CaseHit) -> Iterator[str]:
    """Give one past repair."""
    note = hit.note
    if note is None:
        yield f"  {hit.file}: needs attention; matches {', '.join(hit.matched)}"
        return
    title = note.root_cause or "cause not found"
    facts = (title, note.model or note.chassis_family, say_minutes(note.fix_time_min), note.outcome)
    said = f"{click.style(note.case, bold=True)}  {'; '.join(facts)}"
    yield from wrapped(said, first="  ", rest=" " * 17)
    if hit.matched:
        yield from wrapped(f"matches {', '.join(hit.matched)}", first=" " * 17)
