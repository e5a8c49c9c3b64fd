"""What a terminal says of a study's file and of commands, in the words of the page."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from sensitivity.presentation.blocks import Block, Words

_INSTEAD = (
    (
        "no dimension has a range in which it can be set at assembly (adjust)",
        "no dimension has a range in which it can be set when assembled; give it on the card of "
        'one that has, under "More"',
    ),
    (
        'State the range in which it may be drawn (redraw), and "redraw" finds how far.',
        'Give the range in which it may be drawn elsewhere, and "What to draw elsewhere" finds how '
        "far.",
    ),
)
"""What is written into a file, and where the page has its field."""


def on_the_page(words: str) -> str:
    """Say what is to be given where the page has it, and leave out what stands there anyway."""
    for typed, given in _INSTEAD:
        words = words.replace(typed, given)
    said, command, _ = words.partition('; "spiritlevel run')
    return f"{said}." if command else words


def blocks_on_the_page(blocks: Sequence[Block]) -> Iterator[Block]:
    """Give blocks with their words as the page has them."""
    for block in blocks:
        yield block._replace(text=on_the_page(block.text)) if isinstance(block, Words) else block
