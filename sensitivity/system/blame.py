"""What a user's own code raised or lacks, in words, with the line in its file."""

from __future__ import annotations

import ast
from collections.abc import Callable, Iterator
from functools import lru_cache
from pathlib import Path
from traceback import walk_tb
from typing import Any

from sensitivity.errors import shortened

ORIGIN_OF_A_FILE = "file:"
"""Before the path in the origin of a model from a file."""

_MANY_AT_ONCE = "; an input is many values at once: np.where(...) chooses for each, which if cannot"


def raised(error: BaseException, called: Callable[..., Any] | str) -> str:
    """Say what was raised, and at which line of the file it was called in.

    Parameters
    ----------
    error : BaseException
        As caught; also ``SystemExit`` and whatever else is no ``Exception``.
    called : callable or str
        What was called, or the file that was run.

    Returns
    -------
    str
        Such as ``ValueError: no such bore (line 12 of mine.py)``. The line is the innermost one in
        the file itself: what a library does with it says less. Where nothing of it ran, it is that
        of the function.
    """
    file = called if isinstance(called, str) else _file_of(called)
    text, lines = _text(error), _lines(error, file)
    if isinstance(error, SyntaxError) and error.filename == file and error.lineno:
        text, lines = str(error.msg), [error.lineno]
    if not lines and file and not isinstance(called, str):
        lines = [called.__code__.co_firstlineno]
    hint = _MANY_AT_ONCE if "truth value of an array" in text else ""
    return f"{type(error).__name__}: {text}{_at(file, lines[-1] if lines else 0)}{hint}"


def _lines(error: BaseException, file: str) -> list[int]:
    frames = walk_tb(error.__traceback__)
    return [line for frame, line in frames if frame.f_code.co_filename == file]


def _at(file: str, line: int) -> str:
    return f" (line {line} of {Path(file).name})" if line else ""


def _file_of(function: Callable[..., Any]) -> str:
    code = getattr(function, "__code__", None)
    return "" if code is None else str(code.co_filename)


def _text(error: BaseException) -> str:
    try:
        return shortened(str(error))
    except Exception:
        return "(its text cannot be read)"


def model_at(name: str, origin: str, function: Callable[..., Any], *inside: str) -> str:
    """Name a model and where to look: ``model "pipe" (line 12 of mine.py)`` of a user's own file.

    Parameters
    ----------
    name, origin : str
        Of the model.
    function : callable
        Its function.
    *inside : str
        The argument that is meant, or the class and the field of its result.
    """
    if not origin.startswith(ORIGIN_OF_A_FILE):
        return f'model "{name}" ({origin})'
    file = origin.removeprefix(ORIGIN_OF_A_FILE)
    first = int(getattr(getattr(function, "__code__", None), "co_firstlineno", 0))
    line = next(_places(file, first, inside), first)
    return f'model "{name}"{_at(file, line)}'


def _places(file: str, first: int, inside: tuple[str, ...]) -> Iterator[int]:
    """Lines of an argument of the function that begins at a line, or of a field of a class."""
    for node in _statements(file):
        if isinstance(node, ast.FunctionDef) and len(inside) == 1 and first in _begins(node):
            arguments = (*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs)
            yield from (each.lineno for each in arguments if each.arg == inside[0])
        if isinstance(node, ast.ClassDef) and len(inside) == 2 and node.name == inside[0]:
            for field in node.body:
                target = getattr(field, "target", None)
                if isinstance(target, ast.Name) and target.id == inside[1]:
                    yield field.lineno


def _begins(node: ast.FunctionDef) -> set[int]:
    """Lines at which Python may say that a function begins: its own, or its decorator's."""
    return {node.lineno, *(each.lineno for each in node.decorator_list)}


def defined_twice(file: str, names: set[str]) -> str:
    """Say which function of a file hides one of the same name before it; empty if none does."""
    first: dict[str, int] = {}
    for node in _statements(file):
        if isinstance(node, ast.FunctionDef) and node.name in names:
            if node.name in first:
                return (
                    f'"{node.name}" is defined at line {first[node.name]} and again at line '
                    f"{node.lineno} of {Path(file).name}; give one of them another name"
                )
            first[node.name] = node.lineno
    return ""


@lru_cache(maxsize=8)
def _statements(file: str) -> tuple[ast.stmt, ...]:
    try:
        return tuple(ast.parse(Path(file).read_bytes(), file).body)
    except (OSError, SyntaxError, ValueError):  # it has run, and is gone since
        return ()
