"""What ``warmup`` finds out about each oscillator of a history."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pitchwright.errors import InputError
from pitchwright.stability import (
    BaseAndScale,
    Forecast,
    Steadiness,
    TemperatureEffect,
    allan_deviation,
    forecast,
    separate_drift,
    temperature_effect,
)
from pitchwright.stability.history import History
from pitchwright.units import cv_of_note, note_name

__all__ = ["Separated", "Watched", "judge_all", "record", "separated"]

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Watched:
    """One oscillator at one note.

    Attributes
    ----------
    oscillator, name
        The oscillator, and what to call it here: with the note where notes alternate.
    leads
        Whether it is the first of that oscillator's notes.
    note
        At which note; None where the history does not say.
    t_s, cents, temperature_c
        Its readings.
    found
        The forecast.
    steadiness
        Of what the fitted warm-up leaves; None where there are too few readings.
    """

    oscillator: str
    name: str
    leads: bool
    note: float | None
    t_s: Array
    cents: Array
    temperature_c: Array | None
    found: Forecast
    steadiness: Steadiness | None


@dataclass(frozen=True, slots=True, eq=False)
class Separated:
    """Base and scale of one oscillator, and what temperature does to each, if it was read."""

    drift: BaseAndScale
    effect: TemperatureEffect | None

    @property
    def sentences(self) -> tuple[str, ...]:
        """What moved, and what the temperature has to do with it."""
        return (self.drift.sentence, *([self.effect.sentence] if self.effect else []))


def judge_all(history: History, tolerance_cents: float, horizon_s: float) -> list[Watched]:
    """Forecast and steadiness of each oscillator, at each of its notes where they alternate."""
    watched = []
    notes = [None] if history.note is None else sorted(set(history.note.tolist()))
    for trace in history.traces:
        for place, note in enumerate(notes):
            rows = np.ones(history.t_s.size, dtype=bool)
            name = trace.name
            if note is not None and history.note is not None and len(notes) > 1:
                rows = history.note == note
                name = f"{trace.name} at {note_name(note)}"
            t_s, cents = history.t_s[rows], trace.cents[rows]
            temperature_c = None if history.temperature_c is None else history.temperature_c[rows]
            found = forecast(
                t_s, cents, temperature_c, tolerance_cents=tolerance_cents, horizon_s=horizon_s
            )
            steadiness = _steadiness(t_s, cents, found)
            watched.append(
                Watched(
                    trace.name,
                    name,
                    place == 0,
                    note,
                    t_s,
                    cents,
                    temperature_c,
                    found,
                    steadiness,
                )
            )
    return watched


def separated(history: History) -> dict[str, Separated]:
    """Base and scale told apart for each oscillator, where exactly two notes alternate."""
    if history.note is None or np.unique(history.note).size != 2:
        return {}
    cv_v = np.array([cv_of_note(note) for note in history.note.tolist()])
    found = {}
    for trace in history.traces:
        drift = separate_drift(history.t_s, trace.cents, cv_v)
        effect = None
        if history.temperature_c is not None and np.isfinite(history.temperature_c).sum() >= 8:
            effect = temperature_effect(drift, history.t_s, history.temperature_c)
        found[trace.name] = Separated(drift, effect)
    return found


def record(one: Watched) -> dict[str, object]:
    """What a program wants to know; not a number and infinite become null."""
    from pitchwright.certificate.plain_record import plain_record

    found = one.found
    figures = (
        "ready_in_s",
        "ready_in_low_s",
        "ready_in_high_s",
        "sure",
        "drift_cents",
        "wander_cents",
        "u_wander_cents",
        "rest_cents",
        "u_rest_cents",
        "cents_per_k",
        "u_cents_per_k",
        "lag_s",
        "tolerance_cents",
        "horizon_s",
        "watched_s",
    )
    entry: dict[str, object] = {
        "name": one.name,
        "readiness": found.readiness.value,
        "sentence": found.sentence,
        "why": found.why,
    }
    entry |= {figure: plain_record(getattr(found, figure)) for figure in figures}
    entry["steadiness"] = plain_record(one.steadiness)
    return entry


def _steadiness(t_s: Array, cents: Array, found: Forecast) -> Steadiness | None:
    """Allan deviation of what the warm-up leaves: its own slope is not unsteadiness."""
    fitted, _, _ = found.curve(t_s)
    left = cents - fitted if np.isfinite(fitted).all() else cents
    try:
        return allan_deviation(t_s, left)
    except InputError:
        # Too few readings in a row for it; the forecast stands without.
        return None
