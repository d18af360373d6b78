"""Draw the worked example of docs/aim-and-pivot.md: curves before and after each move, and aims.

Run as ``python examples/draw_aim_and_pivot.py OUT.svg``, or without a name.
"""

import sys
from pathlib import Path

import numpy as np

from pitchwright.pictures.aim_chart import aim_svg
from pitchwright.tracking import minimax


def main(path: str) -> None:
    """Write the drawing; every number comes from the aim's own minimax fit."""
    cv_v = np.arange(0.0, 5.5, 0.5)
    found = 12.0 * (cv_v - 3.0)
    scale, base = minimax(np.column_stack([cv_v, np.ones_like(cv_v)]), -found).coefficients
    svg = aim_svg(
        cv_v.tolist(),
        found.tolist(),
        (found + scale * cv_v).tolist(),
        (found + scale * cv_v + base).tolist(),
    )
    Path(path).write_text(svg, encoding="utf-8")


if __name__ == "__main__":
    main(sys.argv[1] if len(sys.argv) > 1 else "aim-and-pivot.svg")
