"""Work out a family's figures from the note files alone, slowly and without the product's table.

Only three questions of wording are put to the product, because they are tested elsewhere: which spellings are
one root cause, which names are one board, and how a blink pattern is spelled. The order of checks is taken
from order_checks, which its own tests hold against every order there is. All counting is done here.
"""

import datetime
import math
import re
from collections import Counter, defaultdict
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from statistics import median
from typing import Any

import yaml

from kb.notes.blinks import BlinkPattern
from kb.terms import Vocabulary
from search.index.documents import cause_key
from search.planning.checks import Check, is_inside, minutes_in_words, order_checks
from search.reading.concepts import ConceptFinder

Z = 1.959964
DEMO_FAMILIES = (
    "BW-H3", "BW-M7", "CV-C2", "CV-D1", "CV-I6", "HV-L2", "OS-K5", "TN-D4", "TN-S3", "TN-W2", "TR-R4",
)  # fmt: skip
# Spellings of one cause in the demo, as a technician reads them.
ONE_CAUSE = {
    "LED strip open": "LED strip open circuit",
    "glass in drain pump": "glass splinter in drain pump",
    "door seal worn": "lower door seal worn",
}
OUTCOMES = ("fixed", "not fixed", "not economic", "no fault found")


@dataclass
class Note:
    """What a note's front matter says, and the day it was written."""

    front: dict[str, Any]
    day: datetime.date
    key: str = ""

    def text(self, name: str) -> str:
        return " ".join(str(self.front.get(name) or "").split())

    @property
    def fixed(self) -> bool:
        return self.text("outcome") == "fixed"

    @property
    def parts(self) -> list[str]:
        said = self.front.get("parts") or []
        return [said] if isinstance(said, str) else list(said)


def read_front(path: Path) -> dict[str, Any]:
    _, front, _ = path.read_text(encoding="utf-8").split("---\n", 2)
    loaded: dict[str, Any] = yaml.load(front, Loader=yaml.CBaseLoader)
    return loaded


def minutes_of(said: str) -> int | None:
    if not said:
        return None
    if ":" in said:
        hours, minutes = said.split(":")
        return int(hours) * 60 + int(minutes)
    hours_said = re.search(r"(\d+)\s*[hH]", said)
    minutes_said = re.search(r"(\d+)\s*(?:min|M)", said)
    if not hours_said and not minutes_said:
        return int(said)
    return 60 * int(hours_said[1] if hours_said else 0) + int(minutes_said[1] if minutes_said else 0)


def wilson(count: int, total: int) -> tuple[float, float]:
    """Solve (count/total - p)^2 = z^2 p (1 - p) / total for p."""
    if total == 0:
        return 0.0, 1.0
    a, b, c = 1 + Z * Z / total, -(2 * count / total + Z * Z / total), (count / total) ** 2
    root = math.sqrt(max(b * b - 4 * a * c, 0.0))
    return (-b - root) / (2 * a), (-b + root) / (2 * a)


def share(count: int, total: int, name: str) -> dict[str, Any]:
    low, high = wilson(count, total)
    value = count / total if total else 0.0
    return {name: value, f"{name}_low": low, f"{name}_high": high, f"{name}_shown": total >= 5}


def fix_minutes(notes: list[Note]) -> list[int]:
    chosen = [note for note in notes if note.fixed] or notes
    return [minutes for note in chosen if (minutes := minutes_of(note.text("fix_time"))) is not None]


def fix_time(notes: list[Note]) -> dict[str, Any]:
    times = sorted(fix_minutes(notes))
    size, rank = len(times), 0
    while size and 1 - 2 * Fraction(sum(math.comb(size, k) for k in range(rank + 1)), 2**size) >= Fraction(
        19, 20
    ):
        rank += 1
    return {
        "fix_time_median_min": median(times) if times else None,
        "fix_time_low_min": times[rank - 1] if rank else None,
        "fix_time_high_min": times[size - rank] if rank else None,
    }


def comeback(notes: list[Note], everything: list[Note]) -> dict[str, Any]:
    """Walk day by day through the 90 days after the repairs."""
    newest = max(note.day for note in everything)
    spans = []
    for note in notes:
        if note.fixed:
            back = [
                (other.day - note.day).days
                for other in everything
                if other is not note
                and other.text("comeback_of") == note.text("case")
                and other.day >= note.day
            ]
            spans.append((min(back), True) if back else ((newest - note.day).days, False))
    survival, greenwood = 1.0, 0.0
    for day in range(91):
        watched = sum(span >= day for span, _ in spans)
        came = sum(span == day and event for span, event in spans)
        if came:
            survival *= 1 - came / watched
            greenwood += came / (watched * (watched - came)) if watched > came else 0.0
    followed = sum(span >= 90 for span, _ in spans)
    low: float | None
    high: float | None
    if not spans or (not followed and survival > 0):
        return {"rate": None, "low": None, "high": None, "followed": followed, "comebacks": _within(spans)}
    if survival == 1.0:
        low, high = 0.0, wilson(0, followed)[1]
    elif survival == 0.0:
        low, high = wilson(len(spans), len(spans))[0], 1.0
    else:
        width = 1.959964 * math.sqrt(greenwood) / abs(math.log(survival))
        low, high = 1 - survival ** math.exp(-width), 1 - survival ** math.exp(width)
    return {
        "rate": 1 - survival, "low": low, "high": high, "followed": followed, "comebacks": _within(spans),
    }  # fmt: skip


def _within(spans: list[tuple[int, bool]]) -> int:
    return sum(event and span <= 90 for span, event in spans)


def comeback_keys(figures: dict[str, Any] | None) -> dict[str, Any]:
    return {
        f"comeback_90_days{end}": figures[name] if figures else None
        for end, name in (("", "rate"), ("_low", "low"), ("_high", "high"))
    }


def part_of(entry: str) -> tuple[str, int]:
    words = entry.split()
    count = 1
    if len(words) > 1 and re.fullmatch(r"x\d+", words[-1]):
        count = int(words.pop()[1:])
    if len(words) > 1 and re.fullmatch(r"[A-Z]{1,3}\d+", words[0]):
        words = words[1:]
    return " ".join(words), count


def shelf(used: int, repairs: int) -> int:
    """Step along the negative binomial: each mass from the one before."""
    shape, success = 0.5 + used, (10 + repairs) / (20 + repairs)
    mass = success**shape
    total, count = mass, 0
    while total < 0.9:
        mass *= (count + shape) / (count + 1) * (1 - success)
        count += 1
        total += mass
    return count


def parts(notes: list[Note]) -> list[dict[str, Any]]:
    used: Counter[str] = Counter()
    repairs: Counter[str] = Counter()
    spelled: defaultdict[str, Counter[str]] = defaultdict(Counter)
    for note in notes:
        seen = set()
        for entry in note.parts:
            name, count = part_of(entry)
            key = name.lower().replace(" ", "")
            used[key] += count
            spelled[key][name] += 1
            seen.add(key)
        repairs.update(seen)
    lines = [
        {
            "part": sorted(spelled[key], key=lambda name, key=key: (-spelled[key][name], name))[0],
            "used": count,
            "repairs": repairs[key],
            "per_ten_repairs": 10 * count / len(notes),
            "keep_for_next_ten": math.ceil(Fraction(shelf(repairs[key], len(notes)) * count, repairs[key])),
        }
        for key, count in used.items()
    ]
    return sorted(lines, key=lambda line: (-line["used"], line["part"]))


def most_common(names: list[str]) -> str:
    counts = Counter(name for name in names if name)
    return sorted(counts, key=lambda name: (-counts[name], name))[0] if counts else ""


class SlowNotebook:
    """All case notes of a folder, read with plain YAML."""

    def __init__(self, folder: Path, vocabulary: Vocabulary) -> None:
        self.folder, self.vocabulary = folder, vocabulary
        finder = ConceptFinder(vocabulary)
        self.notes = []
        for path in sorted((folder / "cases").rglob("*.md")):
            front = read_front(path)
            note = Note(front, datetime.date.fromisoformat(front["date"]))
            note.key = cause_key(note.text("root_cause"), finder)
            self.notes.append(note)
        spellings: defaultdict[str, list[Note]] = defaultdict(list)
        for note in self.notes:
            spellings[note.key].append(note)
        self.names = {key: self._name(notes) for key, notes in spellings.items()}
        self.joined = {cause_key(other, finder): cause_key(one, finder) for other, one in ONE_CAUSE.items()}

    def _name(self, notes: list[Note]) -> str:
        """The most common spelling of a cause, ties by its newest case, then alphabetically."""
        counts = Counter(note.text("root_cause") for note in notes)
        newest = {
            said: max(note.day for note in notes if note.text("root_cause") == said).toordinal()
            for said in counts
        }
        return sorted(counts, key=lambda said: (-counts[said], -newest[said], said))[0]

    def families(self) -> list[str]:
        return sorted({note.text("chassis_family") for note in self.notes})

    def groups(self, notes: list[Note], within: list[Note] | None = None) -> list[tuple[str, list[Note]]]:
        """Notes by cause; two spellings are joined where both stand in some notes, by default these."""
        met = {note.key for note in (notes if within is None else within)}
        found: defaultdict[str, list[Note]] = defaultdict(list)
        for note in notes:
            usual = self.joined.get(note.key)
            found[usual if usual in met else note.key].append(note)
        named = [(self.names[key], members) for key, members in found.items()]
        return sorted(named, key=lambda group: (-len(group[1]), group[0]))

    def family_note(self, family: str) -> dict[str, Any]:
        for path in sorted((self.folder / "families").glob("*.md")):
            front = read_front(path)
            if front["chassis_family"] == family:
                return front
        return {}

    def check_minutes(self, notes: list[Note], key: str) -> tuple[float, bool]:
        """Minutes of a cause's check: the group's own, the notebook's for it, any cause's, ten."""
        own = self._recorded(notes)
        if own:
            return median(own), False
        same = [note for note in self.notes if note.key == key]
        if self._recorded(same):
            return median(self._recorded(same)), False
        everywhere = self._recorded(self.notes)
        return median(everywhere or [10]), True

    def _recorded(self, notes: list[Note]) -> list[int]:
        return [minutes for note in notes if (minutes := minutes_of(note.text("check_time"))) is not None]

    def figures(self, family: str, *, outcome: str = "", model: str = "", since: str = "") -> dict[str, Any]:
        front = self.family_note(family)
        whole = [note for note in self.notes if note.text("chassis_family") == family]
        notes = [
            note
            for note in whole
            if outcome in ("", note.text("outcome"))
            and model in ("", note.text("model"))
            and (not since or note.day >= datetime.date.fromisoformat(since))
        ]
        fixed = sum(note.fixed for note in notes)
        back = comeback(notes, self.notes)
        given_up = sum(note.text("outcome") == "not economic" for note in notes)
        low, high = wilson(given_up, len(notes))
        return {
            "chassis_family": family,
            "all_cases": len(whole),
            "cases": len(notes),
            "fixed": fixed,
            **share(fixed, len(notes), "success"),
            "outcomes": {name: sum(note.text("outcome") == name for note in notes) for name in OUTCOMES},
            **fix_time(notes),
            "causes": [self._cause(name, members, len(notes)) for name, members in self.groups(notes)],
            "blinks": self._blinks(notes, front.get("blink_meaning") or {}),
            **comeback_keys(back),
            "comebacks": back["comebacks"],
            "repairs_followed_90_days": back["followed"],
            "years": self._years(notes),
            "parts": parts(notes),
            "boards": self._boards(notes, front.get("boards") or []),
            **self._bench(notes, minutes_of(front.get("opening_time", ""))),
            "not_economic": {"not_economic": given_up, "cases": len(notes), "low": low, "high": high},
        }

    def _cause(self, name: str, notes: list[Note], total: int) -> dict[str, Any]:
        newest = sorted(notes, key=lambda note: (-note.day.toordinal(), note.text("case")))
        fixed = sum(note.fixed for note in notes)
        minutes, assumed = self.check_minutes(
            notes, next(key for key, known in self.names.items() if known == name)
        )
        check = next((note.text("check") for note in newest if note.text("check")), "")
        minutes, assumed = max(minutes, minutes_in_words(check)), assumed or minutes_in_words(check) > minutes
        board = most_common([note.text("board") for note in notes])
        return {
            "root_cause": name,
            "cases": len(notes),
            **share(len(notes), total, "share"),
            "fixed": fixed,
            **share(fixed, len(notes), "success"),
            **fix_time(notes),
            **comeback_keys(comeback(notes, self.notes) if fixed >= 5 else None),
            "parts": parts(notes),
            "board": board,
            "check": check,
            "check_time_min": minutes,
            "check_time_assumed": assumed,
            "check_inside": is_inside(check, board),
            "evidence": [note.text("case") for note in newest],
        }

    def _blinks(self, notes: list[Note], sheet: dict[str, str]) -> list[dict[str, Any]]:
        sayings = {BlinkPattern.parse(text): meaning for text, meaning in sheet.items()}
        noted = [(BlinkPattern.parse(note.text("blinks")), note) for note in notes if note.text("blinks")]
        said: defaultdict[BlinkPattern, list[str]] = defaultdict(list)
        seen: defaultdict[BlinkPattern, list[Note]] = defaultdict(list)
        for count in {
            count for pattern in (*sayings, *(each for each, _ in noted)) for count in pattern.counts
        }:
            said[count] = [meaning for pattern, meaning in sayings.items() if allows(pattern, count)]
            seen[count] = [note for pattern, note in noted if allows(pattern, count)]
        return [
            {
                "pattern": str(pattern),
                "service_sheet": "; ".join(said[pattern]),
                "cases": len(seen[pattern]),
                "causes": [
                    {"root_cause": name, "cases": len(own), **share(len(own), len(seen[pattern]), "share")}
                    for name, own in self.groups(seen[pattern], notes)
                ],
                **fix_time(seen[pattern]),
            }
            for pattern in sorted(said)
        ]

    def _years(self, notes: list[Note]) -> list[dict[str, int]]:
        years = [note.day.year for note in notes]
        span = range(min(years), max(years) + 1) if years else range(0)
        return [{"year": year, "cases": years.count(year)} for year in span]

    def _boards(self, notes: list[Note], named: list[str]) -> list[dict[str, Any]]:
        """Boards of the cases merged by the vocabulary, then those only the family note names."""
        everywhere = Counter(note.text("board") for note in self.notes if note.text("board"))
        merged: defaultdict[frozenset[str], list[str]] = defaultdict(list)
        for name in everywhere:
            merged[frozenset(n.lower() for n in (name, *self.vocabulary.other_names(name)))].append(name)
        lines = []
        for names in merged.values():
            count = sum(note.text("board") in names for note in notes)
            if count:
                lines.append((sorted(names, key=lambda name: (-everywhere[name], name))[0], count))
        lines = sorted(lines, key=lambda line: (-line[1], line[0]))
        taken = {n.lower() for name, _ in lines for n in (name, *self.vocabulary.other_names(name))}
        lines += [(name, 0) for name in named if name.lower() not in taken]
        return [
            {"board": name, "cases": count, "other_names": list(self.vocabulary.other_names(name))}
            for name, count in lines
        ]

    def _bench(self, notes: list[Note], opening: int | None) -> dict[str, Any]:
        """Mix the fix times of the causes, each after the minutes until its check is done."""
        opening_min = 10 if opening is None else opening
        groups = self.groups(notes)
        once = sum(len(own) == 1 for _, own in groups)
        unknown = once / (len(notes) + 1) if notes else 1.0
        rows = [self._cause(name, own, len(notes)) for name, own in groups]
        order = order_checks(
            [
                Check(
                    root_cause=row["root_cause"],
                    probability=(1 - unknown) * row["cases"] / len(notes),
                    minutes=row["check_time_min"],
                    inside=row["check_inside"],
                    assumed=row["check_time_assumed"],
                )
                for row in rows
            ],
            opening_min=opening_min,
        )
        by_name = {row["root_cause"]: (row, own) for row, (_, own) in zip(rows, groups, strict=True)}
        elapsed, opened, mixture = 0.0, False, []
        for check in order.checks:
            row, own = by_name[check.root_cause]
            elapsed += check.minutes + (opening_min if check.inside and not opened else 0)
            opened = opened or check.inside
            later = 0 if opened or not row["parts"] or not is_inside("", row["board"]) else opening_min
            for minutes, weight in self._sample(fix_minutes(own)):
                mixture.append((elapsed + later + minutes, check.probability * weight))
        last = elapsed + (0 if opened else opening_min)
        mixture += [(last + minutes, unknown * weight) for minutes, weight in self._sample([])]
        mixture.sort()
        total = math.fsum(weight for _, weight in mixture)

        def quantile(wanted: float) -> float:
            below = 0.0
            for value, weight in mixture:
                below += weight
                if below >= wanted * total * (1 - 1e-9):
                    return value
            return mixture[-1][0]

        return {
            "opening_min": opening_min,
            "opening_assumed": opening is None,
            "checks": [check.root_cause for check in order.checks],
            "expected_minutes": order.expected_minutes if order.checks else None,
            "bench_time_min": {"median": quantile(0.5), "low": quantile(0.05), "high": quantile(0.95)},
        }

    def _sample(self, times: list[int]) -> list[tuple[float, float]]:
        """What a cause's fix may take, with weights: own times, and others' scatter where these are few."""
        fixed = [note for note in self.notes if note.fixed] or self.notes
        if not times:
            return [(minutes, 1 / len(fixed)) for minutes in fix_minutes(fixed)]
        if len(times) >= 20:
            return [(minutes, 1 / len(times)) for minutes in times]
        ratios = []
        for _, own in self.groups(fixed, within=[]):
            usual, count = median(fix_minutes(own)), len(own)
            if count >= 5 and usual > 0:
                ratios += [
                    (minutes / usual) ** math.sqrt(count / (count - 1)) for minutes in fix_minutes(own)
                ]
        if len(ratios) < 20:
            middle = median(fix_minutes(fixed))
            ratios = [minutes / middle for minutes in fix_minutes(fixed)]
        ratios.sort()
        if len(ratios) > 199:
            ratios = [ratios[int((i + 0.5) / 199 * len(ratios))] for i in range(199)]
        widened = [ratio ** math.sqrt(1 + 1 / len(times)) for ratio in ratios]
        return [(minutes, 1 / 20) for minutes in times] + [
            (median(times) * ratio, (20 - len(times)) / 20 / len(widened)) for ratio in widened
        ]


def allows(pattern: BlinkPattern, count: BlinkPattern) -> bool:
    """Tell whether a pattern may be a count, which says a colour or is of any."""
    same_colour = not count.colour or count.colour == pattern.colour
    return same_colour and count.alternatives[0] in pattern.alternatives
