"""Margins with closed forms on two levels, as models: the tests hand this file over.

Each is named after what it is; the closed forms stand in ``test_two_levels.py``.
"""

from typing import Annotated, NamedTuple

import numpy as np

Array = np.ndarray


class Margin(NamedTuple):
    """Result of the margins."""

    margin: Annotated[Array, "", "what is left, negative at failure"]


class Halves(NamedTuple):
    """Results of `by_halves`: one of the part alone, one of the moment alone, and their sum."""

    of_part: Annotated[Array, "", "term of the part"]
    of_moment: Annotated[Array, "", "term of the moment"]
    both: Annotated[Array, "", "their sum"]


def linear_margin(
    b1: Annotated[Array, "", "first of the part"] = 0.0,
    b2: Annotated[Array, "", "second of the part"] = 0.0,
    r: Annotated[Array, "", "of the moment"] = 0.0,
    m: Annotated[Array, "", "what is not known"] = 0.0,
    d: Annotated[Array, "", "margin as drawn"] = 2.0,
    w1: Annotated[Array, "", "weight of b1"] = 1.0,
    w2: Annotated[Array, "", "weight of b2"] = 0.0,
    wr: Annotated[Array, "", "weight of r"] = 0.5,
    wm: Annotated[Array, "", "weight of m"] = 0.6,
) -> Margin:
    """d - (w1 b1 + w2 b2 + wr r + wm m)."""
    return Margin(d - (w1 * b1 + w2 * b2 + wr * r + wm * m))


def margin_of_many(
    b1: Annotated[Array, "", "first of the part"] = 0.0,
    b2: Annotated[Array, "", "second of the part"] = 0.0,
    b3: Annotated[Array, "", "third of the part"] = 0.0,
    b4: Annotated[Array, "", "fourth of the part"] = 0.0,
    r: Annotated[Array, "", "of the moment"] = 0.0,
    m1: Annotated[Array, "", "first that is not known"] = 0.0,
    m2: Annotated[Array, "", "second that is not known"] = 0.0,
    m3: Annotated[Array, "", "third that is not known"] = 0.0,
    m4: Annotated[Array, "", "fourth that is not known"] = 0.0,
    m5: Annotated[Array, "", "fifth that is not known"] = 0.0,
    m6: Annotated[Array, "", "sixth that is not known"] = 0.0,
    wm: Annotated[Array, "", "weight of what is not known"] = 0.6,
) -> Margin:
    """2 - (b + r / 2 + wm m), where b and m are sums scaled to a standard deviation of one."""
    part, doubt = 0.5 * (b1 + b2 + b3 + b4), (m1 + m2 + m3 + m4 + m5 + m6) / 6.0**0.5
    return Margin(2.0 - (part + 0.5 * r + wm * doubt))


def by_halves(
    b: Annotated[Array, "", "of the part"] = 0.0,
    r: Annotated[Array, "", "of the moment"] = 0.0,
) -> Halves:
    """b, r, and b + r / 2."""
    return Halves(b, r, b + 0.5 * r)


def one_by_one(
    b: Annotated[Array, "", "of the part"] = 0.0,
    r: Annotated[Array, "", "of the moment"] = 0.0,
) -> Margin:
    """2 - b - r / 2, with as many results as b has values: it takes no crossed arrays."""
    margin = np.empty(np.shape(b))
    margin[...] = 2.0 - b - 0.5 * r
    return Margin(margin)


def mixed_steps(
    b: Annotated[Array, "", "of the part"] = 0.0,
    g: Annotated[Array, "", "of a step", "", "per step"] = 0.0,
    h: Annotated[Array, "", "how long a step lasts", "", "per step"] = 1.0,
) -> Margin:
    """2 - b - the sum over steps of h g."""
    return Margin(2.0 - b - np.sum(h * g, axis=0))
