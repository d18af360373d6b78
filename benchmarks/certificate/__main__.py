"""From a ten-year logbook to paper: certificate, labels, history chart, and the whole command.

Run ``python -m benchmarks.certificate``; it writes ``RESULTS.md`` beside this file. A smaller or a
larger history: ``--readings N``.
"""

from __future__ import annotations

import argparse
import platform
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from benchmarks.logbook.__main__ import OSCILLATORS, YEARS, write_history

from pitchwright.certificate.certificate import certificate_pdf
from pitchwright.certificate.label import labels_pdf
from pitchwright.logbook.exchange import import_lines
from pitchwright.logbook.store import Logbook
from pitchwright.upkeep.certifying import certificate_of, certificates_of_all, history_chart

BAR_S = 2.0
RESULTS = Path(__file__).parent / "RESULTS.md"


def main() -> None:
    """Measure, print and write the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--readings", type=int, default=200_000)
    readings = parser.parse_args().readings
    with tempfile.TemporaryDirectory() as folder:
        rows = measure(Path(folder), readings)
    lines = [
        "# How long a certificate takes",
        "",
        f"A synthetic history: {OSCILLATORS} oscillators, {YEARS} years, {readings:,} readings; "
        f"Python {platform.python_version()}, SQLite, {platform.machine()}; CPU time, median of 5. "
        "The bar is the certificate's; the other lines stand for comparison. Made by `python -m "
        "benchmarks.certificate`.",
        "",
        "| what | bar | measured | |",
        "| --- | --- | --- | --- |",
        *rows,
        "",
    ]
    print("\n".join(lines))
    RESULTS.write_text("\n".join(lines), encoding="utf-8")


def measure(folder: Path, readings: int) -> list[str]:
    """The rows of the table."""
    lines, path = folder / "made.jsonl", folder / "logbook.sqlite"
    write_history(lines, readings)
    with Logbook(str(path), bench="loft") as book:
        import_lines(book, lines)
    with Logbook(str(path), bench="loft") as book:
        everyone = certificates_of_all(book)
        made = [
            row(
                "a certificate: gather, work out, typeset",
                lambda: certificate_pdf(certificate_of(book, "Oscillator 17")),
                barred=True,
            ),
            row("gather those of all oscillators", lambda: certificates_of_all(book)),
            row("their labels on sheets", lambda: labels_pdf(everyone, sheet="a4")),
            row("draw a history of ten years", lambda: history_chart(book, "Oscillator 17")),
        ]
    start = [sys.executable, "-c", "import pitchwright.upkeep.certifying, typst"]
    whole = [sys.executable, "-c", "from pitchwright.cli import main; main()"]
    whole += ["certificate", "Oscillator 17", "--logbook", str(path)]
    whole += ["--out", str(folder / "made.pdf")]
    for what, command in (
        ("starting Python and loading the libraries", start),
        ("the whole command, that included", whole),
    ):
        made.append(words(what, statistics.median(of_child(command) for _ in range(5))))
    return made


def row(what: str, work: Callable[[], object], *, barred: bool = False) -> str:
    """A line of the table for work done in this process."""
    spent = []
    for _ in range(5):
        begun = time.process_time()
        work()
        spent.append(time.process_time() - begun)
    return words(what, statistics.median(spent), barred=barred)


def of_child(command: list[str]) -> float:
    """CPU seconds that a command takes."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(command, check=True, capture_output=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime - before.ru_utime + after.ru_stime - before.ru_stime


def words(what: str, spent_s: float, *, barred: bool = False) -> str:
    """One line of the table."""
    bar = f"< {BAR_S * 1000:g} ms" if barred else ""
    verdict = ("met" if spent_s < BAR_S else "missed") if barred else ""
    return f"| {what} | {bar} | {spent_s * 1000:.0f} ms | {verdict} |"


if __name__ == "__main__":
    main()
