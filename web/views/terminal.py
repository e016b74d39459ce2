"""Lay out text for a terminal; the templates `*.txt` have the words."""

import shutil
import textwrap
from collections.abc import Callable, Iterable
from functools import partial

import click
from jinja2 import Environment, PackageLoader, StrictUndefined

from search.answering.answer import Caution
from web.views import wording

BAR_WIDTH = 20  # characters, chosen by us: 5 % a block
WIDEST = 100  # characters, chosen by us: longer lines are hard to read


def width() -> int:
    """Return the width to fill, in characters."""
    return min(shutil.get_terminal_size((80, 24)).columns, WIDEST)


def line(lead: str, text: str) -> str:
    """Return a text wrapped behind a lead; "" for no text."""
    indent = " " * (max(len(click.unstyle(lead)), 4) if lead else 0)
    return "\n".join(textwrap.wrap(text, width(), initial_indent=lead, subsequent_indent=indent))


def bullets(groups: wording.Groups) -> str:
    """Return lists of sentences, each under the family that it holds for."""
    heads = ((line("  ", f"If it is {family}:" if family else ""), said) for family, said in groups)
    return "\n".join(each for head, said in heads for each in (head, *(line("  - ", item) for item in said)))


def section(title: str, caller: Callable[[], str]) -> str:
    """Return the text of a call block under a title, without empty lines; "" if it is empty."""
    lines = [each for each in caller().splitlines() if each.strip()]
    return "\n".join(["", click.style(title.upper(), bold=True), *lines, ""]) if lines else ""


def bar(share: float) -> str:
    """Draw a share within [0, 1] as a bar of fixed width."""
    full = round(share * BAR_WIDTH)
    return "█" * full + "·" * (BAR_WIDTH - full)


def hazards(cautions: Iterable[Caution]) -> str:
    """Return the hazards, black on yellow if the terminal has colours."""
    cautions = list(cautions)
    said = [": ".join(filter(None, (each.kind.upper(), each.says))) for each in cautions if each.likely]
    possible = ", ".join(each.kind.upper() for each in cautions if not each.likely)
    said += [f"Less likely: {possible}"] if possible else []
    lines = (each for text in said for each in line(" /!\\  ", text).splitlines())
    return "\n".join(click.style(f"{each:<{width()}}", fg="black", bg="bright_yellow") for each in lines)


_TEMPLATES = Environment(
    loader=PackageLoader("web"), trim_blocks=True, lstrip_blocks=True, undefined=StrictUndefined
)
_TEMPLATES.filters.update(wording.FILTERS, bold=partial(click.style, bold=True))
_TEMPLATES.globals.update(
    bar=bar, bullets=bullets, hazards=hazards, line=line, section=section, words=wording
)


def text_of(template: str, **values: object) -> str:
    """Return the text of a terminal template."""
    return _TEMPLATES.get_template(f"{template}.txt").render(values).strip("\n")
