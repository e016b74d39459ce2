"""How time and memory grow with the notes: a table with exponents, and a small picture."""

from collections.abc import Mapping

import numpy as np

# Processor times: a busy machine stretches the others.
GROWING = (
    "index_cpu_s", "start_cpu_s", "again_cpu_ms", "rank_cpu_ms", "save_cpu_ms", "index_peak_mb", "resident_mb"
)  # fmt: skip
_WIDTH, _HEIGHT, _EDGE = 640, 400, 60
_COLOURS = ("#1b6", "#16b", "#b61", "#b16", "#61b", "#666", "#a90", "#099")


def exponent(notes: list[int], values: list[float]) -> float:
    """Return b of the power law a * notes ** b, by least squares of logarithms; 1 is linear."""
    return float(np.polyfit(np.log(notes), np.log(np.maximum(values, 1e-6)), 1)[0])


def growth_table(grown: Mapping[int, Mapping[str, float]]) -> str:
    """Return a table of what is measured at each size, and its exponent."""
    sizes = list(grown)
    lines = ["", f"{'growth':16}" + "".join(f"{size:>12,}" for size in sizes) + f"{'exponent':>10}"]
    for name in GROWING:
        values = [grown[size][name] for size in sizes]
        figures = "".join(f"{value:>12.3g}" for value in values)
        lines.append(f"{name:16}{figures}{exponent(sizes, values):>10.2f}")
    return "\n".join(lines)


def growth_picture(grown: Mapping[int, Mapping[str, float]]) -> str:
    """Return an SVG with a line for each figure, as a multiple of its smallest size, on logarithmic axes."""
    sizes = np.log10(list(grown))
    shares = {name: np.log10([grown[size][name] for size in grown]) for name in GROWING}
    shares = {name: values - values[0] for name, values in shares.items()}
    low, high = min(map(np.min, shares.values())), max(map(np.max, shares.values())) or 1.0
    across = _EDGE + (sizes - sizes[0]) / (sizes[-1] - sizes[0]) * (_WIDTH - 4 * _EDGE)
    parts = [f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDTH} {_HEIGHT}" font-size="11">']
    for place, (name, values) in enumerate(shares.items()):
        down = _HEIGHT - _EDGE - (values - low) / (high - low or 1.0) * (_HEIGHT - 2 * _EDGE)
        points = " ".join(f"{x:.1f},{y:.1f}" for x, y in zip(across, down, strict=True))
        colour = _COLOURS[place]
        label = f"{name}: {10 ** values[-1]:.3g} times"
        parts.append(f'<polyline points="{points}" fill="none" stroke="{colour}" stroke-width="2"/>')
        parts.append(
            f'<text x="{_WIDTH - 3 * _EDGE + 8}" y="{_EDGE + 18 * place}" fill="{colour}">{label}</text>'
        )
    for x, size in zip(across, grown, strict=True):
        parts.append(
            f'<text x="{x:.1f}" y="{_HEIGHT - _EDGE / 2}" text-anchor="middle">{size:,} notes</text>'
        )
    return "\n".join([*parts, "</svg>", ""])
