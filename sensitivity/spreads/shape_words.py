"""What the shapes of spreads are called in the shop, and what statistics calls them."""

from __future__ import annotations

from collections.abc import Mapping

IN_THE_SHOP: Mapping[str, str] = {
    "normal": "mostly near the middle",
    "rectangular": "anywhere within",
    "triangular": "more near the middle",
    "arcsine": "mostly near the ends",
    "trapezoidal": "anywhere within, fewer at the ends",
    "lognormal": "mostly near the middle, longer above",
    "log_uniform": "anywhere within, by ratio",
    "empirical": "as measured",
    "slipped": "as stated, or wrong by a slip",
    "learnt": "as trials taught",
}
"""How values lie, in words that need no statistics."""


def shape_in_words(shape: str) -> str:
    """Say how values of a shape lie: ``mostly near the middle``."""
    return IN_THE_SHOP.get(shape, shape.replace("_", "-"))


def statistical_name(shape: str) -> str:
    """Name a shape as statistics does: ``log-uniform``."""
    return shape.replace("_", "-")
