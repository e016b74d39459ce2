"""An answer, or a family, as lines of text, in the order in which they are needed: cautions first."""

import shutil
import textwrap
from collections.abc import Iterable, Iterator

import click

from kb.errors import say_count
from search.answering.answer import Caution
from search.families.case_group import BlinkFigures
from search.families.family_figures import FamilyFigures, FamilySummary
from web.views import wording as words
from web.views.answer_view import CAUSES_FIRST, CHECKS_SHOWN, AnswerView
from web.views.family_view import FamilyView

BAR_WIDTH = 20  # characters, chosen by us: 5 % a block
WIDEST = 100  # characters, chosen by us: longer lines are hard to follow
TOLD_IN_FULL = 0.1  # chosen by us: a cause from this probability on has its parts and its proof told
CAUSES_NEXT = 3  # chosen by us: of the causes after the first, as many as one screen holds
PARTS_SHOWN, NAMES_SHOWN = 10, 6  # of a family; chosen by us, --json has them all
# What was made of a word.
BENT = {"for": "searched {said!r} for {note!r}", "taken for": "read {note!r} as {said}"}

Entry = tuple[str, str]  # what stands before a text, and the text, which is wrapped beside it


def width() -> int:
    """Return the width to fill, in characters."""
    return min(shutil.get_terminal_size((80, 24)).columns, WIDEST)


def wrapped(text: str, *, lead: str, hanging: int = 0) -> list[str]:
    """Return `text` in lines no wider than the terminal, the first behind `lead`, the others as far in."""
    indent = " " * max(len(click.unstyle(lead)), hanging)
    return textwrap.wrap(text, width(), initial_indent=lead, subsequent_indent=indent) or [lead]


def section(title: str, entries: Iterable[Entry]) -> Iterator[str]:
    """Give a list under its heading, if it has one; nothing at all when it is empty."""
    listed = list(entries)
    if listed and title:
        yield from ["", click.style(title.upper(), bold=True)]
    for lead, text in listed:
        yield from wrapped(text, lead=lead, hanging=4)


def bar(share: float) -> str:
    """Draw a share within [0, 1] as a bar of fixed width."""
    full = round(share * BAR_WIDTH)
    return "█" * full + "·" * (BAR_WIDTH - full)


def bullets(groups: words.Groups) -> Iterator[Entry]:
    """Give lists as entries, each under the family that it holds for."""
    for family, said in groups:
        if family:
            yield "  ", f"If it is {family}:"
        yield from (("  - ", item) for item in said)


def answer_lines(view: AnswerView) -> Iterator[str]:
    """Give the answer line by line."""
    answer = view.answer
    yield from caution_lines(answer.caution)
    yield from section("Understood", understood(view))
    before = section("Before power", bullets(words.group_advice(answer.before_power)))
    owner = section("Tell the owner", bullets(view.owner))
    if view.state.mode == "phone":
        asked = [("", [each.question for each in view.questions])]
        yield from (*owner, *section("Ask the owner", bullets(asked)), *before)
    else:
        yield from (*before, *owner)
    yield from section("Likely causes", causes(view))
    yield from section("Check in this order" if view.steps else "", checks(view))
    yield from section("While it is open", bullets(words.group_advice(answer.while_open)))
    yield from section("Past repairs", past_repairs(view))
    yield ""
    yield from wrapped(
        "One shop's own experience. Live mains, gas and microwave high voltage are for people trained and, "
        "where the law asks, licensed; local codes come first.",
        lead="",
    )


def caution_lines(cautions: Iterable[Caution]) -> Iterator[str]:
    """Give the hazards, black on yellow where the terminal has colours."""
    cautions = list(cautions)
    sentences = [": ".join(filter(None, (each.kind.upper(), each.says))) for each in cautions if each.likely]
    possible = ", ".join(each.kind.upper() for each in cautions if not each.likely)
    for said in [*sentences, *([f"Less likely: {possible}"] if possible else [])]:
        for line in wrapped(said, lead=" /!\\  "):
            yield click.style(f"{line:<{width()}}", fg="black", bg="bright_yellow")


def understood(view: AnswerView) -> Iterator[Entry]:
    """Give what was understood, and what was searched instead of what was typed."""
    answer, reading = view.answer, view.answer.reading
    heard = [f"{each.name} {each.said} {each.note}".rstrip() for each in view.heard if each.name not in BENT]
    yield "  ", "; ".join(heard)
    left_out = [f"{text.strip()!r} ({why})" for text, why in view.complaint if why]
    if left_out:
        yield "  ", f"left out: {', '.join(left_out)}"
    if answer.families and not reading.family:
        likely = ", ".join(
            f"{each.chassis_family} {words.say_share(each.share)}" for each in answer.families[:4]
        )
        yield "  ", f"No family is known; going by the causes: {likely}"
    for each in view.heard:
        if each.name in BENT:
            yield "  ", BENT[each.name].format(said=each.said, note=each.note)
    for blink in answer.blink_records:
        yield "  ", f"{blink.pattern} in {reading.family}: {words.say_blinks(blink)}"
    for warning in view.warnings:
        yield "  ! ", warning


def causes(view: AnswerView) -> Iterator[Entry]:
    """Give each cause: its bar, why it is likely, what is known of it, the cases behind it; then the rest."""
    answer, listed = view.answer, CAUSES_FIRST + CAUSES_NEXT
    for cause in answer.causes[:listed]:
        lead = f"  {bar(cause.probability)} {words.say_share(cause.probability):>9}  "
        yield lead, click.style(cause.root_cause, bold=True)
        known = [
            words.say_why(cause, view.family_met),
            words.say_against(cause),
            *words.say_facts(cause, view.family_met),
        ]
        yield " " * len(lead), "; ".join(filter(None, (*known, ", ".join(cause.evidence[:3]))))
        parts = [f"parts {', '.join(cause.parts)}"] if cause.parts else []
        told = [*parts, *(f"proved before by {proof}" for proof in cause.proof[:1])]
        if told and cause.probability >= TOLD_IN_FULL:
            yield " " * len(lead), "; ".join(told)
    less = sum(cause.probability for cause in answer.causes[listed:])
    rest = [("less likely causes", words.say_share(less))] if less > 0 else []
    for what, share in (*rest, *view.other, *((name, "ruled out") for name in answer.ruled_out)):
        yield f"  {'':{BAR_WIDTH}} {share:>9}  ", what


def checks(view: AnswerView) -> Iterator[Entry]:
    """Give the order of checks, the opening where it falls due, and the times to expect."""
    for step in view.steps[:CHECKS_SHOWN]:
        told = "; ".join(filter(None, (step.cause and f"{step.cause}, {step.share}", *step.notes)))
        yield (
            f"  {step.minutes:>10}{'*' if step.assumed else ' '} ",
            f"{step.what} ({told})" if told else step.what,
        )
    for said in (*map(": ".join, view.times), view.price, view.answer.quote_condition):
        if said:
            yield "  ", said


def past_repairs(view: AnswerView) -> Iterator[Entry]:
    """Give the past repairs."""
    for hit in view.cases:
        if hit.note is None:
            yield "  ", f"{hit.file}: needs attention; matches {', '.join(hit.matched)}"
            continue
        note, lead = hit.note, f"  {click.style(hit.note.case, bold=True)}  "
        title = note.root_cause or "cause not found"
        facts = (title, note.model or note.chassis_family, words.say_minutes(note.fix_time_min), note.outcome)
        yield lead, "; ".join(facts)
        if hit.matched:
            yield " " * len(click.unstyle(lead)), f"matches {', '.join(hit.matched)}"
    if not view.cases:
        unmet = view.answer.unmet_device
        yield "  ", f"none of a {unmet}" if unmet else "none that shares a word with this"


def overview_lines(families: Iterable[FamilySummary]) -> Iterator[str]:
    """Give one line for each family, by make and device."""
    listed = [(line, f"{line.make} {line.device}".strip()) for line in families]
    names = max((len(line.chassis_family) for line, _ in listed), default=0)
    kinds = max((len(kind) for _, kind in listed), default=0)
    for line, kind in listed:
        said = "no case yet"
        if line.cases:
            said = f"{say_count(line.cases, 'case'):>10}, {words.say_of(line.success)} fixed, "
            said += f"usual fix {words.say_usual(line.fix_time, fixed=line.fixed)}"
        yield f"{line.chassis_family:<{names}}  {kind:<{kinds}}  {said}"
    if not listed:
        yield "No family yet: this notebook holds no case and no family."
        yield "Name another notebook with --notebook, or look at the demo with --demo."


def family_lines(view: FamilyView) -> Iterator[str]:
    """Give the family line by line."""
    figures, note = view.figures, view.figures.note
    boards = [
        f"{each.board}: {say_count(each.cases, 'case')}"
        + (f", also called {', '.join(each.other_names[:NAMES_SHOWN])}" if each.other_names else "")
        for each in figures.boards
    ]
    yield from caution_lines(view.caution)
    yield from section(f"{figures.chassis_family} {figures.make} {figures.device}".rstrip(), glance(view))
    yield from section("Before power", bullets([("", note.before_power)]))
    yield from section("What it is known for", known_for(figures))
    yield from section("Blinks", map(blink_met, figures.blinks))
    yield from section("Weak parts", parts(figures))
    yield from section("Tell the owner", bullets([("", note.tell_owner)]))
    yield from section("What to quote", quoted_price(view))
    yield from section("While it is open", bullets([("", note.while_open)]))
    yield from section("Boards", (("  ", said) for said in boards))
    yield from section("The shop's own notes", ((line, "") for line in note.body.strip().splitlines()))
    yield from section("How sure is this? 95 % intervals", ranges(figures) if figures.cases else ())


def glance(view: FamilyView) -> Iterator[Entry]:
    """Give what the family is and how it does, and what is left out of the count."""
    figures = view.figures
    facts = {"models": ", ".join(figures.models)}
    if view.state.said():
        facts["counting"] = f"{view.state.said()}: {figures.cases} of {say_count(figures.all_cases, 'case')}"
    if figures.cases:
        facts |= {"fixed": words.say_of(figures.success), "usual fix": words.say_usual(figures.fix_time)}
    elif not view.state.said():
        facts["cases"] = "none written up yet"
    assumed = " (a guess)" if figures.opening_assumed else ""
    facts["opening"] = f"{words.say_minutes(figures.order.opening_min)}{assumed}"
    return ((f"  {name:<12}", said) for name, said in facts.items() if said)


def known_for(figures: FamilyFigures) -> Iterator[Entry]:
    """Give each cause: its bar, its figures, and the newest cases behind it."""
    for cause in figures.causes:
        lead = f"  {bar(cause.share.value if cause.share.shown else 0.0)}  "
        name = click.style(cause.root_cause, bold=True)
        yield lead, f"{name}  {cause.share.count} of {cause.share.total}"
        fixed = cause.success.count
        facts = [
            words.say_usual(cause.fix_time, fixed=fixed),
            f"{fixed} of {cause.success.total} fixed" if fixed else "",
            "parts " + ", ".join(part.part for part in cause.parts[:4]) if cause.parts else "",
            ", ".join(cause.evidence[:3]),
        ]
        yield " " * (BAR_WIDTH + 4), "; ".join(filter(None, facts))


def blink_met(blink: BlinkFigures) -> Entry:
    """Say of a blink pattern what the service sheet says and what it turned out to be."""
    found = ", ".join(f"{cause} {share.count} of {share.total}" for cause, share in blink.causes)
    sheet = blink.service_sheet or "not in the service sheet"
    return f"  {blink.pattern:<12}", f"{sheet}; {f'it was {found}' if found else 'not seen yet'}"


def ranges(figures: FamilyFigures) -> Iterator[Entry]:
    """Give the 95 % interval of each figure, the comebacks and the cases a year."""
    yield "  ", f"fixed {words.say_share_and_interval(figures.success)}"
    yield "  ", f"fix time {words.say_fix_time(figures.fix_time)}"
    for cause in (cause for cause in figures.causes if cause.share.count > 1):
        time = words.say_fix_time(cause.fix_time, fixed=cause.success.count)
        yield "  ", f"{cause.root_cause}: {words.say_share_and_interval(cause.share)}; fix time {time}"
    yield "  ", words.say_comebacks(figures.comeback)
    yield "  ", f"cases a year {', '.join(f'{year}: {count}' for year, count in figures.years)}"


def parts(figures: FamilyFigures) -> Iterator[Entry]:
    """Give the parts used most, and how many of each suffice for the next ten repairs."""
    shown = figures.parts[:PARTS_SHOWN]
    names = max((len(part.part) for part in shown), default=0)
    for part in shown:
        used = f"{part.per_ten_repairs:4.1f} in ten repairs"
        yield f"  {part.part:<{names}}  {used}; keep {part.keep_for_next_ten} for the next ten", ""
    if len(figures.parts) > PARTS_SHOWN:
        yield "  ", f"and {say_count(len(figures.parts) - PARTS_SHOWN, 'part')} used less"


def quoted_price(view: FamilyView) -> Iterator[Entry]:
    """Give the bench time to expect and, with a labour rate, the sentence for the owner."""
    if view.figures.bench_time is None:
        return
    yield "  ", words.say_bench_time(view.figures.bench_time, view.figures.fix_time)
    if view.quote:
        yield "  ", view.quote.sentence
    elif view.settings_trouble:
        yield "  ! ", view.settings_trouble
    else:
        yield "  ", "For a price, write labour_rate = 40 into shop.toml beside the notes."
    past = view.figures.past
    if past.count:
        yield "  ", f"{past.count} of {past.total} were given up as not worth it."
