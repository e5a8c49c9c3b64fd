"""Spreads altered: moved along with their nominal, and narrowed by closer work."""

from __future__ import annotations

from dataclasses import replace

from sensitivity.spreads.derived import learnt
from sensitivity.spreads.spread import Spread


def moved(spread: Spread, distance: float) -> Spread:
    """Move a spread along by a distance, keeping its width.

    A lognormal keeps its relative width instead, since its errors are a share of its size.

    Parameters
    ----------
    spread : Spread
        Of any shape.
    distance : float
        In the input's unit.

    Raises
    ------
    ValueError
        Where a positive quantity would be moved to nothing or below.
    """
    if spread.shape == "learnt":
        return _of_another(spread, moved(_base(spread), distance))
    if spread.shape in ("lognormal", "log_uniform"):
        factor = 1.0 + distance / spread.centre
        if factor <= 0.0:
            raise ValueError("a positive quantity cannot be moved to nothing")
        return replace(
            spread,
            low=spread.low * factor,
            high=spread.high * factor,
            centre=spread.centre * factor,
        )
    return replace(
        spread,
        low=spread.low + distance,
        high=spread.high + distance,
        centre=spread.centre + distance,
        values=tuple(value + distance for value in spread.values),
        base=None if spread.base is None else moved(spread.base, distance),
    )


def narrowed(spread: Spread, factor: float, about: float) -> Spread:
    """Narrow (or widen) a spread to ``factor`` of its width about a value, such as the nominal.

    Parameters
    ----------
    spread : Spread
        Of any shape.
    factor : float
        Above 0; 1 leaves it as it is.
    about : float
        What stays where it is, in the input's unit.
    """
    if spread.shape == "learnt":
        return _of_another(spread, narrowed(_base(spread), factor, about))
    if spread.shape == "lognormal":
        ratio = (spread.high / spread.centre) ** factor
        return replace(
            spread,
            scale=spread.scale * factor,
            low=spread.centre / ratio,
            high=spread.centre * ratio,
        )
    if spread.shape == "log_uniform":
        return replace(
            spread,
            low=about * (spread.low / about) ** factor,
            high=about * (spread.high / about) ** factor,
            centre=about * (spread.centre / about) ** factor,
        )

    def drawn_in(value: float) -> float:
        return about + factor * (value - about)

    return replace(
        spread,
        low=drawn_in(spread.low),
        high=drawn_in(spread.high),
        centre=drawn_in(spread.centre),
        scale=spread.scale * factor,
        values=tuple(drawn_in(value) for value in spread.values),
        base=None if spread.base is None else narrowed(spread.base, factor, about),
    )


def _base(spread: Spread) -> Spread:
    assert spread.base is not None
    return spread.base


def _of_another(spread: Spread, base: Spread) -> Spread:
    """Make what was learnt of one spread that of another."""
    return learnt(base, spread.centre, spread.scale, spread.values)
