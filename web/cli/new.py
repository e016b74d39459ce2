"""`benchlore new`: write up a repair in the technician's own editor."""

import datetime
from pathlib import Path

import click

from kb.errors import NoteError
from kb.notes.case import CASE_FIELDS, REQUIRED_CASE_FIELDS, Outcome
from kb.notes.frontmatter import split
from kb.notes.yaml_text import spell_field
from search.bench import Bench
from web.cli.options import git_option, notebook_options, open_notebook
from web.forms.note_form import texts_from_reading
from web.server.note_service import NoteService

HINTS = {
    "complaint": "in the owner's own words", "symptom": "a list: [dead, clicking]",
    "blinks": "6, 2+3, 2 long + 3 short, 3 or 4", "check_time": "6 min", "outcome": ", ".join(Outcome),
    "parts": "a list: [Q801 20N60C3]", "fix_time": "hands-on: 55 min, 1 h 20 min",
    "comeback_of": "the earlier case, when the same set came back",
    "caution": "a list: [mains, stored charge]",
}  # fmt: skip


def template(known: dict[str, str]) -> str:
    """Return the note to fill in: every field, with a mark at required ones, and what is known already."""
    lines = ["---"]
    for field in CASE_FIELDS[1:]:
        needed = "needed" if field in REQUIRED_CASE_FIELDS else ""
        hint = "; ".join(filter(None, (needed, HINTS.get(field, ""))))
        if hint:
            lines.append(f"# {hint}")
        lines.append(spell_field(field, known.get(field, "")).rstrip("\n"))
    return "\n".join([*lines, "---", "", ""])


@click.command()
@notebook_options
@click.option("--from-search", "asked", default="", metavar="TEXT", help="Start from what the owner says.")
@git_option
def new(notebook: Path | None, demo: bool, asked: str, git: bool) -> None:
    """Write up a repair in your editor.

    $VISUAL or $EDITOR opens a note to fill in. It is saved when every required field can be read.
    """
    opened = open_notebook(notebook, demo=demo, git=git)
    notes = NoteService(opened, git=git, warn=lambda warning: click.echo(warning, err=True))
    known = {"date": datetime.date.today().isoformat(), "outcome": str(Outcome.FIXED)}
    known |= texts_from_reading(Bench(opened).read(asked.strip())) if asked.strip() else {}
    text = blank = template(known)
    while True:
        typed = click.edit(text, extension=".md", require_save=False)
        if typed is None or typed.strip() == blank.strip():
            click.echo("Nothing was filled in, so nothing is saved.")
            return
        text = typed
        front = split(text, file="")
        typed_fields = {name: entry.value for name, entry in front.entries.items()}
        try:
            if front.problems:
                raise NoteError(front.problems)
            body = front.body or typed_fields.get("body", "")
            note = notes.save_new(notes.read_new({**typed_fields, "body": body}))
        except NoteError as error:
            click.echo(str(error), err=True)
            if click.confirm("Open it again?", default=True):
                continue
            draft = opened.state_dir / "drafts" / f"{datetime.datetime.now():%Y%m%d-%H%M%S}.md"
            draft.parent.mkdir(parents=True, exist_ok=True)
            draft.write_text(text, encoding="utf-8")
            raise click.ClickException(f"not saved; what you typed is in {draft}") from error
        click.echo(f"Saved as {note.case}: {opened.case_path(note.case)}")
        return
