"""What must hold of the tree itself, where no other check looks."""

from __future__ import annotations

import ast
import importlib
import importlib.metadata
import inspect
import re
import sys
import tomllib
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).parents[1]
SOURCE = ROOT / "src" / "pitchwright"
ROOMS = sorted(
    path.stem if path.is_file() else path.name
    for path in SOURCE.iterdir()
    if not path.name.startswith("_") and (path.suffix == ".py" or (path / "__init__.py").exists())
)
CORE = ("errors", "pitch", "practice", "tracking", "units")
DECISIONS = sorted((ROOT / "docs" / "decisions").glob("[0-9]*.md"))
LISTS = sorted((ROOT / "requirements").glob("*.txt"))
PINNED = re.compile(r"^([a-z0-9-]+)==(\S+?)(?: ; .*)? \\$", re.MULTILINE)


def pins(name: str) -> set[tuple[str, str]]:
    text = (ROOT / "requirements" / f"{name}.txt").read_text(encoding="utf-8")
    return set(PINNED.findall(text))


def project() -> dict[str, Any]:
    return tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))


def required_names(requirements: list[Any]) -> set[str]:
    named = (re.match(r"[A-Za-z0-9._-]+", text) for text in requirements if isinstance(text, str))
    return {re.sub(r"[._]", "-", name.group()).lower() for name in named if name}


@pytest.mark.parametrize("room", ROOMS)
def test_a_room_says_what_it_is_for_and_exports_names_that_are_there(room: str) -> None:
    module = importlib.import_module(f"pitchwright.{room}")
    assert inspect.getdoc(module), f"{room} does not say what it is for"
    exported = getattr(module, "__all__", [])
    missing = [name for name in exported if not hasattr(module, name)]
    assert not missing
    assert len(set(exported)) == len(exported)


@pytest.mark.parametrize("room", [room for room in ROOMS if (SOURCE / room).is_dir()])
def test_a_rooms_init_holds_its_purpose_and_its_exports_only(room: str) -> None:
    text = (SOURCE / room / "__init__.py").read_text(encoding="utf-8")
    statements = ast.parse(text).body[1:]
    others = [
        ast.unparse(each)
        for each in statements
        if not isinstance(each, ast.Import | ast.ImportFrom)
        and not (isinstance(each, ast.Assign) and ast.unparse(each.targets[0]) == "__all__")
    ]
    assert not others


@pytest.mark.parametrize("room", CORE)
def test_what_a_core_room_exports_is_documented(room: str) -> None:
    module = importlib.import_module(f"pitchwright.{room}")
    silent = [
        name
        for name in module.__all__
        # A class inherits getdoc from object or a base; its own docstring is what counts.
        if (inspect.isclass(thing := getattr(module, name)) or inspect.isroutine(thing))
        and not thing.__doc__
    ]
    assert not silent


@pytest.mark.parametrize("room", [room for room in ROOMS if room not in ("cli", "web")])
def test_only_the_terminal_and_the_page_speak(room: str) -> None:
    place = SOURCE / room
    files = place.rglob("*.py") if place.is_dir() else [place.with_suffix(".py")]
    speaking = [
        f"{path.relative_to(ROOT)}:{node.lineno}"
        for path in files
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Call) and ast.unparse(node.func) in ("print", "sys.exit", "input")
    ]
    assert not speaking


def test_no_file_or_folder_is_named_after_nothing() -> None:
    nothing = {"utils", "util", "helpers", "helper", "common", "misc"}
    named = [
        str(path.relative_to(ROOT))
        for top in ("src", "tests", "benchmarks", "examples", "docs", "script")
        for path in (ROOT / top).rglob("*")
        if path.stem in nothing
    ]
    assert not named


def test_test_folders_are_no_packages() -> None:
    # In importlib mode an __init__.py makes tests of the same name shadow one another.
    assert not [str(path) for path in (ROOT / "tests").rglob("__init__.py")]


def test_contributing_lists_the_rooms_there_are() -> None:
    text = (ROOT / "CONTRIBUTING.md").read_text(encoding="utf-8")
    table = text.partition("## The rooms")[2].partition("## ")[0]
    assert sorted(re.findall(r"^\| `(\w+)` \|", table, re.MULTILINE)) == ROOMS


@pytest.mark.parametrize("command", ["sh script/demo", "sh script/test"])
def test_the_readme_names_both_commands_and_they_are_there(command: str) -> None:
    assert f"\n{command} " in (ROOT / "README.md").read_text(encoding="utf-8")
    assert (ROOT / command.removeprefix("sh ")).is_file()


@pytest.mark.parametrize("page", ["README.md", "CONTRIBUTING.md", "CHANGELOG.md"])
def test_what_a_page_links_to_is_there(page: str) -> None:
    # mkdocs checks the pages under docs/; these stand outside.
    text = (ROOT / page).read_text(encoding="utf-8")
    links = [link for link in re.findall(r"\]\(([^)#]+)", text) if "://" not in link]
    assert links or page == "CHANGELOG.md"
    assert not [link for link in links if not (ROOT / link).exists()]


@pytest.mark.parametrize("path", DECISIONS, ids=lambda path: path.stem)
def test_a_decision_answers_the_four_questions(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    assert text.startswith(f"# {path.name[:3]}. ")
    headings = re.findall(r"^## (.+)$", text, re.MULTILINE)
    assert headings == ["What", "Why", "What else was weighed", "What it costs"]


def test_decisions_are_numbered_without_gap_or_double() -> None:
    numbers = [int(path.name[:3]) for path in DECISIONS]
    assert numbers == list(range(1, len(numbers) + 1))


def test_a_name_excused_from_the_dead_code_check_still_exists() -> None:
    excused = {
        node.attr if isinstance(node, ast.Attribute) else node.id
        for each in ast.parse((ROOT / "vulture_names.py").read_text(encoding="utf-8")).body
        if isinstance(each, ast.Expr) and isinstance(each.value, ast.Attribute | ast.Name)
        for node in [each.value]
    }
    source = "\n".join(path.read_text(encoding="utf-8") for path in SOURCE.rglob("*.py"))
    assert not excused - set(re.findall(r"\w+", source))


def test_published_checks_say_how_each_source_is_known() -> None:
    marks = r"\b(read|computed|from memory|common practice|not ours|independent)\b"
    mark = re.compile(marks, re.IGNORECASE)
    unmarked = [
        path.name
        for path in (ROOT / "tests" / "published").glob("test_*.py")
        if not mark.search(ast.get_docstring(ast.parse(path.read_text(encoding="utf-8"))) or "")
    ]
    assert not unmarked, (
        "say at the top whether it was read, computed, from memory, or by a program not ours"
    )


@pytest.mark.parametrize("path", LISTS, ids=lambda path: path.stem)
def test_a_locked_list_holds_pins_and_hashes_only(path: Path) -> None:
    lines = path.read_text(encoding="utf-8").splitlines()
    assert lines
    hashed = re.compile(r"    --hash=sha256:[0-9a-f]{64}( \\)?")
    strange = [line for line in lines if not PINNED.match(line) and not hashed.fullmatch(line)]
    assert not strange


def test_every_dependency_is_locked() -> None:
    metadata = project()
    groups = metadata["dependency-groups"]
    wanted = {
        "run": required_names(metadata["project"]["dependencies"]),
        "build": required_names(groups["build"]),
        "dev": required_names(metadata["project"]["dependencies"] + groups["dev"]),
        "benchmarks": required_names(groups["compare"]),
    }
    unlocked = {
        name: missing
        for name, names in wanted.items()
        if (missing := names - {pinned for pinned, _ in pins(name)})
    }
    assert not unlocked, "run script/lock"


def test_what_is_imported_is_declared() -> None:
    # The development environment holds more than a user gets, so an undeclared import works here.
    imported: set[str] = set()
    for path in SOURCE.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                imported |= {each.name.partition(".")[0] for each in node.names}
            elif isinstance(node, ast.ImportFrom) and node.level == 0:
                imported.add((node.module or "").partition(".")[0])
    foreign = imported - set(sys.stdlib_module_names) - {"pitchwright"}
    providers = importlib.metadata.packages_distributions()
    declared = required_names(project()["project"]["dependencies"])
    undeclared = {
        name for name in foreign if not required_names([*providers.get(name, []), name]) & declared
    }
    assert not undeclared


@pytest.mark.parametrize("name", ["run", "build", "benchmarks"])
def test_the_locked_lists_fit_into_one_environment(name: str) -> None:
    ours, all_of_dev = pins(name), pins("dev")
    in_dev = {pinned for pinned, _ in all_of_dev}
    clashing = {(pinned, at) for pinned, at in ours if pinned in in_dev} - all_of_dev
    assert not clashing


def test_what_a_user_s_installation_brings_is_listed_with_its_reason() -> None:
    listed = (ROOT / "requirements" / "README.md").read_text(encoding="utf-8")
    rows = re.findall(r"^\| ([a-z][a-z0-9-]*) \| (\S.*) \|$", listed, re.MULTILINE)
    named = {name for name, _ in rows if name != "package"}
    assert named == {name for name, _ in pins("run")}


@pytest.mark.parametrize(
    "tool", ["sphinx", "numpydoc", "pytest", "babel", "hatchling", "editables"]
)
def test_no_developer_s_tool_comes_with_a_user_s_installation(tool: str) -> None:
    assert tool not in {name for name, _ in pins("run")}


def test_a_survey_is_worked_out_in_one_place() -> None:
    """Whoever shows, writes down or prints one takes it from its event, circumstances and all."""
    calling = [
        path.relative_to(SOURCE).as_posix()
        for path in sorted(SOURCE.rglob("*.py"))
        if "survey_oscillator(" in path.read_text(encoding="utf-8")
    ]
    assert calling == ["procedures/surveyed.py", "tracking/survey.py"]
