"""A family as lines of text, in the order of its page: cautions first."""

from collections.abc import Iterable, Iterator

import click

from kb.errors import say_count
from search.families.family_figures import FamilyFigures, FamilySummary
from web.views import wording as words
from web.views.family_view import FamilyView
from web.views.terminal import BAR_WIDTH, Entry, bar, bullets, caution_lines, section

PARTS_SHOWN, NAMES_SHOWN = 10, 6  # chosen by us; --json has them all


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
        yield "No family to show: none fits, or the notebook has no case note and no family note yet."


def family_lines(view: FamilyView) -> Iterator[str]:
    """Give the family line by line."""
    figures, note = view.figures, view.figures.note
    yield from caution_lines(view.caution)
    yield from section(f"{figures.chassis_family} {figures.make} {figures.device}".rstrip(), glance(view))
    yield from section("Before power", bullets([("", note.before_power)]))
    yield from section("What it is known for", causes(figures))
    yield from section("Blinks", blinks(figures))
    yield from section("Weak parts", parts(figures))
    yield from section("Tell the owner", bullets([("", note.tell_owner)]))
    yield from section("What to quote", quoted_price(view))
    yield from section("While it is open", bullets([("", note.while_open)]))
    yield from section("Boards", boards(figures))
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


def causes(figures: FamilyFigures) -> Iterator[Entry]:
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


def blinks(figures: FamilyFigures) -> Iterator[Entry]:
    """Give each blink pattern, what the service sheet says and what it turned out to be."""
    for blink in figures.blinks:
        found = ", ".join(f"{cause} {share.count} of {share.total}" for cause, share in blink.causes)
        sheet = blink.service_sheet or "not in the service sheet"
        yield f"  {blink.pattern:<12}", f"{sheet}; {f'it was {found}' if found else 'not seen yet'}"


def boards(figures: FamilyFigures) -> Iterator[Entry]:
    """Give each board, how often it failed, and what other makers call it."""
    for board in figures.boards:
        others = f", also called {', '.join(board.other_names[:NAMES_SHOWN])}" if board.other_names else ""
        yield "  ", f"{board.board}: {say_count(board.cases, 'case')}{others}"


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
