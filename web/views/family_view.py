"""What page and terminal show of a family: its figures and the quote; and finding it by name."""

import datetime
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from rapidfuzz import process
from rapidfuzz.distance import OSA

from kb.notes.models import find_family, squeeze
from kb.settings import ShopSettings, settings_or_trouble
from search.answering.advice import DEFAULT_CAUTIONS, cautions_in
from search.answering.answer import Advice, Caution
from search.bench import Bench
from search.families.case_group import CaseGroup
from search.families.family_figures import FamilyFigures, FamilySummary, families_overview, family_figures
from search.index.case_table import code_of
from search.planning.quote import Quote, quote
from web.views.owner_advice import advise_owner
from web.views.state import FamilyState
from web.views.wording import Groups

ONE_TYPO_FROM, TWO_TYPOS_FROM = 4, 8  # letters of a word


@dataclass(frozen=True, kw_only=True)
class FamilyView:
    """One family as shown. caution: of its note, else of any such device. newest: day of the latest note."""

    figures: FamilyFigures
    state: FamilyState
    has_note: bool
    caution: tuple[Caution, ...]
    owner: Groups
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
            "tell_owner": [line for _, lines in self.owner for line in lines],
            "quote": self.quote.as_json() if self.quote else None,
            "settings_trouble": self.settings_trouble,
        }


def family_view(bench: Bench, name: str, state: FamilyState) -> FamilyView:
    """Return what is shown of a family, over the cases that the state counts."""
    notebook, table = bench.notebook, bench.knowledge.table
    note, vocabulary = notebook.families().get(name), notebook.vocabulary()
    figures = family_figures(
        table, name, note=note, outcome=state.outcome, model=state.model, since=state.since,
        vocabulary=vocabulary,
    )  # fmt: skip
    settings, problems = settings_or_trouble(notebook.root)
    days = table.date_days[CaseGroup(table).rows]
    of_device = vocabulary.cautions_of(figures.device)
    hazards = figures.note.caution or (DEFAULT_CAUTIONS if of_device is None else of_device)
    caution = cautions_in(vocabulary, hazards)
    cost, worth = state.parts_cost or 0.0, state.worth
    return FamilyView(
        figures=figures, state=state, has_note=note is not None, caution=caution,
        owner=advise_owner(caution, map(Advice, figures.note.tell_owner), vocabulary),
        quote=quote(figures.bench_time, settings, parts_cost=cost, worth=worth, past=figures.past),
        settings=settings, settings_trouble="\n".join(map(str, problems)),
        newest=days.max().astype("datetime64[D]").item() if days.size else None,
    )  # fmt: skip


def look_up(bench: Bench, said: str) -> tuple[str | None, list[str]]:
    """Return the name of a family as the notes spell it, or None and the names that may be meant."""
    notes = bench.notebook.families()
    names = list(dict.fromkeys([*notes, *bench.knowledge.table.family_names]))
    match, code = find_family(said, list(notes.values())), code_of(names, said)
    meant = [match.family.chassis_family] if match else []
    known = names[code] if code >= 0 else meant[0] if match and match.exact else None
    near = process.extract(
        said, names, processor=squeeze, scorer=OSA.normalized_distance, score_cutoff=0.5, limit=3
    )
    return known, list(dict.fromkeys([*meant, *(name for name, _, _ in near)]))


def unknown_family(said: str, meant: Sequence[str], otherwise: str) -> str:
    """Say that no family has this name, and which may be meant; if none, what to do otherwise."""
    remedy = f"did you mean {', '.join(meant)}?" if meant else otherwise
    return f"No family is called {said}; {remedy}"


def overview(bench: Bench, said: str = "") -> list[FamilySummary]:
    """Return the families that match every typed word, forgiving typos; that of a typed model comes first."""
    notes = bench.notebook.families()
    families = families_overview(bench.knowledge.table, notes)
    match, wanted = find_family(said, list(notes.values())), _words(said)
    meant = match and match.family.chassis_family

    def fits(family: FamilySummary) -> bool:
        texts = (family.chassis_family, family.make, family.device, *family.models)
        known = {word for text in texts for word in (*_words(text), squeeze(text)) if word}
        return bool(wanted) and (_fits(squeeze(said), known) or all(_fits(word, known) for word in wanted))

    found = [each for each in families if not said.strip() or each.chassis_family == meant or fits(each)]
    return sorted(found, key=lambda family: family.chassis_family != meant)


def _words(text: str) -> list[str]:
    return re.findall(r"[^\W_]+", text.casefold())


def _fits(word: str, known: Iterable[str]) -> bool:
    """Tell whether a word is a known word or its beginning, forgiving typos as in a complaint."""
    typos = (len(word) >= ONE_TYPO_FROM) + (len(word) >= TWO_TYPOS_FROM)
    forms = (form for each in known for form in (each, each[: len(word)]))
    return any(OSA.distance(word, form, score_cutoff=typos) <= typos for form in forms)
