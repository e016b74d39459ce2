"""In which order to check: likeliest and cheapest first, the set opened once."""

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from search.stats.arrays import BoolArray, FloatArray, IntArray
from search.stats.intervals import group_medians

# Chosen by us; test_assumed_minutes_fall_back_to_board_then_notebook_then_ten would notice.
DEFAULT_CHECK_MIN = 10.0
# Chosen by us, for a family without a note: dozens of screws out and in again, with a powered driver.
DEFAULT_OPENING_MIN = 10.0

# What is done with the set closed, in the words technicians write. "Plug" and "cable" alone are not enough:
# a plug on a board and a ribbon cable are inside. Common practice, no source.
_OUTSIDE = re.compile(
    r"""\b(
        (set|cabinet|case|back|lid|cover|panel)\s+(still\s+)?(closed|shut|on)
      | without\s+opening | before\s+opening | not\s+opened | (from\s+)?outside
      | (at|across|on)\s+the\s+(mains\s+)?plug | plug\s+(pins?|fuse|top) | plug\s+to\s+plug
      | mains\s+(lead|cord|flex)|(wall|mains)\s+socket
      | remote(\s+control)? | the\s+menu | (service|setup|settings|osd|on-screen|picture)\s+menu
      | factory\s+reset | power[\s-]cycled?
      | (other|another|different|known\s+good|swapped?)\s+(hdmi\s+|signal\s+|aerial\s+|display\s*port\s+)?
        (cable|lead|source|input|aerial|speakers?|socket|outlet)
      | (hdmi|aerial|signal|scart|speaker)\s+(cable|lead)s?
      | inlet\s+(hose|filter|tap) | drain\s+hose | spirit\s+level | test\s+load\s+of\s+water
    )\b""",
    re.IGNORECASE | re.VERBOSE,
)
# A part's place on a board (Q801, CN7, TP12), a board or a fastening can only be reached with the set open.
_INSIDE = re.compile(
    r"""\b(
        (C|R|L|D|Q|IC|U|F|T|TR|ZD|CN|CON|J|RL|RY|TP|VR|TH|PC|DB|BD|VD|X|S|SW|P|M)\d{1,4}
      | boards?|pcb|panel\s+connector|heatsink|ribbon|t-?con|solder\w*|joint
      | (removed|taken\s+off|back\s+off|cover\s+off|lid\s+off|opened|inside)
    )\b""",
    re.IGNORECASE | re.VERBOSE,
)


def is_inside(check: str, board: str = "") -> bool:
    """Say whether a check needs the set opened.

    check: the note's text, may be empty. board: the note's board, where something outside the set can stand
    as well ("mains lead").
    Every check is inside unless its words say that it is done with the set closed (at the plug, by remote
    control, in a menu, with another cable or source) and nothing in them names a place inside. Taking an
    outside check for an inside one costs a little order; the reverse would promise minutes that nobody has.
    """
    if _INSIDE.search(check):
        return True
    return not (_OUTSIDE.search(check) or _OUTSIDE.search(board))


@dataclass(frozen=True, kw_only=True)
class Check:
    """One check that tells whether one root cause is the fault.

    probability: of the root cause, within [0, 1]. minutes: bench time of the check alone, not negative.
    inside: the set must be open. assumed: the minutes are not recorded but assumed.
    """

    root_cause: str
    probability: float
    minutes: float
    inside: bool
    assumed: bool = False

    def __post_init__(self) -> None:
        """Refuse what no order can be made of."""
        if not (0.0 <= self.probability <= 1.0 and 0.0 <= self.minutes < math.inf):
            raise ValueError(
                f"check for {self.root_cause!r}: probability {self.probability}, minutes {self.minutes}; "
                "a probability within 0 and 1 and minutes from 0 are needed"
            )


@dataclass(frozen=True, kw_only=True)
class Order:
    """Checks in the order to do them, and what that costs.

    expected_minutes: bench minutes until the fault is found or every check is done, opening included.
    naive_minutes: the same when the likeliest cause is always checked first, whatever the check takes.
    finding_min: for each check, minutes from the start until it is done, opening included once.
    opened: for each check, whether the set is open by then. places: each check's place in what was given.
    """

    checks: tuple[Check, ...]
    places: tuple[int, ...]
    expected_minutes: float
    naive_minutes: float
    finding_min: tuple[float, ...]
    opened: tuple[bool, ...]
    opening_min: float

    @property
    def total_minutes(self) -> float:
        """Bench minutes until every check is done and none has found the fault."""
        return self.finding_min[-1] if self.finding_min else 0.0


@dataclass(frozen=True, kw_only=True)
class Action:
    """A check reduced to what ordering needs; cluster: what must be opened first, None for nothing."""

    probability: float
    minutes: float
    cluster: int | None = None


def _worth(probability: float, minutes: float) -> float:
    """Return probability per minute; a check that costs nothing goes first if it can find anything."""
    if minutes > 0:
        return probability / minutes
    return math.inf if probability > 0 else 0.0


def best_order(actions: Sequence[Action], *, opening_min: Sequence[float] = ()) -> list[int]:
    """Return the order of actions with the least expected cost.

    actions: each finds the fault with its probability (one fault, checks that always tell).
    opening_min: (clusters,) minutes to open each cluster, paid once; a cluster is not closed before the end.
    Returns: indices into actions. Repeatedly the largest of probability over minutes of a free or opened
    action and, for each closed cluster, its best prefix by (sum P) / (opening + sum C); that whole prefix.
    Ties: the likelier action, then the earlier in `actions`; a single action before a cluster's prefix.
    Source: Kadane and Simon 1977 (from memory); Ottosen and Jensen, The Cost of Troubleshooting Cost Clusters
    with Inside Information, arXiv 1203.3502 (its abstract). Without clusters it is Smith's rule of 1956 (from
    memory).
    """
    ranked = sorted(
        range(len(actions)),
        key=lambda i: (-_worth(actions[i].probability, actions[i].minutes), -actions[i].probability, i),
    )
    free = [i for i in ranked if actions[i].cluster is None]
    closed: dict[int, list[int]] = {}
    for i in ranked:
        cluster = actions[i].cluster
        if cluster is not None:
            closed.setdefault(cluster, []).append(i)
    place = {i: rank for rank, i in enumerate(ranked)}
    order: list[int] = []
    while free or closed:
        best = _worth(actions[free[0]].probability, actions[free[0]].minutes) if free else -1.0
        chosen, length = None, 0
        for cluster, members in sorted(closed.items()):
            worth, size = _best_prefix([actions[i] for i in members], opening_min[cluster])
            if worth > best:
                best, chosen, length = worth, cluster, size
        if chosen is None:
            order.append(free.pop(0))
            continue
        members = closed.pop(chosen)
        order.extend(members[:length])
        free = sorted([*free, *members[length:]], key=place.__getitem__)
    return order


def _best_prefix(members: Sequence[Action], opening_min: float) -> tuple[float, int]:
    """Return the largest (sum P) / (opening + sum C) over prefixes, and the shortest such prefix's length."""
    best, size, probability, minutes = -1.0, 0, 0.0, opening_min
    for length, action in enumerate(members, start=1):
        probability += action.probability
        minutes += action.minutes
        worth = _worth(probability, minutes)
        if worth > best:
            best, size = worth, length
    return best, size


def finding_times(
    actions: Sequence[Action], order: Sequence[int], *, opening_min: Sequence[float] = ()
) -> list[float]:
    """Return the minutes from the start until each action of the order is done, in that order."""
    opened: set[int] = set()
    elapsed, times = 0.0, []
    for i in order:
        cluster = actions[i].cluster
        if cluster is not None and cluster not in opened:
            opened.add(cluster)
            elapsed += opening_min[cluster]
        elapsed += actions[i].minutes
        times.append(elapsed)
    return times


def expected_cost(
    actions: Sequence[Action], order: Sequence[int], *, opening_min: Sequence[float] = ()
) -> float:
    """Return the expected minutes of an order: each step's cost times the chance that it is reached.

    Probabilities may sum to less than 1; the rest is a fault that no action finds, and costs them all.
    """
    expected, left, before = 0.0, 1.0, 0.0
    for i, elapsed in zip(order, finding_times(actions, order, opening_min=opening_min), strict=True):
        expected += (elapsed - before) * max(left, 0.0)
        left -= actions[i].probability
        before = elapsed
    return expected


def order_checks(checks: Sequence[Check], *, opening_min: float) -> Order:
    """Return the checks in the order with the least expected minutes, opening paid before the first inside.

    checks: probabilities must not sum to more than 1 (a little rounding is forgiven).
    opening_min: minutes to open the set, paid once, not negative.
    Ties: the likelier cause, then the order given. Raises: ValueError.
    """
    if not 0.0 <= opening_min < math.inf:
        raise ValueError(f"opening time {opening_min}; minutes from 0 are needed")
    total = sum(check.probability for check in checks)
    if total > 1.0 + 1e-6:
        raise ValueError(f"probabilities sum to {total}; at most 1 can be shared out")
    actions = [
        Action(probability=check.probability, minutes=check.minutes, cluster=0 if check.inside else None)
        for check in checks
    ]
    opening = (opening_min,)
    order = best_order(actions, opening_min=opening)
    naive = sorted(range(len(checks)), key=lambda i: -checks[i].probability)
    opened = np.logical_or.accumulate([checks[i].inside for i in order]).tolist() if order else []
    return Order(
        checks=tuple(checks[i] for i in order),
        places=tuple(order),
        expected_minutes=expected_cost(actions, order, opening_min=opening),
        naive_minutes=expected_cost(actions, naive, opening_min=opening),
        finding_min=tuple(finding_times(actions, order, opening_min=opening)),
        opened=tuple(opened),
        opening_min=opening_min,
    )


@dataclass(frozen=True, kw_only=True)
class CheckTimes:
    """Minutes to reckon with for the check of each cause; assumed where none is recorded."""

    minutes: FloatArray
    assumed: BoolArray


def check_times(
    minutes: FloatArray,
    *,
    causes: IntArray,
    boards: IntArray,
    n_causes: int,
) -> CheckTimes:
    """Return what each cause's check takes: recorded, else its board's median, the notebook's, or 10 min.

    minutes: (n,) recorded check times, nan where absent. causes: (n,) codes within [0, n_causes).
    boards: (n,) codes, negative where no board is named. A cause's board is its most frequent one (ties: the
    smaller code); a cause with several recorded times takes their median.
    Returns: arrays (n_causes,).
    """
    own = group_medians(minutes, causes, n_causes)
    n_boards = int(boards.max(initial=-1)) + 1
    by_board = np.append(group_medians(minutes, boards, n_boards), np.nan)
    usual_board = np.full(n_causes, -1)
    named = (boards >= 0) & (causes >= 0)
    pairs, counts = np.unique(causes[named] * np.int64(max(n_boards, 1)) + boards[named], return_counts=True)
    rarest_first = np.lexsort((-pairs, counts))
    # Later assignments win, so the most frequent board (and among equals the smallest code) stays.
    pair_causes, pair_boards = np.divmod(pairs[rarest_first], max(n_boards, 1))
    usual_board[pair_causes] = pair_boards
    recorded = minutes[~np.isnan(minutes)]
    fallback = float(np.median(recorded)) if recorded.size else DEFAULT_CHECK_MIN
    assumed_minutes = np.where(np.isnan(by_board[usual_board]), fallback, by_board[usual_board])
    assumed = np.isnan(own)
    return CheckTimes(minutes=np.where(assumed, assumed_minutes, own), assumed=assumed)
