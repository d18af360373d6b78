"""Adds to the docs site what is found rather than listed: decisions, and one page for each room.

mkdocs calls the two functions (mkdocs.yml, hooks); a new decision or room needs no other entry.
"""

from __future__ import annotations

from pathlib import Path

from mkdocs.config.defaults import MkDocsConfig
from mkdocs.structure.files import File, Files

ROOT = Path(__file__).parents[1]


def rooms() -> list[str]:
    """Names of the rooms: the modules and packages directly under ``pitchwright``."""
    found = [
        path.stem if path.is_file() else path.name
        for path in (ROOT / "src" / "pitchwright").iterdir()
        if path.suffix == ".py" or (path / "__init__.py").is_file()
    ]
    return sorted(name for name in found if not name.startswith("_"))


def decisions() -> list[Path]:
    """The decisions' pages, in the order of their numbers."""
    return sorted((ROOT / "docs" / "decisions").glob("[0-9][0-9][0-9]-*.md"))


def on_config(config: MkDocsConfig) -> MkDocsConfig:
    """Put the rooms and the decisions at the end of the navigation."""
    nav = config.nav or []
    nav.append({"Rooms": [{room: f"rooms/{room}.md"} for room in rooms()]})
    index: list[str | dict[str, str]] = [{"What a decision is": "decisions/index.md"}]
    nav.append({"Decisions": [*index, *(f"decisions/{path.name}" for path in decisions())]})
    config.nav = nav
    return config


def on_files(files: Files, *, config: MkDocsConfig) -> Files:
    """Make a page for each room from its docstrings."""
    for room in rooms():
        text = f"# pitchwright.{room}\n\n::: pitchwright.{room}\n"
        files.append(File.generated(config, f"rooms/{room}.md", content=text))
    return files
