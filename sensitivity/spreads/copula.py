"""Rank correlation by a Gaussian copula: dependence without touching the stated spreads.

The correlation of the underlying normals is ``2 sin(pi rank / 6)``, exact for the Gaussian
copula (Pearson 1907; Kruskal 1958, JASA 53:814, both from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sensitivity.errors import shortened

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Correlation:
    """Rank correlation of two inputs, and why it is believed."""

    inputs: tuple[str, str]
    rank: float
    because: str = ""


class CorrelationError(Exception):
    """Correlations that no set of inputs can have together."""


@dataclass(frozen=True)
class Copula:
    """The correlated inputs and the lower Cholesky factor (d, d) of their normals."""

    names: tuple[str, ...]
    factor: Floats


def copula_factor(correlations: tuple[Correlation, ...]) -> Copula | None:
    """Build the copula of the stated correlations; None where there are none.

    Parameters
    ----------
    correlations : tuple of Correlation
        Each of two inputs, with their rank correlation (Spearman's), between -1 and 1.

    Returns
    -------
    Copula or None
        Its factor (d, d) of the d inputs that are named.

    Raises
    ------
    CorrelationError
        Where the matrix is not positive definite, naming it.
    """
    if not correlations:
        return None
    names = tuple(dict.fromkeys(name for item in correlations for name in item.inputs))
    place = {name: index for index, name in enumerate(names)}
    matrix = np.eye(len(names))
    for item in correlations:
        row, column = (place[name] for name in item.inputs)
        matrix[row, column] = matrix[column, row] = 2.0 * np.sin(np.pi * item.rank / 6.0)
    try:
        factor = np.asarray(np.linalg.cholesky(matrix), dtype=np.float64)
    except np.linalg.LinAlgError:
        named = shortened(", ".join(names))
        pairs = shortened(", ".join(f"{' with '.join(c.inputs)} {c.rank:g}" for c in correlations))
        smallest = float(np.linalg.eigvalsh(matrix)[0])
        raise CorrelationError(
            f"these ranks contradict each other, no inputs can have them all: {pairs} "
            f"(the correlation matrix of {named} is not positive definite, its "
            f"smallest eigenvalue is {smallest:.2g}); bring the ranks nearer to zero"
        ) from None
    return Copula(names, factor)


def correlate(copula: Copula, uniforms: dict[str, Floats]) -> dict[str, Floats]:
    """Turn the independent uniforms (n,) of the correlated inputs into dependent ones.

    Parameters
    ----------
    copula : Copula
        Of d inputs.
    uniforms : dict of name to array (n,)
        Independent, of these and any other inputs.

    Returns
    -------
    dict of name to array (n,)
        Those of the d inputs dependent, the others as they were.
    """
    from sensitivity.spreads.special_functions import ndtr, ndtri

    normals = ndtri(np.stack([uniforms[name] for name in copula.names]))
    dependent = ndtr(copula.factor @ normals)
    return {**uniforms, **dict(zip(copula.names, dependent, strict=True))}
