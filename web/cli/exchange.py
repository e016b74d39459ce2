"""`benchlore import` and `benchlore export`: bring cases in from a table, and take them out."""

import difflib
import sys
from contextlib import nullcontext
from functools import partial
from pathlib import Path

import click

from kb.errors import say_count
from kb.exchange.rows import FIELDS, JOB_NOTE, Plan, guess_mapping, read_header, samples
from kb.exchange.transfer import ImportReport, export_cases
from search.bench import Bench
from web.cli.options import FILE, git_option, notebook_options, open_notebook, progress_bars
from web.forms.fill import read_line
from web.server.note_service import NoteService

REJECTS_SHOWN = 10  # chosen by us: the rejects file has them all


def field_pair(said: str) -> tuple[str, str]:
    """Read FIELD=TEXT, where the field is one that a note has. Raises: click.BadParameter."""
    field, equals, text = (part.strip() for part in said.partition("="))
    if not equals or not field:
        raise click.BadParameter(f"{said!r} is not a pair; write field=text")
    if field not in FIELDS:
        near = difflib.get_close_matches(field, FIELDS, n=1)
        hint = f"did you mean {near[0]}?" if near else f"write one of {', '.join(FIELDS)}"
        raise click.BadParameter(f"{field!r} is not a field of a note; {hint}")
    return field, text


@click.command("import")
@click.argument("file", type=FILE)
@notebook_options
@click.option(
    "--map", "mapped", type=field_pair, multiple=True, metavar="FIELD=COLUMN",
    help="Which column holds a field (FIELD= for none). job_note: a column of free text to read fields from.",
)  # fmt: skip
@click.option(
    "--set", "constants", type=field_pair, multiple=True, metavar="FIELD=TEXT", help="One text for every row."
)
@click.option("--dry-run", is_flag=True, help="Show the mapping and what would happen; write nothing.")
@click.option("--yes", is_flag=True, help="Do not ask before importing.")
@git_option
def import_(
    file: Path, notebook: Path | None, demo: bool, *, mapped: tuple[tuple[str, str], ...],
    constants: tuple[tuple[str, str], ...], dry_run: bool, yes: bool, git: bool,
) -> None:  # fmt: skip
    """Bring cases in from a CSV, xlsx or ods file.

    Columns are matched to fields by their names; --map changes that. Importing the same file again adds
    nothing twice. Rows that make no case go to FILE.rejects.csv with the reason.
    """
    opened = open_notebook(notebook, demo=demo, git=git)
    columns = guess_mapping(read_header(file), dict(mapped))
    reader = partial(read_line, Bench(opened).knowledge) if JOB_NOTE in columns else None
    plan = Plan(columns=columns, constants=dict(constants), read_text=reader)
    shown = samples(file)
    for name, column in plan.columns.items():
        click.echo(f"  {name:<15} from column {column}: {' | '.join(shown.get(column, ())) or '(empty)'}")
    for name, text in plan.constants.items():
        click.echo(f"  {name:<15} always {text}")
    if not (dry_run or yes) and sys.stdin.isatty():
        click.confirm("Import these?", default=True, abort=True)
    notes = NoteService(opened, git=git, warn=lambda warning: click.echo(warning, err=True))
    with progress_bars() as bars:
        progress = partial(bars, "Looking at rows" if dry_run else "Importing")
        report = notes.import_table(file, plan, dry_run=dry_run, progress=progress)
    tell_import(report, dry_run=dry_run)


def tell_import(report: ImportReport, *, dry_run: bool) -> None:
    """Say what an import did, or would do."""
    if report.unused_columns:
        click.echo(f"No field takes the columns {', '.join(report.unused_columns)}.")
    done = "would be imported" if dry_run else "imported"
    click.echo(
        f"{say_count(report.imported, 'case')} {done}, {report.already_there:,} already there, "
        f"{say_count(report.rejected, 'row')} rejected."
    )
    for name, rows in report.from_text.most_common():
        click.echo(f"  {name}: read from the free text of {say_count(rows, 'row')}")
    for line, reason in report.rejects[:REJECTS_SHOWN]:
        click.echo(f"  line {line}: {reason}", err=True)
    if report.rejected > REJECTS_SHOWN:
        click.echo(f"  and {report.rejected - REJECTS_SHOWN:,} more", err=True)
    if report.rejects_file:
        click.echo(f"Rejected rows, with the reason: {report.rejects_file}", err=True)


@click.command()
@notebook_options
@click.option(
    "--format", "kind", type=click.Choice(["csv", "jsonl"]), default="csv", show_default=True,
    help="A table, or one JSON object a line.",
)  # fmt: skip
@click.option("-o", "--output", type=FILE, help="A file; else the screen.")
def export(notebook: Path | None, demo: bool, *, kind: str, output: Path | None) -> None:
    """Take all cases out as CSV or JSON Lines."""
    opened = open_notebook(notebook, demo=demo, to_read=True)
    try:
        with output.open("w", encoding="utf-8", newline="") if output else nullcontext(sys.stdout) as stream:
            written, left_out = export_cases(opened, kind, stream)
    except BrokenPipeError:
        raise  # the reader of a pipe has closed it; click ends quietly
    except OSError as error:
        where = output or "the screen"
        raise click.ClickException(f"{where}: {error.strerror}; write to another place") from error
    click.echo(f"{say_count(written, 'case')} written.", err=True)
    for path in left_out:
        click.echo(f"left out, it needs attention: {path}", err=True)
