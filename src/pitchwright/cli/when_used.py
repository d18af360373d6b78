"""Commands that are imported when they are used, so that the list of them appears at once."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from importlib import import_module
from typing import Any

import typer
from typer.core import TyperGroup

__all__ = ["Command", "group_of"]


@dataclass(frozen=True, slots=True)
class Command:
    """Where a command stands, and what it does.

    Attributes
    ----------
    place
        Module and name in it: ``"pitchwright.cli.read:read"``. The name is that of a function, or
        of a ``typer.Typer`` for a command with commands of its own.
    words
        What the list of commands says of it, short enough for one line of 80 columns.
    """

    place: str
    words: str

    def load(self, name: str) -> Any:
        """Import it; the command as typer runs it."""
        module, _, attribute = self.place.partition(":")
        found: typer.Typer | Callable[..., Any] = getattr(import_module(module), attribute)
        around = typer.Typer(add_completion=False, rich_markup_mode=None)
        around.callback()(_nothing)  # so that it stays a group, even with one command in it
        if isinstance(found, typer.Typer):
            around.add_typer(found, name=name)
        else:
            around.command(name)(found)
        return typer.main.get_group(around).commands[name]


def _nothing() -> None:
    pass


class _Loaded(Mapping[str, Any]):
    """Commands by name, each imported when it is looked up."""

    def __init__(self, commands: Mapping[str, Command]) -> None:
        self._commands = commands

    def __getitem__(self, name: str) -> Any:
        return self._commands[name].load(name)

    def __iter__(self) -> Iterator[str]:
        return iter(self._commands)

    def __len__(self) -> int:
        return len(self._commands)


def group_of(listed: Mapping[str, Command]) -> type[TyperGroup]:
    """The class of a group that holds these commands, in this order."""

    class Group(TyperGroup):
        def __init__(self, **given: Any) -> None:
            super().__init__(**given)
            self.commands = _Loaded(listed)  # type: ignore[assignment]

        def list_commands(self, ctx: Any) -> list[str]:
            del ctx
            return list(listed)

        def format_commands(self, ctx: Any, formatter: Any) -> None:
            del ctx
            with formatter.section("Commands"):
                formatter.write_dl([(name, command.words) for name, command in listed.items()])

    return Group
