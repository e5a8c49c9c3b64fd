"""Where in a TOML text each key stands; the standard parser does not say.

The text is walked once, in a time that grows with its length alone, and before the parser sees
it: what no study needs (thousands of keys, keys of hundreds of parts) is refused here, for the
parser's own time grows with the square of such things. Where the text is no TOML the walk ends,
and the parser says what is wrong.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

Path = tuple[str | int, ...]

MOST_KEYS = 3000
MOST_PARTS = 8
MOST_NESTED = 16
LONGEST_NUMBER = 1000

# Possessive throughout: nothing is tried twice.
_BLANK = re.compile(r"(?:[ \t\r\n]++|#[^\n]*+)*+")
_SPACE = re.compile(r"[ \t]*+")
_BARE = re.compile(r"[A-Za-z0-9_-]++")
_DOT = re.compile(r"[ \t]*+\.[ \t]*+")
_EQUALS = re.compile(r"[ \t]*+=[ \t]*+")
_CLOSE = re.compile(r"[ \t]*+\]{1,2}")
_STRING = re.compile(
    r'"""(?:[^"\\]|\\.|"(?!""))*+"{3,5}'
    r"|'''(?:[^']|'(?!''))*+'{3,5}"
    r'|"(?:[^"\\\n]|\\.)*+"'
    r"|'[^'\n]*+'",
    re.DOTALL,
)
_SCALAR = re.compile(r"[^\s#\"'\[\]{},=]++")
_REST = re.compile(r"[^\n#]*+")
# Nine lines in ten: a bare key, and a text or a number short enough, to the end of the line.
_PLAINLY = re.compile(
    r"([A-Za-z0-9_-]++)[ \t]*+=[ \t]*+"
    r'(?:"[^"\\\n]*+"|[+-]?[0-9.]{1,40}+|true|false)[ \t]*+(?:#[^\n]*+)?+(?:\n|\Z)'
)


class _EndedError(Exception):
    """The text is no TOML from here on."""


class _TooMuchError(Exception):
    """More of something than a study has; said in words."""


@dataclass
class Outline:
    """The lines (from 1) of tables and keys, and what there is too much of, with its line."""

    lines: dict[Path, int] = field(default_factory=dict)
    too_much: tuple[str, int] | None = None


def outline(text: str) -> Outline:
    """Walk a TOML text for the lines of its keys; those inside inline tables too.

    Parameters
    ----------
    text : str
        Whether it is TOML or not.

    Returns
    -------
    Outline
        As far as the walk came.
    """
    walk = _Walk(text)
    found = Outline(walk.lines)
    try:
        walk.whole()
    except _EndedError:
        pass
    except _TooMuchError as problem:
        found.too_much = (str(problem), walk.line)
    return found


def key_lines(text: str) -> dict[Path, int]:
    """Map each table and key to its line, counted from 1; later tables of an array by index."""
    return outline(text).lines


def first_lines(lines: Mapping[Path, int]) -> dict[Path, int]:
    """Add the tables around: the line of a table is that of the first thing said in it.

    Parameters
    ----------
    lines : mapping of path to int
        As ``key_lines`` gives them.
    """
    first: dict[Path, int] = {}
    for path, line in lines.items():
        for length in range(1, len(path) + 1):
            part = path[:length]
            first[part] = min(line, first.get(part, line))
    return first


def line_of(first: Mapping[Path, int], path: Path) -> int | None:
    """Find the line of a key or table among ``first_lines``, or of the nearest table around it.

    Parameters
    ----------
    first : mapping of path to int
        As ``first_lines`` gives them.
    path : Path
        What is looked for.

    Returns
    -------
    int or None
        None where nothing around it is in the text.
    """
    for length in range(len(path), 0, -1):
        if (line := first.get(path[:length])) is not None:
            return line
    return None


@dataclass
class _Opened:
    """An array or an inline table that is being read."""

    closed_by: str
    path: Path
    index: int = 0


class _Walk:
    """One walk through a text: the place, its line, and what was found so far."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.place = 0
        self.line = 1
        self.lines: dict[Path, int] = {}
        self._counted = 0  # up to where newlines have been counted
        self._arrays: dict[Path, int] = {}

    def whole(self) -> None:
        """Walk statement by statement."""
        table: Path = ()
        while True:
            self._skip(_BLANK)
            if self.place >= len(self.text):
                return
            if self.text.startswith("[", self.place):
                table = self._header()
            elif plainly := _PLAINLY.match(self.text, self.place):
                self._note((*table, plainly[1]))
                self.place = plainly.end()
            else:
                self._value(self._key(table))

    def _skip(self, pattern: re.Pattern[str]) -> bool:
        """Go past what matches here; tell whether there was anything to go past."""
        match = pattern.match(self.text, self.place)
        if match is None:
            return False
        self.place = match.end()
        return True

    def _note(self, path: Path) -> None:
        self.line += self.text.count("\n", self._counted, self.place)
        self._counted = self.place
        self.lines.setdefault(path, self.line)
        if len(self.lines) > MOST_KEYS:
            raise _TooMuchError(
                f"more than {MOST_KEYS:,} keys and tables; a study is a page or two"
            )

    def _header(self) -> Path:
        double = self.text.startswith("[[", self.place)
        start = self.place
        self.place += 2 if double else 1
        self._skip(_SPACE)
        parts = tuple(self._parts())
        end, self.place = self.place, start
        path: Path = ()
        for part in parts[:-1]:
            path = (*path, part)
            if path in self._arrays:
                path = (*path, self._arrays[path])
        path = (*path, parts[-1])
        if double:
            self._arrays[path] = self._arrays.get(path, -1) + 1
            path = (*path, self._arrays[path])
        self._note(path)
        self.place = end
        if not self._skip(_CLOSE):
            raise _EndedError
        return path

    def _key(self, table: Path) -> Path:
        start = self.place
        parts = tuple(self._parts())
        end, self.place = self.place, start
        path = (*table, *parts)
        self._note(path)
        self.place = end
        if not self._skip(_EQUALS):
            raise _EndedError
        return path

    def _parts(self) -> Iterator[str]:
        for count in range(MOST_PARTS + 1):
            if count == MOST_PARTS:
                self.line += self.text.count("\n", self._counted, self.place)
                raise _TooMuchError(f"a key of more than {MOST_PARTS} parts; a study's have three")
            start = self.place
            if self._skip(_BARE):
                yield self.text[start : self.place]
            elif not self.text.startswith(('"""', "'''"), start) and self._skip(_STRING):
                yield _plain(self.text[start : self.place])
            else:
                raise _EndedError
            if not self._skip(_DOT):
                return

    def _value(self, path: Path) -> None:
        """Go past one value, noting the keys of the inline tables in it."""
        opened: list[_Opened] = []
        while True:
            self._skip(_BLANK if opened else _SPACE)
            letter = self.text[self.place : self.place + 1]
            if letter == "":
                raise _EndedError
            if letter in "[{":
                if opened and opened[-1].closed_by == "]":
                    path = (*opened[-1].path, opened[-1].index)
                opened.append(_Opened("]" if letter == "[" else "}", path))
                if len(opened) > MOST_NESTED:
                    self.line += self.text.count("\n", self._counted, self.place)
                    raise _TooMuchError(f"lists and tables nested more than {MOST_NESTED} deep")
                self.place += 1
                path = self._first_key(opened[-1])
            elif opened and letter == opened[-1].closed_by:
                opened.pop()
                self.place += 1
            elif opened and letter == ",":
                self.place += 1
                opened[-1].index += 1
                path = self._first_key(opened[-1])
            elif not self._skip(_STRING):
                self._number(_SCALAR if opened else _REST)
            if not opened:
                return

    def _number(self, pattern: re.Pattern[str]) -> None:
        """Go past a number, a date or a truth."""
        start = self.place
        if not self._skip(pattern):
            raise _EndedError
        # Python turns a hexadecimal number of any length into one that it cannot write.
        if len(self.text[start : self.place].strip()) > LONGEST_NUMBER:
            self.line += self.text.count("\n", self._counted, start)
            raise _TooMuchError(f"a number of more than {LONGEST_NUMBER:,} characters")

    def _first_key(self, table: _Opened) -> Path:
        """Read the key that follows inside an inline table; of an array there is none."""
        self._skip(_BLANK)
        if table.closed_by == "]" or self.text.startswith("}", self.place):
            return table.path
        return self._key(table.path)


def _plain(quoted: str) -> str:
    """Take the quotes off a part of a key."""
    if quoted.startswith('"') and "\\" in quoted:
        try:
            return str(tomllib.loads(f"key = {quoted}")["key"])
        except ValueError:
            raise _EndedError from None
    return quoted[1:-1]
