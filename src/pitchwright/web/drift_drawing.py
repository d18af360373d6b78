"""A warm-up drawn for a screen: how far the pitch was from where it is now, reading by reading."""

from __future__ import annotations

from collections.abc import Sequence

from pitchwright.web import texts

__all__ = ["draw_drift"]

_HEIGHT, _LEFT = 130.0, 52.0
_LEAST_HALF = 1.0


def draw_drift(points: Sequence[tuple[float, float]], width: float) -> str:
    """Draw readings (seconds, cents) in order of time as one SVG element; the last one is zero."""
    if len(points) < 2:
        return ""
    first, last = points[0][0], points[-1][0]
    zero = points[-1][1]
    off = [(t, cents - zero) for t, cents in points]
    top = max(_LEAST_HALF, max(o for _, o in off))
    bottom = min(-_LEAST_HALF, min(o for _, o in off))
    room = 0.1 * (top - bottom)
    top, bottom = top + room, bottom - room

    def x(t_s: float) -> float:
        return _LEFT + (t_s - first) / max(last - first, 1e-9) * (width - _LEFT - 10.0)

    def y(cents: float) -> float:
        return 6.0 + (top - cents) / (top - bottom) * (_HEIGHT - 34.0)

    figures = "".join(
        f'<text x="{_LEFT - 8:.0f}" y="{y(at) + 5:.1f}" text-anchor="end">{texts.cents(at)}</text>'
        for at in dict.fromkeys((0.0, max(o for _, o in off), min(o for _, o in off)))
        if at == 0.0 or abs(y(at) - y(0.0)) > 16.0
    )
    run = "L".join(f"{x(t):.1f} {y(o):.1f}" for t, o in off)
    minutes = (last - first) / 60.0
    return (
        f'<svg class="sheet" viewBox="0 0 {width:g} {_HEIGHT:g}" aria-hidden="true"'
        ' style="font-size:14px">'
        f'<path class="sheet-zero" d="M{_LEFT:g} {y(0.0):.1f}H{width:g}"/>{figures}'
        f'<path class="sheet-line" d="M{run}"/>'
        f'<circle class="sheet-dot" cx="{x(last):.1f}" cy="{y(0.0):.1f}" r="5"/>'
        f'<text x="{_LEFT:g}" y="{_HEIGHT - 6:g}">{texts.minutes_ago(minutes)}</text>'
        f'<text x="{width:g}" y="{_HEIGHT - 6:g}" text-anchor="end">'
        f"{texts.say('now')}</text></svg>"
    )
