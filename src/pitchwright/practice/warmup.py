"""Warm-up: how far a circuit is still below its settled temperature."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pitchwright.errors import InternalError

__all__ = ["WarmUp"]

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class WarmUp:
    """One or more exponential approaches to the settled temperature.

    Attributes
    ----------
    rise_k
        How many kelvin each stage rises in all.
    tau_s
        Time constant in seconds of each stage, as many as ``rise_k``.
    on_for_s
        How long the power has been on at the session's start (t_s = 0); infinite: settled.
    """

    rise_k: tuple[float, ...] = ()
    tau_s: tuple[float, ...] = ()
    on_for_s: float = math.inf

    def __post_init__(self) -> None:
        if len(self.rise_k) != len(self.tau_s) or any(tau <= 0.0 for tau in self.tau_s):
            raise InternalError("A warm-up needs one positive time constant for each rise")

    def below_k(self, t_s: Array) -> Array:
        """Kelvin below the settled temperature at session times in seconds, shaped like ``t_s``."""
        below = np.zeros_like(t_s)
        if math.isinf(self.on_for_s):
            return below
        for rise, tau in zip(self.rise_k, self.tau_s, strict=True):
            below += rise * np.exp(-(t_s + self.on_for_s) / tau)
        return below
