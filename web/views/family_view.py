"""What both faces say of a family: its figures, the quote, and the cases behind each cause."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from kb.notes.models import find_family
from kb.settings import SettingsError, ShopSettings, load_settings
from search.answering.answer import Caution
from search.bench import Bench
from search.families.family_figures import FamilyFigures, FamilySummary
from search.families.summaries import families_overview, family_figures
from search.index.case_table import CaseTable, code_of
from search.planning.quote import Quote, quote
from web.views.family_find import Findable, find, nearest
from web.views.family_state import FamilyState

EPOCH = datetime.date(1970, 1, 1)


@dataclass(frozen=True, kw_only=True)
class FamilyView:
    """One family as it is shown.

    has_note: whether a family note was written yet. quote: None without a labour rate or a known bench time.
    settings_trouble: what is wrong in shop.toml, "" for nothing. newest: the date of the notebook's newest
    note. case_models: the models that the family's cases name, for slicing.
    """

    figures: FamilyFigures
    state: FamilyState
    has_note: bool
    caution: tuple[Caution, ...]
    quote: Quote | None
    settings: ShopSettings
    settings_trouble: str
    newest: datetime.date | None
    case_models: tuple[str, ...]

    def as_json(self) -> dict[str, Any]:
        """Return what `GET /api/families/NAME` answers and `benchlore family NAME --json` prints."""
        return {
            **self.figures.as_json(),
            "caution_says": {each.kind: each.says for each in self.caution},
            "quote": self.quote.as_json() if self.quote else None,
            "settings_trouble": self.settings_trouble,
        }


def family_view(bench: Bench, name: str, state: FamilyState) -> FamilyView:
    """Return all that is known of the family called `name`, over the slice that the state says."""
    notebook, table = bench.notebook, bench.snapshot.table
    note, vocabulary = notebook.families().get(name), notebook.vocabulary()
    figures = family_figures(
        table,
        name,
        note=note,
        outcome=state.outcome,
        model=state.model,
        since=state.since,
        vocabulary=vocabulary,
    )
    settings, trouble = shop_settings(bench)
    return FamilyView(
        figures=figures,
        state=state,
        has_note=note is not None,
        caution=tuple(Caution(kind=kind, says=vocabulary.caution_sentence(kind)) for kind in figures.caution),
        quote=family_quote(figures, settings, state),
        settings=settings,
        settings_trouble=trouble,
        newest=newest_day(table),
        case_models=case_models(table, name),
    )


def shop_settings(bench: Bench) -> tuple[ShopSettings, str]:
    """Return the shop's settings, and what is wrong with them: a bad file must not hide the family."""
    try:
        return load_settings(bench.notebook.root), ""
    except SettingsError as error:
        return ShopSettings(), str(error)


def family_quote(figures: FamilyFigures, settings: ShopSettings, state: FamilyState) -> Quote | None:
    """Return the price to tell the owner; None without a labour rate or a known bench time."""
    if settings.labour_rate is None or figures.bench_time is None:
        return None
    return quote(
        figures.bench_time,
        settings.labour_rate,
        state.parts_cost or 0.0,
        currency=settings.currency,
        minimum_charge=settings.minimum_charge,
        worth=state.worth,
        past=figures.past,
    )


def newest_day(table: CaseTable) -> datetime.date | None:
    """Return the date of the newest readable note."""
    days = table.date_days[table.alive & table.readable]
    return EPOCH + datetime.timedelta(days=int(days.max())) if days.size else None


def case_models(table: CaseTable, name: str) -> tuple[str, ...]:
    """Return the models that a family's cases name, sorted."""
    rows = table.alive & table.readable & (table.family == code_of(table.family_names, name))
    codes = np.unique(table.model[rows])
    return tuple(sorted(table.model_names[code] for code in codes.tolist() if code >= 0))


@dataclass(frozen=True, kw_only=True)
class CaseLine:
    """One case in a list of evidence."""

    case: str
    model: str
    outcome: str
    fix_time_min: float | None


def case_lines(table: CaseTable, case_ids: Sequence[str]) -> list[CaseLine]:
    """Return what is said of each case in a list, in the order given."""
    lines = []
    for case in case_ids:
        row = table.row_of[case]
        minutes = float(table.fix_time_min[row])
        model, outcome = int(table.model[row]), int(table.outcome[row])
        lines.append(
            CaseLine(
                case=case,
                model=table.model_names[model] if model >= 0 else "",
                outcome=table.outcome_names[outcome] if outcome >= 0 else "",
                fix_time_min=None if np.isnan(minutes) else minutes,
            )
        )
    return lines


def overview(bench: Bench, said: str = "") -> list[FamilySummary]:
    """Return the families that fit what was typed, the one meant by its model first; all for nothing."""
    notes = bench.notebook.families()
    lines = {line.chassis_family: line for line in families_overview(bench.snapshot.table, notes)}
    findable = [
        Findable(name=name, make=line.make, device=line.device, models=line.models)
        for name, line in lines.items()
    ]
    return [lines[name] for name in find(said, findable, notes)]


def known_name(bench: Bench, said: str) -> str | None:
    """Return the family's name as the notes spell it; None for an unknown family.

    Forgives case, and takes a model's name or other dashes and spaces for its family, but no wrong letter.
    """
    notes = bench.notebook.families()
    names = dict.fromkeys([*notes, *bench.snapshot.table.family_names])
    if said in names:
        return said
    folded = [name for name in names if name.casefold() == said.casefold()]
    if folded:
        return folded[0]
    match = find_family(said, list(notes.values()))
    return match.family.chassis_family if match and match.exact else None


def nearest_names(bench: Bench, said: str) -> list[str]:
    """Return families that may have been meant, the likeliest first."""
    notes = bench.notebook.families()
    names = list(dict.fromkeys([*notes, *bench.snapshot.table.family_names]))
    match = find_family(said, list(notes.values()))
    meant = [match.family.chassis_family] if match else []
    return list(dict.fromkeys([*meant, *nearest(said, names)]))
