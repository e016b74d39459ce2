"""`benchlore family`: what a chassis family is known for, in the terminal."""

import json
from pathlib import Path

import click

from kb.errors import BenchloreError
from search.bench import Bench
from search.index.integrity import tried_again
from web.cli.options import notebook_options, open_notebook
from web.views.family_lines import family_lines, overview_lines
from web.views.family_state import FamilyState
from web.views.family_view import family_view, known_name, overview, unknown_family


@click.command(short_help="Show what a chassis family is known for.")
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
    answer, lines = figures_of(bench, name, state)
    click.echo(json.dumps(answer, ensure_ascii=False, indent=2) if as_json else "\n".join(lines))


@tried_again
def figures_of(bench: Bench, name: str | None, state: FamilyState) -> tuple[object, list[str]]:
    """Return what is known of a family, of all where none is named, as JSON values and as lines."""
    if name is None:
        families = overview(bench)
        return {"families": [line.as_json() for line in families]}, list(overview_lines(families))
    known = known_name(bench, name)
    if known is None:
        raise BenchloreError(unknown_family(bench, name, "benchlore family lists them all"))
    view = family_view(bench, known, state)
    return view.as_json(), list(family_lines(view))
