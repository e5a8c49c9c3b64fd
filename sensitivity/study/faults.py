"""Collecting the faults of a study, each with its key and its line."""

from __future__ import annotations

from collections.abc import Mapping

from sensitivity.errors import Asked, Fault, shortened
from sensitivity.study.toml_lines import Path, first_lines, line_of


class Faults:
    """Collects faults while a study is read, with the lines of its keys where it has a text."""

    def __init__(self, lines: Mapping[Path, int] | None = None) -> None:
        self._lines = first_lines(lines or {})
        self._at: set[Path] = set()
        self._around: set[Path] = set()
        self.found: list[Fault] = []

    def ask(self, path: Path, asked: Asked) -> None:
        """Note at a key that its quantity is still to be given."""
        self.add(path, f"is still to be given, like {asked.example}: {asked.meaning}", asked)

    def add(self, path: Path, problem: str, asked: Asked | None = None) -> None:
        """Note one fault at a key."""
        line = line_of(self._lines, path)
        fault = Fault(shortened(dotted(path)), shortened(problem), line, asked)
        self.found.append(fault)
        self._at.add(path)
        self._around.update(path[:length] for length in range(1, len(path)))

    def under(self, path: Path, *, itself: bool = False) -> bool:
        """Tell whether a fault was found in a table, or (with ``itself``) at the key."""
        return path in self._around or (itself and path in self._at)


def dotted(path: Path) -> str:
    """Write a key with its tables, as TOML does."""
    return ".".join(str(part) for part in path)
