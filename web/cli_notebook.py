"""`benchlore check` and `benchlore index`: the state of the notes, and of the index over them."""

from __future__ import annotations

import time
from pathlib import Path

import click

from search.index import CaseIndex
from web.cli_options import notebook_options, open_notebook


@click.command(short_help="List everything in the notes that needs attention.")
@notebook_options
def check(notebook: Path | None, demo: bool) -> None:
    """List everything in the notes that needs attention.

    One line each: file:line: field: what stands there; what to write instead. Exit code 1 when there is any.
    """
    opened = open_notebook(notebook, demo=demo)
    problems = opened.problems()
    for problem in problems:
        click.echo(str(problem))
    notes = len(opened.scan())
    if problems:
        click.echo(f"{len(problems)} to put right, {notes} notes read.", err=True)
        raise SystemExit(1)
    click.echo(f"{notes} notes read, nothing to put right.")


@click.command(short_help="Bring the index up to date with the notes.")
@notebook_options
@click.option("--rebuild", is_flag=True, help="Build it anew from the notes.")
def index(notebook: Path | None, demo: bool, rebuild: bool) -> None:
    """Bring the index up to date with the notes."""
    opened = open_notebook(notebook, demo=demo)
    started = time.perf_counter()
    with click.progressbar(length=1, label="Reading notes", show_pos=True) as shown:

        def progress(done: int, total: int) -> None:
            shown.length = max(total, 1)
            shown.update(done - shown.pos)

        case_index = CaseIndex(opened, progress=progress)
        report = case_index.rebuild() if rebuild else case_index.refresh()
    took = time.perf_counter() - started
    click.echo(f"{report.added} added, {report.changed} changed, {report.removed} removed in {took:.1f} s.")
