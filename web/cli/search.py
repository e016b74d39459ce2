"""`benchlore search`: an answer in the terminal."""

from __future__ import annotations

import json
from pathlib import Path

import click

from search.bench import Bench
from web.cli.options import ProgressLines, notebook_options, open_notebook
from web.views.terminal import answer_lines


@click.command(short_help="Answer a complaint: causes, checks and past repairs.")
@click.argument("text", nargs=-1)
@notebook_options
@click.option("--family", default="", help="Chassis family or model, when you know it.")
@click.option("--blinks", default="", help='Blink pattern: 6, 2+3, "3 or 4", "2 long + 3 short".')
@click.option("--rule-out", "rule_out", multiple=True, help="A root cause you checked: not it. Repeatable.")
@click.option("--yes", multiple=True, help='A symptom the owner affirms when asked: "clicks". Repeatable.')
@click.option("--no", multiple=True, help="A symptom the owner denies when asked. Repeatable.")
@click.option("--literal", is_flag=True, help="Take every word as said: nothing as denied or past.")
@click.option("--limit", default=8, show_default=True, type=click.IntRange(1, 200), help="Repairs to list.")
@click.option("--json", "as_json", is_flag=True, help="Print what GET /api/search answers.")
def search(
    text: tuple[str, ...], notebook: Path | None, demo: bool, *, family: str, blinks: str,
    rule_out: tuple[str, ...], yes: tuple[str, ...], no: tuple[str, ...], literal: bool, limit: int,
    as_json: bool,
) -> None:  # fmt: skip
    """Answer a complaint: causes, checks and past repairs.

    TEXT is what the owner says, in any words. A family or a blink pattern alone is enough. --yes and --no
    take the symptoms that "Ask the owner" is about, in the names kb/terms.toml gives them.
    """
    question = " ".join(text).strip()
    if not (question or family or blinks or yes):
        raise click.UsageError("Say what is wrong, or give --family or --blinks.")
    opened = open_notebook(notebook, demo=demo, to_read=True)
    with ProgressLines(quiet=as_json) as progress:
        bench = Bench(opened, progress=progress)
        answer = bench.answer(
            question,
            family=family,
            blinks=blinks,
            rule_out=rule_out,
            limit=limit,
            literal=literal,
            yes=yes,
            no=no,
        )
    if as_json:
        click.echo(json.dumps(answer.as_json(), ensure_ascii=False, indent=2))
        return
    for line in answer_lines(answer):
        click.echo(line)
