"""`benchlore search` and `benchlore family`: answers in the terminal."""

import json
from pathlib import Path
from typing import Any

import click

from kb.errors import BenchloreError
from search.bench import Bench
from search.index.integrity import tried_again
from web.cli.options import notebook_options, open_notebook, progress_bars
from web.views.answer_view import ask, view_answer
from web.views.family_view import family_view, look_up, overview, unknown_family
from web.views.owner_advice import answer_as_json
from web.views.state import FamilyState, SearchState
from web.views.terminal import text_of


@click.command()
@click.argument("text", nargs=-1)
@notebook_options
@click.option("--family", default="", help="Chassis family or model, when you know it.")
@click.option("--blinks", default="", help='Blink pattern: 6, 2+3, "3 or 4", "2 long + 3 short".')
@click.option("--rule-out", "rule_out", multiple=True, help="A root cause you ruled out. Repeatable.")
@click.option("--yes", multiple=True, help="A symptom the owner said yes to when asked. Repeatable.")
@click.option("--no", multiple=True, help="A symptom the owner said no to when asked. Repeatable.")
@click.option("--literal", is_flag=True, help="Take every word as it stands, also what is denied or past.")
@click.option("--phone", is_flag=True, help="The owner is on the line: what to tell and ask comes first.")
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
        told = answer_of(bench, state, as_json=as_json)
    tell(told)


@tried_again
def answer_of(bench: Bench, state: SearchState, *, as_json: bool) -> str | dict[str, Any]:
    """Answer a complaint; the last step is to read from the index what is told of its causes."""
    answer = ask(bench, state)
    if as_json:
        return answer_as_json(answer, bench.knowledge.vocabulary)
    return text_of("answer", view=view_answer(answer, state, bench))


def tell(said: str | dict[str, Any]) -> None:
    """Print a text, or an answer in JSON."""
    click.echo(json.dumps(said, ensure_ascii=False, indent=2) if isinstance(said, dict) else said)


@click.command()
@click.argument("name", required=False)
@notebook_options
@click.option("--outcome", default="", help="Count only cases that ended so, such as fixed.")
@click.option("--model", default="", help="Count only cases of this model.")
@click.option("--since", default="", help="Count only cases from this day, month or year on.")
@click.option("--parts-cost", default="", help="What the parts will cost, for the quote.")
@click.option("--worth", default="", help="What the set is worth to its owner, for the quote.")
@click.option("--json", "as_json", is_flag=True, help="Print what GET /api/families answers.")
def family(name: str | None, notebook: Path | None, demo: bool, as_json: bool, **said: str) -> None:
    """Show what a chassis family is known for.

    NAME is a family, or a model of one. Without it, all families are listed.
    """
    state = FamilyState.from_args(said)
    for field, remedy in state.trouble.items():
        raise click.BadParameter(remedy, param_hint=f"--{field.replace('_', '-')}")
    bench = Bench(open_notebook(notebook, demo=demo, to_read=True))
    tell(figures_of(bench, name, state, as_json=as_json))


@tried_again
def figures_of(bench: Bench, name: str | None, state: FamilyState, *, as_json: bool) -> str | dict[str, Any]:
    """Return what is known of a family, of all where none is named."""
    if name is None:
        families = overview(bench)
        lines = {"families": [line.as_json() for line in families]}
        return lines if as_json else text_of("families", families=families)
    known, meant = look_up(bench, name)
    if known is None:
        raise BenchloreError(unknown_family(name, meant, "benchlore family lists them all"))
    view = family_view(bench, known, state)
    return view.as_json() if as_json else text_of("family", view=view)
