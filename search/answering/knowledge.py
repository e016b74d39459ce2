"""What answers need of one state of the notebook, each worked out once."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import InitVar, dataclass, replace
from functools import cached_property
from statistics import median
from typing import Self

import numpy as np

from kb.errors import say_count
from kb.notes.case import Outcome
from kb.notes.family import FamilyNote
from kb.terms import Vocabulary
from search.answering.answer import CauseProfile, Codes
from search.answering.questions import QUESTIONS
from search.causes.similar_causes import other_spellings
from search.families.case_group import CaseGroup, NotebookStatistics, statistics_of
from search.index.case_table import code_of, counts_by_name
from search.index.documents import cause_key
from search.index.postings import PostingCache
from search.index.rows import Rows
from search.index.snapshot import Snapshot
from search.planning.checks import is_live
from search.reading.complaint import Reading
from search.reading.concepts import finder_for
from search.reading.job_note import KnownCauses
from search.reading.plain_form import CONCEPT_MARK
from search.stats.arrays import FloatArray, IntArray, narrow

_FIELD = "complaint"  # field of the index with the owner's words and the symptoms
# All chosen by us.
PROFILES_KEPT = 5_000
NOTES_READ = 2_000  # newest cases searched for parts, in a tenth of a second
NOTES_PER_PROFILE = 12  # newest notes of a cause that give its usual check, parts and proof
PARTS_LISTED, PROOFS_LISTED = 6, 3
LIVE = "on a live set: trained people only, one hand, insulated tool"  # common practice, no source
_AGREE = 0.75  # share of a part's cases that must have one cause

_Names = tuple[tuple[str, ...], str]  # all spellings of a cause, and a family


@dataclass(frozen=True, kw_only=True)
class Ruling:
    """What the technician has ruled out: codes and names of causes, and names that no case has."""

    codes: IntArray
    names: tuple[str, ...]
    unknown: tuple[str, ...]


@dataclass(eq=False)
class Knowledge:
    """One state of the index and the family notes, and what answers need of them."""

    snapshot: Snapshot
    families: dict[str, FamilyNote]
    vocabulary: Vocabulary
    before: InitVar["Knowledge | None"] = None  # an earlier state, from which unchanged profiles are taken

    def __post_init__(self, before: Self | None) -> None:
        self.table, self.finder = self.snapshot.table, finder_for(self.vocabulary)
        cache_mb = self.snapshot.source.cache_mb / 12
        self._counts: PostingCache[str, tuple[FloatArray]] = PostingCache(cache_mb)
        # Keyed by names, as codes change with the state.
        self._profiles: dict[_Names, tuple[int, tuple[int, Rows], CauseProfile]] = {}
        self._state = 1
        if before is not None:
            self._profiles, self._state = before._profiles, before._state + 1

    @cached_property
    def basis(self) -> NotebookStatistics:
        """The figures of the whole notebook that answers and family pages share."""
        return statistics_of(self.table)

    @cached_property
    def cases_of_cause(self) -> FloatArray:
        """The number of cases of each cause; shape (n_causes,)."""
        return self._counted(np.arange(self.table.size))

    def cases_with(self, term: str) -> FloatArray:
        """Return in how many cases of each cause the complaint has a term; shape (n_causes,)."""

        def counted() -> tuple[FloatArray]:
            return (self._counted(self.snapshot.source.postings(_FIELD, term)[0]).astype(np.float32),)

        return self._counts.fetch(term, counted)[0].astype(np.float64)  # exact: whole numbers

    def _counted(self, rows: IntArray) -> FloatArray:
        causes = self.table.cause[rows]
        return np.bincount(causes[causes >= 0], minlength=len(self.table.cause_names)).astype(np.float64)

    @cached_property
    def symptom_counts(self) -> tuple[FloatArray, FloatArray]:
        """Cases of each cause with the symptom of each question, (questions, n_causes); the shares of all."""
        counts = np.array([self.cases_with(CONCEPT_MARK + concept) for concept in QUESTIONS])
        return counts, (counts.sum(axis=1) + 0.5) / (self.cases_of_cause.sum() + 1)

    @cached_property
    def kinds(self) -> tuple[IntArray, IntArray, IntArray, IntArray]:
        """The kind of case of each row, (table.size,); cause, family and make of each kind, as codes."""
        codes = self.table.cause, self.table.family, self.table.make
        order = np.lexsort([narrow(each) for each in reversed(codes)])
        begins = np.arange(len(order)) == 0
        for each in codes:
            begins[1:] |= np.diff(each[order]) != 0
        kind, first = np.empty(len(order), np.intp), order[begins]
        kind[order] = np.cumsum(begins) - 1
        return kind, *(each[first] for each in codes)

    @cached_property
    def _rows(self) -> tuple[IntArray, Sequence[int]]:
        """All rows sorted by cause, and where the rows of each cause begin, with the end as last place."""
        order = np.argsort(narrow(self.table.cause), kind="stable")
        causes = range(len(self.table.cause_names) + 1)
        return order, np.searchsorted(self.table.cause[order], causes).tolist()

    def rows_of(self, codes: Codes) -> IntArray:
        """Return the rows of the cases of a cause."""
        rows, begin = self._rows
        return np.concatenate([rows[begin[code] : begin[code + 1]] for code in codes])

    def profile(self, codes: Codes, family: int) -> CauseProfile:
        """Return what the cases of a cause say, those of a family (a code, negative for none) first."""
        table = self.table
        names = tuple(table.cause_names[code] for code in codes)
        key = names, table.family_names[family] if family >= 0 else ""
        state, segment, found = self._profiles.get(key, (0, None, None))
        if state == self._state and found:
            return found
        cases = CaseGroup(table, self.rows_of(codes))
        last = table.segment_of(int(cases.rows.max()))
        if found is None or segment != last or not np.array_equal(found.rows, cases.rows):
            found = cause_profile(cases, codes, family)
        else:  # except the times, which depend on all cases of the notebook
            said, board, parts = found.check, found.board, found.parts
            again = cases.check(codes[0], 0.0, says=said.check, board=board, parts=parts, note=said.note)
            found = replace(found, check=again)
        if len(self._profiles) >= PROFILES_KEPT:
            self._profiles.clear()
        self._profiles[key] = self._state, last, found
        return found

    def profile_of(self, cause: str, family: str) -> CauseProfile | None:
        """Return the profile of a cause by name, as in this family if it was met there; None if unknown."""
        codes = tuple(self.ruling([cause]).codes.tolist())
        return self.profile(codes, code_of(self.table.family_names, family)) if codes else None

    def unmet_device(self, reading: Reading) -> str:
        """Return the device of a complaint if no case and no known family is of one, else ""."""
        device = reading.device or next(iter(reading.taken_for.values()), "")
        if not device or reading.family in (*self.families, *self.table.family_names):
            return ""
        return "" if self.device_codes(device) else device

    def device_codes(self, device: str) -> tuple[int, ...]:
        """Return the codes of all spellings of a device in the table."""
        key = self._device_key(device)
        return tuple(code for code, each in enumerate(self._device_keys) if each == key)

    def same_device(self, one: str, other: str) -> bool:
        """Tell whether two names are of one kind of device."""
        return self._device_key(one) == self._device_key(other)

    def only_family(self, make: str, device: str) -> str:
        """Return the family if notes and cases have only one of a make ("" for any) and device, else ""."""
        if not device:
            return ""
        table, codes = self.table, self.device_codes(device)
        own = np.isin(table.device, codes) & ((table.make == code_of(table.make_names, make)) | (not make))
        known = {name for name, _ in counts_by_name(table.family[own], table.family_names)}
        notes = [note for note in self.families.values() if make in ("", note.make)]
        known |= {note.chassis_family for note in notes if self.same_device(note.device, device)}
        return known.pop() if len(known) == 1 else ""

    @cached_property
    def _device_keys(self) -> Sequence[str]:
        return [self._device_key(name) for name in self.table.device_names]

    def _device_key(self, name: str) -> str:
        return self.finder.concept_of(name, "device") or name.casefold()

    @cached_property
    def known_causes(self) -> KnownCauses:
        """The names of the causes, and the cause of each part whose cases agree."""
        table = self.table
        counts: defaultdict[tuple[str, str], Counter[str]] = defaultdict(Counter)
        rows = np.flatnonzero(self.basis.readable & (table.cause >= 0))
        for row in rows[np.argsort(-table.date_days[rows], kind="stable")[:NOTES_READ]].tolist():
            note = table.note(row)
            for part in note.parts:
                counts[note.chassis_family, part.split()[0]][table.cause_names[table.cause[row]]] += 1
        most = [(part, *causes.most_common(1)[0], causes.total()) for part, causes in counts.items()]
        by_part = {part: cause for part, cause, own, every in most if own >= _AGREE * every}
        return KnownCauses(names=tuple(table.cause_names), by_part=by_part)

    def holdings(self) -> str:
        """Say in one sentence what the notebook holds."""
        cases = int(np.count_nonzero(self.basis.readable))
        unreadable = int(np.count_nonzero(self.table.alive)) - cases
        families = say_count(len({*self.families, *self.table.family_names}), "family", "families")
        causes = say_count(len(self.table.cause_names), "root cause")
        needing = f"; {say_count(unreadable, 'note needs', 'notes need')} attention" if unreadable else ""
        return f"{say_count(cases, 'repair')} in {families}, {causes}{needing}."

    def ruling(self, said: Sequence[str]) -> Ruling:
        """Find the causes that were ruled out, by any of their spellings."""
        codes: dict[int, None] = {}
        names, unknown, keys = [], [], self.table.cause_keys
        for cause in dict.fromkeys(said):
            key = cause_key(cause, self.finder)
            if key not in keys:
                unknown.append(cause)
            elif (code := keys.index(key)) not in codes:
                codes |= dict.fromkeys((code, *other_spellings(self.table, code)))
                names.append(self.table.cause_names[code])
        return Ruling(codes=np.array(list(codes), np.int64), names=tuple(names), unknown=tuple(unknown))


def cause_profile(cases: CaseGroup, codes: Codes, family: int) -> CauseProfile:
    """Return what the cases of a cause say, those of a family first. family: a code, negative for none."""
    table, rows, times = cases.table, cases.rows, cases.fix_minutes()
    order = np.lexsort((-table.date_days[rows], table.family[rows] != family))
    notes = [table.note(row) for row in rows[order[:NOTES_PER_PROFILE]].tolist()]
    own = [note for note in notes if note.chassis_family == notes[0].chassis_family]
    fixed = [note for note in own if note.outcome is Outcome.FIXED]
    # A check with the power off comes first. The longest says how, and safely; short ones often only what was
    # found.
    longest = sorted(filter(None, (note.check for note in own)), key=len, reverse=True)
    says = next((check for check in longest if not is_live(check)), longest[0] if longest else "")
    # A check of another family names that family: its references may be other parts here.
    borrowed = (f"{note.check} (as in {note.chassis_family})" for note in notes if note.check)
    says = says or next(borrowed, "")
    boards = (*_most_used(note.board for note in own), *_most_used(note.board for note in notes), "")
    parts = _most_used(part for note in fixed for part in note.parts)[:PARTS_LISTED]
    return CauseProfile(
        rows=rows, fixed=int(cases.fixed.size),
        check=cases.check(codes[0], 0.0, says=says, board=boards[0], parts=parts, note=_note_on(cases, says)),
        board=boards[0], parts=parts,
        proof=tuple(dict.fromkeys(note.proof for note in fixed if note.proof))[:PROOFS_LISTED],
        caution=tuple(dict.fromkeys(kind for note in own for kind in note.caution)),
        fix_time_min=median(times.tolist()) if times.size else None, by_family=cases.counts("family"),
    )  # fmt: skip


def _note_on(cases: CaseGroup, says: str) -> str:
    """Return what to know before a check: that the set is on, or that no case was ever fixed; else ""."""
    if is_live(says):
        return LIVE
    outcomes = {*cases.named("outcome")}
    if not outcomes <= {Outcome.NOT_FIXED, Outcome.NOT_ECONOMIC}:
        return ""
    count, fixed = len(cases.rows), "worth fixing" if outcomes == {Outcome.NOT_ECONOMIC} else "fixed"
    return f"the only case was not {fixed}" if count == 1 else f"none of its {count} cases was {fixed}"


def _most_used(texts: Iterable[str]) -> tuple[str, ...]:
    """Return the texts except "", the most frequent first; ties: the one met first."""
    return tuple(text for text, _ in Counter(filter(None, texts)).most_common())
