"""A family as lines of text, in the order of its page: cautions first."""

from collections.abc import Iterable, Iterator

import click

from search.families.family_figures import CauseFigures, FamilyFigures, FamilySummary
from web.views.family_view import FamilyView
from web.views.terminal import BAR_WIDTH, bar, bullets, caution_lines, heading, wrapped
from web.views.wording import (
    say_bench_time,
    say_comebacks,
    say_count,
    say_fix_time,
    say_minutes,
    say_of,
    say_share_and_interval,
    say_usual,
)

PARTS_SHOWN, NAMES_SHOWN = 10, 6  # chosen by us; --json has them all


def overview_lines(families: Iterable[FamilySummary]) -> Iterator[str]:
    """Give one line for each family, by make and device."""
    listed = [(line, f"{line.make} {line.device}".strip()) for line in families]
    names = max((len(line.chassis_family) for line, _ in listed), default=0)
    kinds = max((len(kind) for _, kind in listed), default=0)
    for line, kind in listed:
        said = f"{line.chassis_family:<{names}}  {kind:<{kinds}}  "
        if line.cases:
            said += f"{say_count(line.cases, 'case'):>10}, {say_of(line.success)} fixed, "
            said += f"usual fix {say_usual(line.fix_time, fixed=line.fixed)}"
        else:
            said += "no case yet"
        yield said
    if not listed:
        yield "No family to show: none fits, or the notebook has no case note and no family note yet."


def family_lines(view: FamilyView) -> Iterator[str]:
    """Give the family line by line."""
    figures, note = view.figures, view.figures.note
    yield from caution_lines(view.caution)
    yield from glance_lines(view)
    yield from bullets("Before power", [("", note.before_power)])
    if figures.causes:
        yield from heading("What it is known for")
    for cause in figures.causes:
        yield from cause_lines(cause)
    yield from blink_lines(figures)
    yield from part_lines(figures)
    yield from bullets("Tell the owner", [("", note.tell_owner)])
    yield from quote_lines(view)
    yield from bullets("While it is open", [("", note.while_open)])
    if figures.boards:
        yield from heading("Boards")
    for board in figures.boards:
        others = ", ".join(board.other_names[:NAMES_SHOWN])
        said = f"{board.board}: {say_count(board.cases, 'case')}"
        yield from wrapped(f"{said}, also called {others}" if others else said, first="  ", rest="    ")
    if note.body.strip():
        yield from heading("The shop's own notes")
        yield from note.body.strip().splitlines()
    yield from sure_lines(figures)


def glance_lines(view: FamilyView) -> Iterator[str]:
    """Give what the family is and how it does, and what is left out of the count."""
    figures = view.figures
    yield from heading(f"{figures.chassis_family} {figures.make} {figures.device}".rstrip())
    facts = {"models": ", ".join(figures.models)}
    if view.state.sliced:
        facts["counting"] = f"{view.state.said()}: {figures.cases} of {say_count(figures.all_cases, 'case')}"
    if figures.cases:
        facts["fixed"] = say_of(figures.success)
        facts["usual fix"] = say_usual(figures.fix_time)
    elif not view.state.sliced:
        facts["cases"] = "none written up yet"
    assumed = " (a guess)" if figures.opening_assumed else ""
    facts["opening"] = f"{say_minutes(figures.order.opening_min)}{assumed}"
    for name, said in facts.items():
        if said:
            yield from wrapped(said, first=f"  {name:<12}")


def cause_lines(cause: CauseFigures) -> Iterator[str]:
    """Give one cause: its bar, its figures, and the newest cases behind it."""
    share = cause.share.value if cause.share.shown else 0.0
    name = click.style(cause.root_cause, bold=True)
    yield f"  {bar(share)}  {name}  {cause.share.count} of {cause.share.total}"
    facts = [say_usual(cause.fix_time, fixed=cause.success.count)]
    if cause.success.count:
        facts.append(f"{cause.success.count} of {cause.success.total} fixed")
    if cause.parts:
        facts.append("parts " + ", ".join(part.part for part in cause.parts[:4]))
    yield from wrapped("; ".join([*facts, ", ".join(cause.evidence[:3])]), first=" " * (BAR_WIDTH + 4))


def blink_lines(figures: FamilyFigures) -> Iterator[str]:
    """Give each blink pattern, what the service sheet says and what it turned out to be."""
    if figures.blinks:
        yield from heading("Blinks")
    for blink in figures.blinks:
        causes = ", ".join(f"{cause} {share.count} of {share.total}" for cause, share in blink.causes)
        sheet = blink.service_sheet or "not in the service sheet"
        turned_out = f"it was {causes}" if causes else "not seen yet"
        yield from wrapped(f"{sheet}; {turned_out}", first=f"  {blink.pattern:<12}")


def sure_lines(figures: FamilyFigures) -> Iterator[str]:
    """Give the 95 % interval of each figure, the comebacks and the cases a year."""
    if not figures.cases:
        return
    yield from heading("How sure is this? 95 % intervals")
    yield from wrapped(f"fixed {say_share_and_interval(figures.success)}", first="  ")
    yield from wrapped(f"fix time {say_fix_time(figures.fix_time)}", first="  ")
    for cause in (cause for cause in figures.causes if cause.share.count > 1):
        time = say_fix_time(cause.fix_time, fixed=cause.success.count)
        said = f"{cause.root_cause}: {say_share_and_interval(cause.share)}; fix time {time}"
        yield from wrapped(said, first="  ", rest="    ")
    yield from wrapped(say_comebacks(figures.comeback), first="  ")
    years = ", ".join(f"{year}: {count}" for year, count in figures.years)
    yield from wrapped(f"cases a year {years}", first="  ")


def part_lines(figures: FamilyFigures) -> Iterator[str]:
    """Give the parts used most, and how many of each suffice for the next ten repairs."""
    if not figures.parts:
        return
    yield from heading("Weak parts")
    names = max(len(part.part) for part in figures.parts[:PARTS_SHOWN])
    for part in figures.parts[:PARTS_SHOWN]:
        used = f"{part.per_ten_repairs:4.1f} in ten repairs"
        yield f"  {part.part:<{names}}  {used}; keep {part.keep_for_next_ten} for the next ten"
    if len(figures.parts) > PARTS_SHOWN:
        yield f"  and {say_count(len(figures.parts) - PARTS_SHOWN, 'part')} used less"


def quote_lines(view: FamilyView) -> Iterator[str]:
    """Give the bench time to expect and, with a labour rate, the sentence for the owner."""
    if view.figures.bench_time is None:
        return
    yield from heading("What to quote")
    yield from wrapped(say_bench_time(view.figures.bench_time, view.figures.fix_time), first="  ")
    if view.quote:
        yield from wrapped(view.quote.sentence, first="  ")
    elif view.settings_trouble:
        yield from wrapped(view.settings_trouble, first="  ! ")
    else:
        yield "  For a price, write labour_rate = 40 into shop.toml beside the notes."
    past = view.figures.past
    if past.count:
        yield f"  {past.count} of {past.total} were given up as not worth it."
