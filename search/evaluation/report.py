"""Say in a terminal what was measured: a short table and a reliability plot."""

from collections.abc import Sequence

from search.evaluation.metrics import ReliabilityBin

_COLUMNS, _ROWS = 41, 11  # of the plot, one place for every 2.5 % across and 10 % up
_CLAIMED, _SEEN = "·", "●"


def measures_table(*rows: tuple[str, str, str]) -> str:
    """Return aligned lines of name, value and what it means."""
    names, values = (max(len(row[column]) for row in rows) for column in (0, 1))
    return "\n".join(f"{name:<{names}}  {value:>{values}}  {says}".rstrip() for name, value, says in rows)


def per_cent(share: float) -> str:
    """Return a share as whole per cent, a dash for nan."""
    return "-" if share != share else f"{100 * share:.0f} %"


def reliability_plot(table: Sequence[ReliabilityBin]) -> str:
    """Draw what came true (up) over what was claimed (across); dots mark where they are equal.

    A mark below the dots: answers were surer than they should be. One mark a bin.
    """
    grid = [[" "] * _COLUMNS for _ in range(_ROWS)]
    for row in range(_ROWS):
        grid[row][round(row * (_COLUMNS - 1) / (_ROWS - 1))] = _CLAIMED
    for each in table:
        grid[round(each.observed * (_ROWS - 1))][round(each.mean_predicted * (_COLUMNS - 1))] = _SEEN
    labels = [f"{row * 10:>4} %" if row % 5 == 0 else " " * 6 for row in range(_ROWS)]
    rows = [f"{label} |{''.join(marks)}".rstrip() for label, marks in zip(labels, grid, strict=True)]
    axis = [" " * 7 + "+" + "-" * _COLUMNS, " " * 8 + "0 %" + "50 %".center(_COLUMNS - 8) + "100 %  claimed"]
    return "\n".join(["came true", *reversed(rows), *axis])


def reliability_lines(table: Sequence[ReliabilityBin]) -> str:
    """Return one line a bin: what was claimed, what came true, of how many cases."""
    lines = ["claimed       on average   came true   cases"]
    for each in table:
        span = f"{100 * each.low:.0f}-{100 * each.high:.0f} %"
        claimed, seen = per_cent(each.mean_predicted), per_cent(each.observed)
        lines.append(f"{span:<12}  {claimed:>10}   {seen:>9}   {each.count:>5}")
    return "\n".join(lines)
