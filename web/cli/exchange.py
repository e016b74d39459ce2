"""`benchlore import` and `benchlore export`: cases in from a CSV file, and out again."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from kb.exchange.csv_files import ImportReport, export_cases, guess_mapping, import_csv, read_header
from web.cli.options import (
    ProgressLine,
    git_option,
    notebook_options,
    open_notebook,
    record,
    require_repository,
)
from web.views.wording import say_count

REJECTS_SHOWN = 10  # chosen by us: the rejects file has them all


def read_pairs(said: tuple[str, ...], option: str) -> dict[str, str]:
    """Read repeated field=text options."""
    pairs: dict[str, str] = {}
    for each in said:
        field, equals, text = each.partition("=")
        if not equals or not field.strip():
            raise click.BadParameter(f"{each!r} is no pair; write field=text", param_hint=option)
        pairs[field.strip()] = text.strip()
    return pairs


@click.command("import", short_help="Bring cases in from a CSV file.")
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
@notebook_options
@click.option(
    "--map",
    "mapped",
    multiple=True,
    metavar="FIELD=COLUMN",
    help="Which column holds a field; no column: none.",
)
@click.option(
    "--set", "constants", multiple=True, metavar="FIELD=TEXT", help="A field's value for every row."
)
@click.option("--dry-run", is_flag=True, help="Show the mapping and what would happen; write nothing.")
@click.option("--rejects", type=click.Path(path_type=Path, dir_okay=False), help="Where rejected rows go.")
@git_option
def import_(
    file: Path, notebook: Path | None, demo: bool, *, mapped: tuple[str, ...], constants: tuple[str, ...],
    dry_run: bool, rejects: Path | None, git: bool,
) -> None:  # fmt: skip
    """Bring cases in from a CSV file.

    Columns are matched to fields by their names; --map changes that. Importing the same file again adds
    nothing twice. Rows that make no case go to FILE.rejects.csv with the reason.
    """
    opened = open_notebook(notebook, demo=demo)
    if git:
        require_repository(opened)
    header = read_header(file)
    mapping = {**guess_mapping(header), **read_pairs(mapped, "--map")}
    mapping = {field: column for field, column in mapping.items() if column}
    fixed = read_pairs(constants, "--set")
    for field, column in mapping.items():
        click.echo(f"  {field:<15} from column {column}")
    for field, text in fixed.items():
        click.echo(f"  {field:<15} always {text}")
    with ProgressLine("Looking at rows" if dry_run else "Importing") as progress:
        report = import_csv(
            opened, file, mapping, constants=fixed, dry_run=dry_run, progress=progress, rejects=rejects
        )
    tell_import(report, dry_run=dry_run)
    if git and report.paths:
        message = f"Import {say_count(report.imported, 'case')} from {file.name}"
        record(opened, report.paths, message=message)


def tell_import(report: ImportReport, *, dry_run: bool) -> None:
    """Say what an import did, or would do."""
    if report.unused_columns:
        click.echo(f"No field takes the columns {', '.join(report.unused_columns)}.")
    done = "would be imported" if dry_run else "imported"
    click.echo(
        f"{say_count(report.imported, 'case')} {done}, {report.already_there:,} already there, "
        f"{say_count(report.rejected, 'row')} rejected."
    )
    for line, reason in report.rejects[:REJECTS_SHOWN]:
        click.echo(f"  line {line}: {reason}", err=True)
    if report.rejected > REJECTS_SHOWN:
        click.echo(f"  and {report.rejected - REJECTS_SHOWN:,} more", err=True)
    if report.rejects_file:
        click.echo(f"Rejected rows, with the reason: {report.rejects_file}", err=True)


@click.command(short_help="Take all cases out as CSV or JSON Lines.")
@notebook_options
@click.option(
    "--format",
    "kind",
    type=click.Choice(["csv", "jsonl"]),
    default="csv",
    show_default=True,
    help="A table, or one JSON object a line.",
)
@click.option(
    "-o", "--output", type=click.Path(path_type=Path, dir_okay=False), help="A file; else the screen."
)
def export(notebook: Path | None, demo: bool, *, kind: str, output: Path | None) -> None:
    """Take all cases out as CSV or JSON Lines."""
    opened = open_notebook(notebook, demo=demo, to_read=True)
    if output is None:
        report = export_cases(opened, kind, sys.stdout)
    else:
        with output.open("w", encoding="utf-8", newline="") as stream:
            report = export_cases(opened, kind, stream)
    click.echo(f"{say_count(report.cases, 'case')} written.", err=True)
    for path in report.left_out:
        click.echo(f"left out, it needs attention: {path}", err=True)
