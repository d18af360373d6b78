"""Draw the worked example of docs/aim-and-pivot.md: curves before and after each move, and aims.

Run as ``python examples/draw_aim_and_pivot.py OUT.svg``, or without a name.
"""

import sys

import matplotlib as mpl
import numpy as np

mpl.use("svg")
import matplotlib.pyplot as plt

from pitchwright.tracking import minimax


def main(path: str) -> None:
    """Write the drawing; every number comes from the aim's own minimax fit."""
    mpl.rcParams["svg.hashsalt"] = "aim and pivot"
    mpl.rcParams["svg.fonttype"] = "none"
    cv_v = np.arange(0.0, 5.5, 0.5)
    found = 12.0 * (cv_v - 3.0)
    scale, base = minimax(np.column_stack([cv_v, np.ones_like(cv_v)]), -found).coefficients
    figure, axes = plt.subplots(figsize=(7.0, 4.2))
    axes.axhline(0.0, color="0.75", linewidth=1.0)
    axes.plot(cv_v, found, "o-", color="#0072B2", label="as found: +12 cents per octave")
    axes.plot(cv_v, found + scale * cv_v, "s--", color="#D55E00", label="after the scale move")
    axes.plot(cv_v, found + scale * cv_v + base, "^:", color="#009E73", label="after the base move")
    axes.annotate(
        f"aim at 5 V: {found[-1] + 5.0 * scale:.0f} cents".replace("-", "−"),
        xy=(5.0, found[-1] + 5.0 * scale),
        xytext=(3.1, -27.0),
        arrowprops={"arrowstyle": "->", "color": "0.3"},
    )
    axes.annotate(
        "pivot: 0 V stays",
        xy=(0.0, found[0]),
        xytext=(0.4, -22.0),
        arrowprops={"arrowstyle": "->", "color": "0.3"},
    )
    axes.set_xlabel("control voltage in volts (middle C at 3 V)")
    axes.set_ylabel("cents from the target")
    axes.legend(loc="upper left", frameon=False)
    figure.tight_layout()
    figure.savefig(path, metadata={"Date": None, "Creator": None})


if __name__ == "__main__":
    main(sys.argv[1] if len(sys.argv) > 1 else "aim-and-pivot.svg")
