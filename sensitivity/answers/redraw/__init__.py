"""The answer of ``redraw``: which nominals to move, by how much, alone and together."""

from sensitivity.answers.redraw.answer import redraw

__all__ = ["redraw"]
