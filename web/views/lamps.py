"""A blink pattern as a row of lamps: where each flash stands, for a drawing on the page."""

from dataclasses import dataclass

from kb.notes.blinks import BlinkPattern

# Drawing units, chosen by us: a pause is wider than the gap between flashes, a long flash three short ones.
SHORT, LONG, GAP, PAUSE = 9.0, 22.0, 4.0, 15.0
MOST_FLASHES = 24  # chosen by us: a longer row of lamps cannot be counted at a glance


@dataclass(frozen=True, kw_only=True)
class Flash:
    """One lamp: left edge and width in drawing units."""

    x: float
    width: float


@dataclass(frozen=True, kw_only=True)
class LampRow:
    """The lamps of one pattern and the width of the whole row in drawing units."""

    flashes: tuple[Flash, ...]
    width: float


def lamp_row(pattern: str | BlinkPattern | None) -> LampRow | None:
    """Lay out the first reading of a pattern; None for no pattern, or one too long to count at a glance."""
    if isinstance(pattern, str):
        try:
            pattern = BlinkPattern.parse(pattern)
        except ValueError:
            return None
    if pattern is None or not pattern.alternatives:
        return None
    groups = pattern.alternatives[0]
    if sum(group.count for group in groups) > MOST_FLASHES:
        return None
    flashes: list[Flash] = []
    x = 0.0
    for group in groups:
        width = LONG if group.length == "long" else SHORT
        for _ in range(group.count):
            flashes.append(Flash(x=x, width=width))
            x += width + GAP
        x += PAUSE - GAP
    return LampRow(flashes=tuple(flashes), width=max(x - PAUSE, SHORT))
