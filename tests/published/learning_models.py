"""Models whose posterior is known in closed form: sums of independent inputs."""

from typing import Annotated, NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Length = Annotated[Array, "mm", "one of the parts of a sum"]


class Sums(NamedTuple):
    """What three parts add up to."""

    total: Annotated[Array, "mm", "all three"]
    difference: Annotated[Array, "mm", "the first less the second"]
    pair: Annotated[Array, "mm", "the first and the third"]


def three_parts(x1: Length = 0.0, x2: Length = 0.0, x3: Length = 0.0) -> Sums:
    """Three parts of a sum."""
    return Sums(x1 + x2 + x3, x1 - x2, x1 + x3)


class Whole(NamedTuple):
    """What eight parts add up to."""

    whole: Annotated[Array, "mm", "all eight"]


def eight_parts(
    p1: Length = 0.0,
    p2: Length = 0.0,
    p3: Length = 0.0,
    p4: Length = 0.0,
    p5: Length = 0.0,
    p6: Length = 0.0,
    p7: Length = 0.0,
    p8: Length = 0.0,
) -> Whole:
    """Eight parts of a sum."""
    return Whole(p1 + p2 + p3 + p4 + p5 + p6 + p7 + p8)


class Load(NamedTuple):
    """A load of two parts, and what is left of the strength."""

    spare: Annotated[Array, "mm", "above nothing where it holds"]


def weighted_load(x1: Length = 0.0, x2: Length = 0.0) -> Load:
    """A load 0.8 x1 + 0.6 x2 on a strength of 1.5."""
    return Load(1.5 - 0.8 * x1 - 0.6 * x2)


class Corner(NamedTuple):
    """What is left of a square's corner."""

    room: Annotated[Array, "mm", "1.5 less the sum"]


def corner(x1: Length = 0.0, x2: Length = 0.0) -> Corner:
    """A sum of two on a limit of 1.5."""
    return Corner(1.5 - x1 - x2)


class Gauged(NamedTuple):
    """What a gauge finds on a burner."""

    height: Annotated[Array, "mm", "what the physics and the burner's own add up to"]


def gauged(m: Length = 0.0, own: Length = 0.0) -> Gauged:
    """What all burners have in common, and what each has of its own."""
    return Gauged(m + own)


class Bowl(NamedTuple):
    """A height that either sign gives."""

    depth: Annotated[Array, "mm", "a square and a part"]


def bowl(x1: Length = 0.0, x2: Length = 0.0) -> Bowl:
    """A square, so that no part answers for a reading alone."""
    return Bowl(x1**2 + 0.0 * x2)
