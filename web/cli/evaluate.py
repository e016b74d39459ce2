"""`benchlore evaluate`: how good the answers are, through time or on a labelled list."""

import json
from collections.abc import Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import Any

import click

from search.bench import Bench
from search.causes.notebook_causes import NotebookCauses
from search.causes.opinions import OPINIONS
from search.evaluation import evaluate as trials
from search.evaluation.denials import DenialFigures, measure_denials
from search.evaluation.labelled import history_of, read_labelled_csv
from search.index.integrity import tried_again
from search.reading.sentences import load_sentences
from search.reading.vectors import load_meaning
from web.cli.options import FILE, notebook_options, open_notebook, progress_bars


@click.command()
@notebook_options
@click.option("--last", default=60, show_default=True, type=click.IntRange(1), help="Cases to answer again.")
@click.option("--csv", "csv_file", type=FILE, help="Measure on a labelled list instead of the notebook.")
@click.option("--complaint", metavar="COL", help="The column of complaints, if not found by its name.")
@click.option("--cause", metavar="COL", help="The column of causes, likewise.")
@click.option("--family", metavar="COL", help='The column of families, likewise; "" for none.')
@click.option("--device", metavar="COL", help='The column of devices, likewise; "" for none.')
@click.option("--folds", default=5, show_default=True, type=click.IntRange(2, 50), help="Parts of the list.")
@click.option(
    "--without", multiple=True, metavar="NAME", type=click.Choice([each.name for each in OPINIONS]),
    help=f"Leave out an opinion, to see its worth: {', '.join(each.name for each in OPINIONS)}.",
)  # fmt: skip
@click.option(
    "--open-set", is_flag=True, help="Hide causes, and measure how well their complaints are known as new."
)
@click.option("--words-alone", is_flag=True, help="Leave the meaning vectors out.")
@click.option(
    "--denials", "denials_file", metavar="FILE", type=FILE,
    help="Measure the denied words found in a CSV file with the columns text and denied.",
)  # fmt: skip
@click.option("--json", "as_json", is_flag=True, help="Print the figures for a program.")
def evaluate(
    notebook: Path | None, demo: bool, *, as_json: bool, denials_file: Path | None, csv_file: Path | None,
    without: Sequence[str], folds: int, last: int, open_set: bool, words_alone: bool, **columns: str | None,
) -> None:  # fmt: skip
    """Measure how good the answers are.

    In a notebook each of the last cases is answered from earlier cases only. In a labelled CSV file each row
    is answered from the other parts of the list. With --open-set a fifth of the causes at a time is hidden,
    and "not in this notebook yet" is measured. With --denials FILE: how many denied words are found in
    sentences where they are marked.
    """
    measured: trials.Evaluation | DenialFigures | trials.OpenSetFigures
    options: dict[str, Any] = {"opinions": [each for each in OPINIONS if each.name not in without]}
    with progress_bars(quiet=as_json) as progress:
        options["progress"] = partial(progress, "Answering again")
        if denials_file is not None:
            measured = measure_denials(denials_file)
        elif csv_file is not None:
            named = {name: column for name, column in columns.items() if column is not None}
            meaning, sentences = (None, None) if words_alone else (load_meaning(), load_sentences())
            rows = read_labelled_csv(csv_file, named)
            history = history_of(rows, meaning=meaning, sentences=sentences)
            measure = trials.measure_open_set if open_set else partial(trials.evaluate_folds, folds=folds)
            measured = measure(history, **options)
        else:
            bench = Bench(open_notebook(notebook, demo=demo, to_read=True), progress=progress)
            measured = on_notebook(bench, words_alone, None if open_set else last, options)
    click.echo(json.dumps(measured.as_json(), indent=2) if as_json else measured.as_text())


@tried_again
def on_notebook(
    bench: Bench, words_alone: bool, last: int | None, options: Mapping[str, Any]
) -> trials.Evaluation | trials.OpenSetFigures:
    """Measure on the notebook's own cases: answer the last ones again, or hide causes (None)."""
    known = bench.knowledge
    causes = NotebookCauses(known.snapshot, known.finder, known.families.values(), words_alone=words_alone)
    if last is None:
        return trials.measure_open_set(causes.history(), **options)
    return trials.evaluate_notebook(causes, last=last, **options)
