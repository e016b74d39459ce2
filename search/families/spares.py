"""Parts to keep on the shelf: what past repairs used, and how many will do for the next ten."""

import math
import re
from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import chain, count

from search.records import JsonRecord

# Uses per repair have a Gamma(shape, exposure) prior, chosen by us: half a use in ten repairs. So a part used
# in the only repair so far does not fill the shelf (test_one_repair_does_not_fill_the_shelf).
PRIOR_SHAPE = 0.5
PRIOR_REPAIRS = 10.0
NEXT_REPAIRS = 10
ENOUGH_PROBABILITY = 0.9

# A part's place on the board, as circuit diagrams name it. A fuse rating (T4A) and a thread (M3) are none.
_PLACE = (
    r"(?:BD|BR|BT|CN|CON|CT|C|DB|DZ|D|FB|FS|FT|F|IC|J|LED|LD|L|M(?=\d{3})|NTC|OC|PC|P|Q|RL|RV|RY|R|SCR|SW|S|TH|TP|TR|T|"
    r"U|VD|VR|VT|VZ|X|Y|ZD)"
)
_NOT_A_RATING = r"(?![TFM]\d+(?:\.\d+)?A\b)"
_PLACES = re.compile(
    rf"^{_NOT_A_RATING}{_PLACE}\d{{1,4}}[A-Z]?"
    rf"(?:\s*(?:,|/|\+|&|-|to|and)\s*(?:{_PLACE})?\d{{1,4}}[A-Z]?)*\s*[:=]?\s+(?=\S)"
)
_NUMBER_BEFORE = re.compile(
    r"(?i)^(\d{1,2})\s*(?:x|×|pcs?|off)\s+(?!\d+(?:[.,]\d+)?\s*(?:mm|cm|x)\b)"  # noqa: RUF001
)
_NUMBER_AFTER = re.compile(r"\s+(?:x|×)\s*(\d{1,3})$", re.IGNORECASE)  # noqa: RUF001


@lru_cache(maxsize=16384)  # a family's notes name the same few parts over and over
def read_part(entry: str) -> tuple[str, str, int]:
    """Return the key of a part in a note (see part_key), its type as spelled there, and how many were used.

    A leading place on the board is dropped if something follows it ("Q801 20N60C3"). Several places ("C833,
    C834 1000uF 16V") are as many parts. "2x" before and "x2" after give the number.
    """
    rest = " ".join(entry.split())
    pieces = []
    if before := _NUMBER_BEFORE.match(rest):
        pieces, rest = [int(before[1])], rest[before.end() :]
    if after := _NUMBER_AFTER.search(rest):
        pieces, rest = [*pieces, int(after[1])], rest[: after.start()]
    if places := _PLACES.match(rest):
        pieces, rest = pieces or [_count_places(places[0])], rest[places.end() :]
    return part_key(rest), rest, max(math.prod(pieces), 1)


def _count_places(places: str) -> int:
    """Count the places in a list or range: "C1, C2", "C851-C854"."""
    numbers = [int(number) for number in re.findall(r"\d+", places)]
    if len(numbers) == 2 and re.search(r"-|\bto\b", places) and 0 < numbers[1] - numbers[0] < 50:
        return numbers[1] - numbers[0] + 1
    return len(numbers)


def part_key(name: str) -> str:
    """Return a key that is the same for all spellings of a part: without capitals, spaces and micro signs."""
    return re.sub(r"\s+", "", name.casefold().replace("µ", "u").replace("μ", "u").replace("ω", "ohm"))


def shelf_count(uses: int, repairs: int) -> int:
    """Return how many uses of a part the next ten repairs will likely not exceed.

    uses: so far, in `repairs` repairs. A Poisson rate with a gamma prior predicts a negative binomial count,
    with PRIOR_SHAPE + uses successes of probability behind / (behind + NEXT_REPAIRS); behind is PRIOR_REPAIRS
    + repairs.
    Source: Gelman et al., Bayesian Data Analysis, section 2.6 (from memory).
    """
    from scipy.special import betainc  # here, so that a search does not load scipy

    behind = PRIOR_REPAIRS + repairs
    success = behind / (behind + NEXT_REPAIRS)
    # betainc(shape, count + 1, success) is the chance of at most `count`.
    return next(k for k in count() if betainc(PRIOR_SHAPE + uses, k + 1, success) >= ENOUGH_PROBABILITY)


@dataclass(frozen=True, kw_only=True)
class PartFigures(JsonRecord):
    """One type of part: pieces used, in how many repairs, and how many to keep.

    That is the number of the next ten repairs likely to need it (shelf_count), times the pieces that a repair
    took. Repairs are counted, not pieces, as some parts are always changed in pairs or sets.
    """

    part: str
    used: int
    repairs: int
    per_ten_repairs: float
    keep_for_next_ten: int


def part_figures(parts_by_repair: Sequence[Sequence[str]]) -> tuple[PartFigures, ...]:
    """Return the use of each type of part under its commonest spelling, most used first, then by name."""
    uses = [[read_part(entry) for entry in entries if entry.strip()] for entries in parts_by_repair]
    repairs = Counter(key for own in uses for key in {key for key, _, _ in own})
    used: Counter[str] = Counter()
    spellings: defaultdict[str, Counter[str]] = defaultdict(Counter)
    for key, name, pieces in chain.from_iterable(uses):
        used[key] += pieces
        spellings[key][name] += 1
    figures = [
        PartFigures(
            part=min(spellings[key].items(), key=lambda item: (-item[1], item[0]))[0],
            used=pieces,
            repairs=repairs[key],
            per_ten_repairs=10 * pieces / len(uses),
            keep_for_next_ten=math.ceil(shelf_count(repairs[key], len(uses)) * pieces / repairs[key]),
        )
        for key, pieces in used.items()
    ]
    return tuple(sorted(figures, key=lambda part: (-part.used, part.part)))
