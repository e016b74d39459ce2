"""Import an old list: upload it, see how each column is understood, then bring it in."""

import re
import secrets
import shutil
from functools import partial
from pathlib import Path
from urllib.parse import urlencode

from flask import Blueprint, Response, abort, flash, redirect, render_template, request, url_for
from werkzeug.utils import secure_filename
from werkzeug.wrappers import Response as AnyResponse

from kb.errors import say_count
from kb.exchange.rows import FIELDS, JOB_NOTE, Plan, guess_mapping, read_header, samples
from kb.exchange.tables import WORKBOOKS, ImportProblem
from kb.notes.case import REQUIRED_CASE_FIELDS
from kb.storage.saving import plain_errors, require_root
from web.forms.fill import read_line
from web.forms.note_form import label
from web.server.desk import desk

blueprint = Blueprint("import_page", __name__)

LISTS_KEPT = 5  # uploaded lists, the newest ones; chosen by us
REJECTS = "rejected.csv"
NAMES = {**{name: label(name) for name in FIELDS}, JOB_NOTE: "Free text to read fields from"}


@blueprint.get("/import")
def choose(trouble: str = "") -> str:
    """Ask for the file."""
    return render_template("import.html", trouble=trouble, table=None)


@blueprint.post("/import")
def upload() -> AnyResponse | tuple[str, int]:
    """Keep the file and show how it is understood."""
    sent = request.files.get("table")
    if sent is None or not sent.filename:
        return choose("Choose a file first."), 422
    require_root(desk().notebook)
    suffix = Path(sent.filename).suffix.lower()
    stem = Path(secure_filename(sent.filename)).stem or "list"
    token, lists = secrets.token_hex(16), desk().notebook.state_dir / "lists"
    path = lists / token / f"{stem[:60]}{suffix if suffix in WORKBOOKS else '.csv'}"
    with plain_errors(path):
        path.parent.mkdir(parents=True)
        path.write_bytes(sent.stream.read())
        kept = sorted(lists.iterdir(), key=lambda each: each.stat().st_mtime_ns)
    for old in kept[:-LISTS_KEPT]:
        shutil.rmtree(old, ignore_errors=True)
    try:
        read_header(path)
    except ImportProblem as error:
        return choose(str(error).replace(str(path), path.name)), 422
    return redirect(url_for("import_page.preview", token=token))


def list_at(token: str) -> Path:
    """Return an uploaded list, or end the request with 404."""
    folder = desk().notebook.state_dir / "lists" / token
    known = bool(re.fullmatch("[0-9a-f]{32}", token)) and folder.is_dir()
    found = [path for path in folder.iterdir() if path.name != REJECTS] if known else []
    if not found:
        abort(404, "This list is no longer kept. Choose its file again.")
    return found[0]


def chosen(header: list[str]) -> tuple[Plan, str]:
    """Return the import plan from the selects, and what is wrong with them."""
    columns: dict[str, str] = {} if "c0" in request.values else guess_mapping(header)
    plan = Plan(columns=columns, read_text=partial(read_line, desk().bench.knowledge))
    for place, column in enumerate(header if "c0" in request.values else ()):
        field = request.values.get(f"c{place}", "")
        if field in columns:
            both = f"{columns[field]} and {column}"
            return plan, f"Both {both} are taken for {NAMES.get(field, field)}: choose one of them."
        if field in NAMES or (field and field == column):
            columns[field] = column
    return plan, ""


@blueprint.get("/import/<token>")
def preview(token: str) -> tuple[str, int]:
    """Show how each column is understood, with samples, and what an import would do."""
    path = list_at(token)
    header = read_header(path)
    plan, trouble = chosen(header)
    field_of = {column: field for field, column in plan.columns.items()}
    shown = samples(path)
    page = render_template(
        "import.html", trouble=trouble, token=token, table=path.name, names=NAMES,
        columns=[(column, field_of.get(column, ""), shown.get(column, [])) for column in header],
        report=None if trouble else desk().notes.import_table(path, plan, dry_run=True),
        rejects_kept=path.with_name(REJECTS).is_file(), required=REQUIRED_CASE_FIELDS,
    )  # fmt: skip
    return page, 422 if trouble else 200


@blueprint.post("/import/<token>")
def run(token: str) -> AnyResponse:
    """Import the list as previewed; rows that are in the notebook already are skipped."""
    path = list_at(token)
    plan, trouble = chosen(read_header(path))
    if not trouble and "look" not in request.form:
        report = desk().notes.import_table(path, plan, rejects=path.with_name(REJECTS))
        flash(
            f"{say_count(report.imported, 'case')} imported, {report.already_there:,} there already, "
            f"{say_count(report.rejected, 'row')} rejected."
        )
    selects = {name: field for name, field in request.form.items() if re.fullmatch(r"c[0-9]+", name)}
    return redirect(f"{url_for('import_page.preview', token=token)}?{urlencode(selects)}")


@blueprint.get("/import/<token>/rejected")
def rejected(token: str) -> Response:
    """Send the rejected rows, each with the reason, so that they can be mended and imported again."""
    path = list_at(token).with_name(REJECTS)
    if not path.is_file():
        abort(404, "No row was rejected.")
    attached = {"Content-Disposition": f"attachment; filename={REJECTS}"}
    return Response(path.read_bytes(), mimetype="text/csv", headers=attached)
