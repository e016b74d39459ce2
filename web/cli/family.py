"""`benchlore family`: what a chassis family is known for, in the terminal."""

from __future__ import annotations

import json
from pathlib import Path

import click

from search.bench import Bench
from web.cli.options import notebook_options, open_notebook
from web.views.family_lines import family_lines, overview_lines
from web.views.family_state import FamilyState
from web.views.family_view import family_view, known_name, nearest_names, overview


@click.command(short_help="Show what a chassis family is known for.")
@click.argument("name", required=False)
@notebook_options
@click.option("--outcome", default="", help="Count only cases that ended so, such as fixed.")
@click.option("--model", default="", help="Count only cases of this model.")
@click.option("--since", default="", help="Count only cases from this day, month or year on.")
@click.option("--parts-cost", default="", help="What the parts will cost, for the quote.")
@click.option("--worth", default="", help="What the set is worth to its owner, for the quote.")
@click.option("--json", "as_json", is_flag=True, help="Print what GET /api/families answers.")
def family(
    name: str | None, notebook: Path | None, demo: bool, *, outcome: str, model: str, since: str,
    parts_cost: str, worth: str, as_json: bool,
) -> None:  # fmt: skip
    """Show what a chassis family is known for.

    NAME is a family, or a model of one. Without it, all families are listed.
    """
    state = FamilyState.from_args(
        {"outcome": outcome, "model": model, "since": since, "parts_cost": parts_cost, "worth": worth}
    )
    for field, remedy in state.trouble.items():
        raise click.BadParameter(remedy, param_hint=f"--{field.replace('_', '-')}")
    bench = Bench(open_notebook(notebook, demo=demo, to_read=True))
    if name is None:
        families = overview(bench)
        if as_json:
            echo_json({"families": [line.as_json() for line in families]})
        else:
            click.echo("\n".join(overview_lines(families)))
        return
    known = known_name(bench, name)
    if known is None:
        meant = nearest_names(bench, name)
        remedy = f"; did you mean {', '.join(meant)}?" if meant else "; benchlore family lists them all"
        raise click.ClickException(f"No family is called {name}{remedy}")
    view = family_view(bench, known, state)
    if as_json:
        echo_json(view.as_json())
    else:
        click.echo("\n".join(family_lines(view)))


def echo_json(answer: object) -> None:
    """Print an answer as JSON that people can read, too."""
    click.echo(json.dumps(answer, ensure_ascii=False, indent=2))
