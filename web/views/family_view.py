"""What both faces say of a family: its figures, the quote, and how its name may be spelled."""

import datetime
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from rapidfuzz import process
from rapidfuzz.distance import OSA

from kb.errors import NoteError
from kb.notes.family import FamilyNote
from kb.notes.models import find_family, squeeze
from kb.settings import ShopSettings, load_settings
from search.answering.advice import DEFAULT_CAUTIONS
from search.answering.answer import Caution
from search.bench import Bench
from search.families.case_group import CaseGroup
from search.families.family_figures import (
    EPOCH,
    FamilyFigures,
    FamilySummary,
    families_overview,
    family_figures,
)
from search.index.case_table import code_of
from search.planning.quote import Quote, quote
from web.views.state import FamilyState

# Typos forgiven in a word, as in a complaint: none below four letters, one from four, two from eight.
ONE_TYPO_FROM, TWO_TYPOS_FROM = 4, 8


@dataclass(frozen=True, kw_only=True)
class FamilyView:
    """One family as it is shown.

    has_note: whether a family note was written yet. caution: hazards of the note, else of any such device.
    quote: None without a labour rate or a known bench time. settings_trouble: what is wrong in shop.toml, ""
    for nothing. newest: the date of the notebook's newest note.
    """

    figures: FamilyFigures
    state: FamilyState
    has_note: bool
    caution: tuple[Caution, ...]
    quote: Quote | None
    settings: ShopSettings
    settings_trouble: str
    newest: datetime.date | None

    def as_json(self) -> dict[str, Any]:
        """Return what `GET /api/families/NAME` answers and `benchlore family NAME --json` prints."""
        return {
            **self.figures.as_json(),
            "caution": [each.kind for each in self.caution],
            "caution_says": {each.kind: each.says for each in self.caution},
            "quote": self.quote.as_json() if self.quote else None,
            "settings_trouble": self.settings_trouble,
        }


def family_view(bench: Bench, name: str, state: FamilyState) -> FamilyView:
    """Return all that is known of the family called `name`, over the cases that the state counts."""
    notebook, table = bench.notebook, bench.snapshot.table
    note, vocabulary = notebook.families().get(name), notebook.vocabulary()
    figures = family_figures(
        table, name, note=note, outcome=state.outcome, model=state.model, since=state.since,
        vocabulary=vocabulary,
    )  # fmt: skip
    try:
        settings, trouble = load_settings(notebook.root), ""
    except NoteError as error:  # a bad file must not hide the family
        settings, trouble = ShopSettings(), str(error)
    days = table.date_days[CaseGroup(table).rows]
    of_device = vocabulary.cautions_of(figures.device)
    hazards = figures.note.caution or (DEFAULT_CAUTIONS if of_device is None else of_device)
    return FamilyView(
        figures=figures,
        state=state,
        has_note=note is not None,
        caution=tuple(Caution(kind=kind, says=vocabulary.caution_sentence(kind)) for kind in hazards),
        quote=quote(
            figures.bench_time, settings, parts_cost=state.parts_cost or 0.0, worth=state.worth,
            past=figures.past,
        ),
        settings=settings,
        settings_trouble=trouble,
        newest=EPOCH + datetime.timedelta(days=int(days.max())) if days.size else None,
    )  # fmt: skip


def overview(bench: Bench, said: str = "") -> list[FamilySummary]:
    """Return the families that fit what was typed, the one meant by its model first; all for nothing."""
    notes = bench.notebook.families()
    return find(said, families_overview(bench.snapshot.table, notes), notes)


def look_up(bench: Bench, said: str) -> tuple[str | None, list[str]]:
    """Return a family's name as the notes spell it, and those that may be meant, the likeliest first.

    Forgives case, and takes a model's name or other dashes and spaces for its family, but no wrong letter:
    then the name is None.
    """
    notes = bench.notebook.families()
    names = list(dict.fromkeys([*notes, *bench.snapshot.table.family_names]))
    match, code = find_family(said, list(notes.values())), code_of(names, said)
    meant = [match.family.chassis_family] if match else []
    known = names[code] if code >= 0 else meant[0] if match and match.exact else None
    return known, list(dict.fromkeys([*meant, *nearest(said, names)]))


def unknown_family(said: str, meant: Sequence[str], otherwise: str) -> str:
    """Say that no family is called so, and which may have been meant, or what to do otherwise."""
    remedy = f"did you mean {', '.join(meant)}?" if meant else otherwise
    return f"No family is called {said}; {remedy}"


def find(
    said: str, families: Sequence[FamilySummary], notes: Mapping[str, FamilyNote]
) -> list[FamilySummary]:
    """Return the families that fit what was typed, the one whose model it is first; all for nothing.

    Every typed word has to begin a word of the family, or be one or two typos away from one.
    """
    if not said.strip():
        return list(families)
    match = find_family(said, list(notes.values()))
    meant, wanted, found = match.family.chassis_family if match else None, _words(said), []
    for family in families:
        texts = [family.chassis_family, family.make, family.device, *family.models]
        known = {word for text in texts for word in (*_words(text), squeeze(text)) if word}
        fits = wanted and (_fits(squeeze(said), known) or all(_fits(word, known) for word in wanted))
        if fits or family.chassis_family == meant:
            found.append(family)
    return sorted(found, key=lambda family: family.chassis_family != meant)


def nearest(said: str, names: Sequence[str], *, limit: int = 3) -> list[str]:
    """Return the names most like what was typed, nearest first, ties in the order given; none unlike it."""
    found = process.extract(
        said, names, processor=squeeze, scorer=OSA.normalized_distance, score_cutoff=0.5, limit=limit
    )
    return [name for name, _, _ in found]


def _words(text: str) -> list[str]:
    return re.findall(r"[^\W_]+", text.casefold())


def _fits(word: str, known: set[str]) -> bool:
    typos = 2 if len(word) >= TWO_TYPOS_FROM else 1 if len(word) >= ONE_TYPO_FROM else 0
    # The end of a word may not be typed yet, so its beginning may match with a typo, too.
    return any(
        each.startswith(word) or (typos and OSA.distance(word, form, score_cutoff=typos) <= typos)
        for each in known
        for form in (each, each[: len(word)])
    )
