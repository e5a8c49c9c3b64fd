"""The answer of ``measure``: in which order to measure, with what, and what it buys."""

from sensitivity.answers.measure.answer import measure

__all__ = ["measure"]
