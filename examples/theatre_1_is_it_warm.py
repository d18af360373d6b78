"""The theatre, 1: power has just been switched on, and nothing may be trimmed yet.

All of it is invented. Run as ``python examples/theatre_1_is_it_warm.py [folder for the chart]``.
"""

import sys
from pathlib import Path

from pitchwright.bench.practice_rig import RigBench
from pitchwright.bench.runner import run
from pitchwright.pictures.warmup_chart import warmup_svg
from pitchwright.practice import theatre_rig
from pitchwright.procedures import WatchSettings, warmup_watch
from pitchwright.procedures.events import Event
from pitchwright.procedures.outcomes import ForecastMade
from pitchwright.stability import allan_deviation, forecast


def told(event: Event) -> None:
    """Print Heron's forecast every five minutes."""
    made = event.what
    if isinstance(made, ForecastMade) and made.oscillator == "Heron":
        minutes = round(made.watched_s / 60.0)
        if minutes % 5 == 0:
            print(f"After {minutes} minutes: {made.sentence}")


def main(folder: Path | None = None) -> None:
    """Watch both at middle C until they are warm, and draw Heron as it stood after 8 minutes."""
    settings = WatchSettings(("Heron", "Plover"))
    watched = run(
        warmup_watch(settings),
        RigBench(theatre_rig(on_for_s=0.0)),
        [told],
        name="warm-up watch",
        settings=settings,
    )
    for last in watched.forecasts:
        print(f"{last.oscillator}: {last.sentence} {last.why}")
    if folder is None:
        return
    history = watched.history
    early = history.t_s <= 8.0 * 60.0
    t_s, cents = history.t_s[early], history.traces[0].cents[early]
    assert history.temperature_c is not None
    found = forecast(t_s, cents, history.temperature_c[early])
    chart = warmup_svg(
        "Heron",
        t_s,
        cents,
        found,
        temperature_c=history.temperature_c[early],
        steadiness=allan_deviation(t_s, cents - found.curve(t_s)[0]),
        invented=True,
    )
    (folder / "warm-up.svg").write_text(chart, encoding="utf-8")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else None)
