"""One rule of conformity: nobody else compares with a tolerance or doubles an uncertainty."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

SOURCE = Path(__file__).parents[2] / "src" / "pitchwright"
HERE = {"tracking/conformity.py", "tracking/coverage.py"}

PLANNING = {
    "stability/exponentials.py": "when a foreseen curve comes inside, draw by draw",
    "trim/aim.py": "how exactly an aim must be hit, before anything is turned",
    "trim/plan.py": "which visits would bring the curve inside",
    "procedures/trimming/state.py": "which note is worth reading again",
    "procedures/guided_trim.py": "whether ideal hands could reach it",
    "procedures/conclusion.py": "what would help, where it is not in tune",
}
"""Where a tolerance is compared with what is hoped for: no verdict, and why it stands there."""

FOREIGN = {"pitch"}
"""Rooms below tracking, which know no verdict: their factors of two are of other kinds."""

OTHER = {
    ("trim/plan.py", "2.0 * lever.u_shape"),  # a margin while planning, no statement
    ("web/conductor.py", "one > tolerance_cents"),  # two tolerances, no error among them
    ("trim/acting.py", "2.0 * self.u_effect"),  # how far a hand may turn before it is warned
}


def offences(path: str, text: str) -> Iterator[str]:
    """What a file does that only ``conformity`` may."""
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Compare) and path not in PLANNING:
            sides = [node.left, *node.comparators]
            ordered = any(isinstance(op, ast.Lt | ast.LtE | ast.Gt | ast.GtE) for op in node.ops)
            named = [side for side in sides if _is_tolerance(side)]
            others = [side for side in sides if not isinstance(side, ast.Constant)]
            if ordered and named and len(others) > 1 and (path, ast.unparse(node)) not in OTHER:
                yield ast.unparse(node)
        if isinstance(node, ast.BinOp) and isinstance(node.op, ast.Mult):
            pair = (node.left, node.right)
            doubled = any(map(_is_two, pair)) and any(map(_is_uncertainty, pair))
            if doubled and (path, ast.unparse(node)) not in OTHER:
                yield ast.unparse(node)


def _last(node: ast.expr) -> str:
    if isinstance(node, ast.BoolOp):
        return _last(node.values[0])
    while isinstance(node, ast.Subscript | ast.Call):
        node = node.value if isinstance(node, ast.Subscript) else node.func
    return node.attr if isinstance(node, ast.Attribute) else getattr(node, "id", "")


def _is_tolerance(node: ast.expr) -> bool:
    return "tolerance" in _last(node).casefold()


def _is_two(node: ast.expr) -> bool:
    constant = isinstance(node, ast.Constant) and node.value in (2, 2.0)
    return constant or _last(node).strip("_") in ("COVERAGE", "K2")


def _is_uncertainty(node: ast.expr) -> bool:
    return re.fullmatch(r"u|u_\w+|sd|sigma", _last(node)) is not None


def files() -> list[str]:
    found = (path.relative_to(SOURCE).as_posix() for path in SOURCE.rglob("*.py"))
    return [f for f in sorted(found) if f not in HERE and f.split("/")[0] not in FOREIGN]


def test_nobody_else_judges() -> None:
    found = {
        f"{path}: {offence}"
        for path in files()
        for offence in offences(path, (SOURCE / path).read_text(encoding="utf-8"))
    }
    assert not found, "tracking.conformity judges, tracking.coverage.expanded_u expands"


@pytest.mark.parametrize(
    "text",
    [
        "abs(e) + 2.0 * u <= tolerance_cents",
        "worst > settings.tolerance_cents",
        "ok = inside if self.tolerance_cents >= left else None",
        "bars = [2 * one.u_cents for one in known]",
        "half = COVERAGE * u_left",
        "half = 2.0 * (row.u_scale or 0.0)",
    ],
)
def test_the_check_sees_them(text: str) -> None:
    assert list(offences("ensemble/new.py", text))


@pytest.mark.parametrize(
    "text", ["tolerance_cents > 0.0", "2.0 * width", "f(tolerance_cents)", "u <= 0.1"]
)
def test_the_check_lets_others_be(text: str) -> None:
    assert not list(offences("ensemble/new.py", text))


def test_every_excuse_is_needed() -> None:
    for path, text in OTHER:
        assert text in (SOURCE / path).read_text(encoding="utf-8")
    for path in PLANNING:
        assert "tolerance" in (SOURCE / path).read_text(encoding="utf-8")
