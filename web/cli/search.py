"""`benchlore search`: an answer in the terminal."""

import json
from pathlib import Path
from typing import Any

import click

from search.bench import Bench
from web.cli.options import notebook_options, open_notebook, progress_bars
from web.views.answer_view import ask, view_answer
from web.views.owner_advice import answer_as_json
from web.views.state import SearchState
from web.views.terminal import answer_lines


@click.command(short_help="Answer a complaint: causes, checks and past repairs.")
@click.argument("text", nargs=-1)
@notebook_options
@click.option("--family", default="", help="Chassis family or model, when you know it.")
@click.option("--blinks", default="", help='Blink pattern: 6, 2+3, "3 or 4", "2 long + 3 short".')
@click.option("--rule-out", "rule_out", multiple=True, help="A root cause you checked: not it. Repeatable.")
@click.option("--yes", multiple=True, help="A symptom the owner said yes to when asked. Repeatable.")
@click.option("--no", multiple=True, help="A symptom the owner said no to when asked. Repeatable.")
@click.option("--literal", is_flag=True, help="Take every word as it stands, also what is denied or over.")
@click.option("--phone", is_flag=True, help="The owner is on the line: what to tell and to ask comes first.")
@click.option("--limit", default=8, show_default=True, type=click.IntRange(1, 200), help="Repairs to list.")
@click.option("--json", "as_json", is_flag=True, help="Print what GET /api/search answers.")
def search(
    text: tuple[str, ...], notebook: Path | None, demo: bool, *, phone: bool, as_json: bool, **said: Any
) -> None:
    """Answer a complaint: causes, checks and past repairs.

    TEXT is what the owner says, in any words. A family or a blink pattern alone is enough.
    """
    state = SearchState(q=" ".join(text).strip(), mode="phone" if phone else "bench", **said)
    if state.empty:
        raise click.UsageError("Say what is wrong, or give --family or --blinks.")
    with progress_bars(quiet=as_json) as progress:
        bench = Bench(open_notebook(notebook, demo=demo, to_read=True), progress=progress)
        answer = ask(bench, state)
    if as_json:
        click.echo(
            json.dumps(answer_as_json(answer, bench.knowledge.vocabulary), ensure_ascii=False, indent=2)
        )
    else:
        click.echo("\n".join(answer_lines(view_answer(answer, state, bench))))
