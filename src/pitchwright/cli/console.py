"""What is printed: sentences, small tables, progress. To the terminal only, colour never alone."""

from __future__ import annotations

import json
import sys
import textwrap
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any

from rich.cells import cell_len
from rich.console import Console
from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn
from rich.table import Table
from rich.text import Text

__all__ = [
    "ask",
    "drawing",
    "gap",
    "heading",
    "note",
    "number",
    "print_json",
    "progress",
    "sentence",
    "table",
    "warning",
    "width",
]

_out = Console(highlight=False)
_err = Console(stderr=True, highlight=False)

MINUS = "−"


def number(amount: float, digits: int, *, sign: bool = False) -> str:
    """An amount with a fixed number of digits and a real minus sign; “unknown” where not finite."""
    if amount != amount or amount in (float("inf"), float("-inf")):
        return "unknown"
    text = f"{amount:+.{digits}f}" if sign else f"{amount:.{digits}f}"
    if float(text) == 0.0:
        text = f"{0.0:.{digits}f}"
    return text.replace("-", MINUS)


def width() -> int:
    """How many characters fit beside each other."""
    return _out.width


def heading(text: str) -> None:
    """A name or title on a line of its own, a blank line before it."""
    _out.print()
    _out.print(Text(text, style="bold"))


def sentence(text: str, *, indent: int = 0) -> None:
    """A sentence for a person, wrapped to the terminal."""
    margin = " " * indent
    lines = textwrap.wrap(
        text,
        _out.width,
        initial_indent=margin,
        subsequent_indent=margin,
        break_long_words=False,
        break_on_hyphens=False,  # a file's name stays whole, to be copied
    )
    for line in lines:
        _out.print(Text(line), soft_wrap=True)


def drawing(text: str) -> None:
    """Lines that stay as they are."""
    for line in text.splitlines():
        _out.print(Text(line), soft_wrap=True)


def warning(text: str) -> None:
    """A sentence that must not get lost between the results, on stderr."""
    _err.print(Text(f"Note: {text}"))


def note(text: str) -> None:
    """A sentence about what goes on, on stderr: results on stdout stay by themselves."""
    for line in textwrap.wrap(text, _err.width, break_long_words=False, break_on_hyphens=False):
        _err.print(Text(line), soft_wrap=True)


def table(headings: Sequence[str], rows: Sequence[Sequence[str]], *, left: int = 1) -> None:
    """A small table; the first ``left`` columns are text, the others figures, right-aligned.

    Figures are never folded: what does not fit beside each other goes below, text repeated.
    """
    cells = [
        max((cell_len(row[place]) for row in rows), default=1) for place in range(len(headings))
    ]
    widths = [max(cell_len(title), cell, 1) for title, cell in zip(headings, cells, strict=True)]
    if sum(widths) + 2 * len(widths) > _out.width:
        # Headings in two lines save room, and so does text in several.
        widths = [max(_least(title), cell) for title, cell in zip(headings, cells, strict=True)]
    texts = widths[:left]
    if sum(widths) + 2 * len(widths) > _out.width:
        texts = [min(width, max(_out.width // 3, 16)) for width in texts]
    for n, places in enumerate(_beside(widths, left, _out.width - sum(texts) - 2 * left)):
        if n:
            _out.print()
        grid = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="dim")
        for place in (*range(left), *places):
            width = texts[place] if place < left else widths[place]
            grid.add_column(
                Text(headings[place]),
                justify="left" if place < left else "right",
                overflow="fold",
                width=width,
            )
        for row in rows:
            grid.add_row(*(Text(row[place]) for place in (*range(left), *places)))
        _out.print(grid)


def _least(title: str) -> int:
    """Least width in which a heading takes no more than two lines."""
    longest = max((cell_len(word) for word in title.split()), default=0)
    while longest < cell_len(title) and len(textwrap.wrap(title, longest)) > 2:
        longest += 1
    return longest


def _beside(widths: Sequence[int], left: int, room: int) -> list[list[int]]:
    """Which columns of figures go beside each other; each at least once, in order."""
    rows: list[list[int]] = [[]]
    used = 0
    for place in range(left, len(widths)):
        if rows[-1] and used + widths[place] > room:
            rows.append([])
            used = 0
        rows[-1].append(place)
        used += widths[place] + 2
    return rows


def print_json(content: Any) -> None:
    """One JSON document on stdout, for a program; not a number becomes null."""
    json.dump(content, sys.stdout, indent=2, ensure_ascii=False, allow_nan=False)
    sys.stdout.write("\n")


@contextmanager
def progress(title: str) -> Iterator[Callable[[float], None]]:
    """A bar on stderr that the given function moves (0 to 1); silent where nobody looks."""
    with Progress(
        TextColumn("{task.description}"),
        BarColumn(),
        TextColumn("{task.percentage:>3.0f} %"),
        TimeRemainingColumn(),
        console=_err,
        transient=True,
        disable=not _err.is_terminal,
    ) as bar:
        task = bar.add_task(title, total=1.0)
        yield lambda fraction: bar.update(task, completed=fraction)


def gap() -> None:
    """An empty line."""
    _out.print()


def ask(question: str) -> str:
    """What the person types on one line; EOFError where nobody is there."""
    return _out.input(Text(question)).strip()
