"""`benchlore check` and `benchlore index`: the state of the notes, and of the index over them."""

import time
from pathlib import Path

import click

from kb.attention import Attention
from kb.errors import quoted, say_count
from search.bench import Bench
from search.causes.similar_causes import similar_causes
from web.cli.options import notebook_options, open_notebook, progress_bars


@click.command()
@notebook_options
def check(notebook: Path | None, demo: bool) -> None:
    """List everything in the notes that needs attention.

    Each problem is a line: file:line: field: what stands there; what to write instead. The exit code is 1 if
    there is any. Causes that may be one cause in two spellings are listed, too, but are no problem.
    """
    opened = open_notebook(notebook, demo=demo, to_read=True)
    problems = Attention(opened).problems()
    for problem in problems:
        click.echo(str(problem))
    with progress_bars() as progress:
        table = Bench(opened, progress=progress).knowledge.table
    for pair in similar_causes(table):
        other = f"{quoted(pair.other)} ({say_count(pair.other_cases, 'case')})"
        keep = f"{quoted(pair.keep)} ({say_count(pair.keep_cases, 'case')})"
        click.echo(f"root_cause: {other} may be {keep}; if so, merge them on the page Attention")
    notes = len(opened.scan())
    if problems:
        click.echo(f"{len(problems)} to put right, {say_count(notes, 'note')} read.", err=True)
        raise SystemExit(1)
    click.echo(f"{say_count(notes, 'note')} read, nothing to put right.")


@click.command()
@notebook_options
@click.option("--rebuild", is_flag=True, help="Build the index anew from the notes.")
def index(notebook: Path | None, demo: bool, rebuild: bool) -> None:
    """Bring the index up to date with the notes.

    The program also learns from the past repairs.
    """
    opened = open_notebook(notebook, demo=demo)
    started = time.perf_counter()
    with progress_bars() as progress:
        bench = Bench(opened, progress=progress)
        if rebuild:
            bench.rebuild()
        bench.causes  # noqa: B018  # learns
        holdings = bench.knowledge.holdings()
    click.echo(f"{holdings} Ready in {time.perf_counter() - started:.1f} s.")
    if bench.warning:
        raise click.ClickException(bench.warning)
