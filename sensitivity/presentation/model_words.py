"""A model's own description as a builder reads it: no marks of the programmer's, in any width."""

from __future__ import annotations

import re
from textwrap import wrap

from sensitivity.presentation.units_said import Said
from sensitivity.spreads.shape_words import shape_in_words
from sensitivity.system.catalogue import Quantity

_ITEM = re.compile(r"(\* |[0-9]+\. )")
_SET_OUT = re.compile(r"\S {3,}\S|={4,}")
"""A block whose spaces mean something: a table, or terms that stand under each other."""

_OF_PROGRAMMING = re.compile(
    r"(?:Arguments broadcast|Per-step arguments have the step as\s+their first axis)[^.]*\.\s*"
)
_WORDS: tuple[tuple[re.Pattern[str], str], ...] = tuple(
    (re.compile(pattern), word)
    for pattern, word in (
        (r"(?:All results are|A point is) NaN(?:\s+in\s+all\s+results)?", "There is no answer"),
        (r"NaN(?:\s+in\s+all\s+results)", "NaN"),
        (r"(?P<before>^|[.]\s+)NaN", r"\g<before>No answer"),
        (r"(?<=is) NaN", " without an answer"),
        (r"NaN", "no answer"),
        (r"\bargument(s?)\b", r"input\1"),
        (r"`+", ""),
        (r"\*\*(.+?)\*\*", r"\1"),
        (r"\bmodels\.(?=[a-z])", ""),
    )
)


def in_shop_words(text: str) -> str:
    """Take out of a description what only a programmer needs, and say the rest in words."""
    text = _OF_PROGRAMMING.sub("", text)
    for pattern, word in _WORDS:
        text = pattern.sub(word, text)
    return text


def folded(text: str, width: int) -> str:
    """Fold a description to a width: paragraphs and items of lists; tables stand as they are."""
    blocks = []
    for block in text.split("\n\n"):
        if _SET_OUT.search(block):
            blocks.append("\n".join(_narrowed(line, width) for line in block.split("\n")))
            continue
        lines = []
        for part in _parts(block):
            words = " ".join(part.split())
            item = _ITEM.match(words)
            indent = " " * (len(item[1]) if item else 0)
            lines += wrap(words, width, subsequent_indent=indent, break_on_hyphens=False)
        blocks.append("\n".join(lines))
    return "\n\n".join(block for block in blocks if block)


def _narrowed(line: str, width: int) -> str:
    return line if len(line) <= width else re.sub(r"(?<=\S) {3,}", "  ", line)


def _parts(block: str) -> list[str]:
    """Split a block at the items of its list, if it is one."""
    parts: list[list[str]] = []
    for line in block.split("\n"):
        if not parts or _ITEM.match(line):
            parts.append([])
        parts[-1].append(line)
    return ["\n".join(part) for part in parts]


def range_in_words(stated: str, unit: str = "") -> str:
    """Say a physical range: ``above 0``, ``0 or more``, ``0 to 60 deg``."""
    if match := re.fullmatch(r"\s*(>=|<=|>|<)\s*(\S+)\s*", stated):
        number = match[2]
        return {
            ">": f"above {number}",
            "<": f"below {number}",
            ">=": f"{number} or more",
            "<=": f"{number} or less",
        }[match[1]]
    return (
        f"{' to '.join(part.strip() for part in stated.split('..'))} {unit}".strip()
        if stated
        else ""
    )


def _plain(value: object, said: Said, *, difference: bool) -> str:
    """Write a value of a statement, a length in the units that are said."""
    if not isinstance(value, str):
        return f"{value:g}" if isinstance(value, float) else str(value)
    number, _, unit = value.partition(" ")
    manner = said.difference_of_unit(unit) if difference else said.of_unit(unit)
    return value if manner.unit == unit else manner.rough(float(number))


_KINDS = {"model": "a doubt of the physics", "running": "a condition of running", "build": ""}


def declared_in_words(quantity: Quantity, said: Said) -> str:
    """Write what a model declares of an input: its kind, and what it honestly varies by."""
    words = [_KINDS.get(quantity.kind or "build", "")]
    for key, value in quantity.spread:
        if key == "shape":
            words.append(shape_in_words(str(value)))
            continue
        values = value if isinstance(value, tuple) else (value,)
        ends = [_plain(end, said, difference=key == "plus_minus") for end in values]
        units = [end.rpartition(" ")[2] for end in ends]
        if len(ends) == 2 and quantity.unit and units[0] == units[1]:
            ends[0] = ends[0].removesuffix(f" {units[0]}")
        before = "± " if key in ("plus_minus", "lognormal") else ""
        words.append(before + " to ".join(ends))
        words += [shape_in_words("lognormal")] if key == "lognormal" else []
    return ", ".join(word for word in words if word)
