"""Collecting the faults of a study, each with its key and its line."""

from __future__ import annotations

from sensitivity.errors import Fault, shortened
from sensitivity.study.toml_lines import Path, key_lines, line_of


class Faults:
    """Collects faults with their lines while a study is read."""

    def __init__(self, text: str) -> None:
        self._lines = key_lines(text)
        self.found: list[Fault] = []

    def add(self, path: Path, problem: str) -> None:
        """Note one fault at a key."""
        fault = Fault(shortened(dotted(path)), shortened(problem), line_of(self._lines, path))
        self.found.append(fault)

    def under(self, path: Path, *, itself: bool = False) -> bool:
        """Tell whether a fault was found in a table, or (with ``itself``) at the key."""
        name = dotted(path)
        return any(
            fault.key.startswith(f"{name}.") or (itself and fault.key == name)
            for fault in self.found
        )


def dotted(path: Path) -> str:
    """Write a key with its tables, as TOML does."""
    return ".".join(str(part) for part in path)
