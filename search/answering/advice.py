"""Which families a set may be of, and the hazards and opening time that go with them."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np

from kb.notes.family import FamilyNote
from kb.terms import Vocabulary
from search.answering.answer import CauseAnswer, Caution, FamilyShare
from search.answering.knowledge import Knowledge
from search.causes.odds import CauseOdds
from search.index.case_table import code_of
from search.planning.checks import DEFAULT_OPENING_MIN
from search.reading.complaint import Reading

# All chosen by us.
DEFAULT_CAUTIONS = ("mains", "stored charge")  # while nobody knows what set it is
HURT = ("burn or shock", "person hurt")  # people need help before sets do
SWALLOWED = "swallowed battery"
# Said first and in this order: each can kill before the set is even moved.
GRAVEST = (
    "gas", SWALLOWED, "carbon monoxide", "petrol", "lithium cells", *HURT, "falling set", "microwave leakage",
    "unsafe hob", "fire risk", "earth missing", "water and mains",
)  # fmt: skip
MILD = frozenset(("no second try", "chemical residue"))  # a graver danger may be told beside these
# A spark lights gas. So beside gas no sentence with one of these words is said.
SPARKING = re.compile(r"\b(?:un)?plug|\bswitch|\bfuse|\bbreaker|\bflash", re.IGNORECASE)
# Beside the first hazard of each pair the second need not be said.
SAYS_AS_MUCH = {"water and mains": "mains", "microwave high voltage": "stored charge"}
WIRING = frozenset(("hot connection", "wet wiring", "bare wires"))  # faults of a plug, a lead or a socket
LIKELY_ENOUGH_TO_WARN = 0.1  # probability of a cause from which its hazards stand beside the set's own
POSSIBLE_ENOUGH_TO_WARN = 0.01  # probability below which a cause's hazards are not named
_OTHER_MAKE = 0.05  # factor on a family's share when the owner names another make; chosen by us
SHARE_LISTED = 0.01  # share below which a family is not named


def family_shares(knowledge: Knowledge, reading: Reading, odds: CauseOdds) -> tuple[FamilyShare, ...]:
    """Return the families it may be, most likely first; if a family was said, only that one.

    Each cause spreads its probability over its cases by their weight. The weights alone would be surer than
    the probabilities, as they lack the prior mixture. A make that the owner reads off the set lowers families
    of other makes.
    """
    if reading.family:
        return (FamilyShare(chassis_family=reading.family, share=1.0),)
    if not reading.terms and reading.blinks is None:
        return ()
    table, (kind, causes, families, makes) = knowledge.table, knowledge.kinds
    weight = np.bincount(kind, odds.case_weight, len(causes))
    # Rows without a cause or a family weigh nothing; they are counted last and dropped.
    total_of = np.bincount(causes + 1, weight, len(odds.probability) + 1)
    chance = np.append(0.0, odds.probability)
    handed = np.divide(chance, total_of, out=np.zeros(len(total_of)), where=total_of > 0)
    shares = weight * handed[causes + 1]
    own = makes == code_of(table.make_names, reading.make)
    if shares[own].any():
        shares = np.where(own, shares, _OTHER_MAKE * shares)
    sums = np.bincount(families + 1, shares, len(table.family_names) + 1)[1:]
    share = (sums / max(sums.sum(), 1e-300)).tolist()
    listed = (code for code in np.argsort(-sums, kind="stable").tolist() if share[code] >= SHARE_LISTED)
    return tuple(FamilyShare(chassis_family=table.family_names[at], share=share[at]) for at in listed)


def opening_minutes(knowledge: Knowledge, families: Sequence[FamilyShare]) -> tuple[float, bool]:
    """Return the minutes to open a set of the likeliest family, and whether they are only assumed."""
    note = knowledge.families.get(families[0].chassis_family) if families else None
    if note is not None and note.opening_time_min is not None:
        return float(note.opening_time_min), False
    known = [time for each in knowledge.families.values() if (time := each.opening_time_min) is not None]
    return (float(np.median(known)) if known else DEFAULT_OPENING_MIN), True


def cautions(
    knowledge: Knowledge,
    reading: Reading,
    families: Sequence[FamilyNote] = (),
    causes: Sequence[CauseAnswer] = (),
    general: Sequence[str] = (),
) -> tuple[Caution, ...]:
    """Return the hazards: first those told of, then of likely families, of likely causes, of possible causes.

    A danger of the past or of another set comes after these if a fault of today is told, too. What can kill
    in such a device is always among the likely hazards; an unknown or unnamed device counts as a mains set.
    families: the likely ones. general: devices that it sounds like, where none is named.
    """
    listed = any(family.caution for family in families)
    told_of = hazards_said(knowledge, reading)
    today = hazards_said(knowledge, replace(reading, dangers=())) if reading.tells_fault else told_of
    hurt = [kind for kind in told_of if kind in HURT]
    named = knowledge.vocabulary.caution_names  # a note may say "live mains" or "heavy"
    likely = [*hurt, *today, *named(kind for family in families for kind in family.caution)]
    possible: list[str] = []
    for cause in causes:
        if cause.probability >= LIKELY_ENOUGH_TO_WARN:
            likely += named(cause.profile.caution)
        elif cause.probability >= POSSIBLE_ENOUGH_TO_WARN:
            possible += named(cause.profile.caution)
    told = [*likely, *(SAYS_AS_MUCH.get(kind, "") for kind in likely if reading.family)]
    # What an owner must hear of a device is said even if the family note does not list it.
    grave = {*DEFAULT_CAUTIONS, *knowledge.vocabulary.for_owner}.difference(told)
    likely += [kind for device in general for kind in knowledge.vocabulary.cautions_of(device) or ()]
    likely += DEFAULT_CAUTIONS if general else ()
    hazards = device_hazards(knowledge, reading, families)
    likely += [kind for kind in hazards if not listed or kind in grave]
    likely += (*told_of, *(kind for kind in possible if kind in DEFAULT_CAUTIONS))
    said = {kind: knowledge.vocabulary.caution_sentence(kind) for kind in (*likely, *possible)}
    if "gas" in likely:  # beside gas nobody is told to pull a plug
        first = told_of[0] if told_of[:1] == ["carbon monoxide"] else "gas"  # the dizzy must get out
        kept = {kind: says if kind == "gas" else without_sparks(says) for kind, says in said.items()}
        said = {kind: kept[kind] for kind in (first, "gas", *kept) if kept[kind] or not said[kind]}
    return tuple(Caution(kind=kind, says=says, likely=kind in likely) for kind, says in said.items())


def cautions_in(vocabulary: Vocabulary, kinds: Iterable[str]) -> tuple[Caution, ...]:
    """Return the hazards that notes name, each with its sentence."""
    names = vocabulary.caution_names(kinds)
    return tuple(Caution(kind=name, says=vocabulary.caution_sentence(name)) for name in names)


def without_sparks(says: str) -> str:
    """Return a text without the sentences that tell of a plug or a switch."""
    kept = (each for each in re.split(r"(?<=[.:;]) ", says) if not SPARKING.search(each))
    return re.sub(r"(?:^|(?<=\. ))[a-z]", lambda start: start[0].upper(), " ".join(kept))


def hazards_said(knowledge: Knowledge, reading: Reading) -> list[str]:
    """Return the hazards of the symptoms that were told, gravest first."""
    hazards_of = knowledge.vocabulary.cautions_of
    shown_by = dict.fromkeys(
        (*reading.dangers, reading.danger_heard), "" if reading.other_set else reading.device
    )
    shown_by |= dict.fromkeys(reading.concepts, reading.device)
    found = (hazards_of(concept, "symptom", shown_by=device) or () for concept, device in shown_by.items())
    said = [kind for kinds in found for kind in kinds]
    of_device = hazards_of(reading.device)
    if of_device is not None and "mains" not in of_device:  # a telephone may fall in the bath
        said = [kind for kind in said if kind != "water and mains"]
    if "swollen" in reading.concepts and "lithium cells" in (of_device or ()):
        said.append("lithium cells")
    return sorted(dict.fromkeys(said), key=(*GRAVEST, *said).index)


def comes_first(knowledge: Knowledge, reading: Reading) -> str:
    """Return the danger that comes before looking for any cause, "" for none."""
    said = hazards_said(knowledge, replace(reading, danger_heard=""))  # only likely
    if "gas" in said:
        return "the smell of gas comes first"
    if SWALLOWED in said:
        return "whoever swallowed the battery comes first"
    if reading.tells_set:
        return ""
    if WIRING.intersection(reading.concepts):
        return "plug, lead and socket come first"
    known = [knowledge.vocabulary.cautions_of(each) or () for each in knowledge.table.device_names]
    strange = {"lithium cells", "carbon monoxide"}.intersection(said).difference(*known)
    return f"the danger of {min(strange)} comes first" if strange else ""


def device_hazards(knowledge: Knowledge, reading: Reading, families: Sequence[FamilyNote]) -> tuple[str, ...]:
    """Return the hazards of the device said, else of the likely families, else of a mains set."""
    devices = [reading.device] if reading.device else [family.device for family in families]
    devices += [reading.other_set] if reading.other_set else []
    known = [knowledge.vocabulary.cautions_of(device) for device in devices]
    hazards = [kind for kinds in known for kind in (DEFAULT_CAUTIONS if kinds is None else kinds)]
    if "charger" in reading.concepts:  # "the charger of the e-bike" is on the mains
        hazards.insert(1, "mains")
    return tuple(dict.fromkeys(hazards if devices else DEFAULT_CAUTIONS))


def may_ask_of_flashes(knowledge: Knowledge, reading: Reading, kinds: Sequence[str]) -> bool:
    """Tell whether to ask for flashes: the set is known to flash, and no hazard (`kinds`) forbids looking."""
    if hazards_said(knowledge, reading) or {"gas", "carbon monoxide", "fire risk"}.intersection(kinds):
        return False
    known = [family.device for family in knowledge.families.values() if family.blink_meaning]
    return not reading.device or any(knowledge.same_device(each, reading.device) for each in known)
