r"""What is in a text and not to be seen: shown, not sent, wherever a text goes.

A control character can rewrite a terminal or break an SVG file; one that turns the direction of
writing makes a line read other than it is. Both are written as TOML and JSON write them
(``\u202e``), so a study that is copied out of a report still means the same. Text that a
spreadsheet would run as a formula is marked as text.
"""

from __future__ import annotations

import json
import re

_UNSEEN = re.compile(
    "["
    "\x00-\x08\x0b-\x1f\x7f-\x9f"  # control characters but tab and line feed
    "\u061c\u180e\u200b\u200e\u200f\u2028-\u202e\u2060-\u206f\ufeff\ufff9-\ufffb"  # direction, none
    "\ud800-\udfff\ufdd0-\ufdef\ufffe\uffff"  # halves of characters, and what is no character
    "\U000e0000-\U000e007f"
    "]"
)

_RUNS_IN_A_SPREADSHEET = re.compile("\\s*[=+\\-@\uff1d\uff0b\uff0d\uff20]|[\t\r\n]")


def shown(text: str) -> str:
    """Write a text with what cannot be seen in it spelt out; tabs and lines stay.

    Windows' line ends become plain ones.
    """
    return _UNSEEN.sub(_spelt, text.replace("\r\n", "\n"))


def shown_in_json(text: str) -> str:
    """Spell out what cannot be seen in JSON text; it still reads back as the same values."""
    return _UNSEEN.sub(lambda found: json.dumps(found[0])[1:-1], text)


def text_cell(value: object) -> object:
    """Write a cell of a CSV file: a text that a spreadsheet would run begins with an apostrophe.

    Anything but text, numbers above all, is returned as it is.
    """
    if not isinstance(value, str):
        return value
    return f"'{shown(value)}" if _RUNS_IN_A_SPREADSHEET.match(value) else shown(value)


def _spelt(found: re.Match[str]) -> str:
    code = ord(found[0])
    return f"\\u{code:04x}" if code < 0x10000 else f"\\U{code:08x}"
