"""The answer of ``tighten``: what closer tolerances buy, and the cheapest set for a target."""

from sensitivity.answers.tighten.answer import tighten

__all__ = ["tighten"]
