"""Where in a TOML text each key stands; the standard parser does not say."""

from __future__ import annotations

import re

Path = tuple[str | int, ...]

LONGEST_LINE = 2000
"""Characters of a line in which a key is looked for."""

_HEADER = re.compile(r"^\s*(\[\[?)\s*(.+?)\s*\]\]?\s*(?:#.*)?$")
_KEY = re.compile(r"""^\s*((?:[A-Za-z0-9_-]+|"[^"]*"|'[^']*')(?:\s*\.\s*[^=]+?)?)\s*=""")
_PART = re.compile(r"""\s*("[^"]*"|'[^']*'|[^."'\s]+)\s*(?:\.|$)""")


def _parts(dotted: str) -> tuple[str, ...]:
    return tuple(part.strip("\"'") for part in _PART.findall(dotted))


def key_lines(text: str) -> dict[Path, int]:
    """Map each table and key to its line, counted from 1; later tables of an array by index."""
    lines: dict[Path, int] = {}
    table: Path = ()
    counts: dict[tuple[str, ...], int] = {}
    inside: str | None = None  # the quotes of a string over several lines
    for number, line in enumerate(text.split("\n"), start=1):
        if inside is not None:
            if inside in line:
                inside = None
            continue
        if len(line) > LONGEST_LINE:
            continue
        if header := _HEADER.match(line):
            parts = _parts(header.group(2))
            if header.group(1) == "[[":
                counts[parts] = counts.get(parts, -1) + 1
                table = (*parts, counts[parts])
            else:
                table = parts
            lines.setdefault(table, number)
        elif key := _KEY.match(line):
            lines.setdefault((*table, *_parts(key.group(1))), number)
            for quotes in ('"""', "'''"):
                if line.count(quotes) == 1:
                    inside = quotes
    return lines


def line_of(lines: dict[Path, int], path: Path) -> int | None:
    """Find the line of a key or table, or else of the nearest table around it."""
    for length in range(len(path), 0, -1):
        part = path[:length]
        below = [line for key, line in lines.items() if key[:length] == part]
        if below:
            return min(below)
    return None
