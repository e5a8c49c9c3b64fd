"""Scrambled Sobol' points, those of ``scipy.stats.qmc`` to the last bit, in a quarter of the time.

That module takes most of a second to import, which every command would wait for, and scrambles
column by column. The directions are those of Joe and Kuo that come with SciPy: of the first
dimensions as they stand beside this module, of more as they are worked out from SciPy's file, or
found from its own points where there is no such file.
"""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Bits = NDArray[np.uint32]

SOBOL_BITS = 30
"""SciPy's default."""

TABULATED = 20
"""Columns of directions that are kept: as many as a million points want."""

BESIDE = 128
"""Dimensions whose directions stand beside this module, as ``_from_file`` gives them: most studies
have fewer, and to unpack and work out those of all takes longer than to read a study."""


def sobol_points(
    dimensions: int,
    points: int,
    generator: np.random.Generator | None = None,
    *,
    centred: bool = False,
) -> Floats:
    """Points of a Sobol' sequence, scrambled where there is a generator to do it by.

    Parameters
    ----------
    dimensions : int
        Up to 21,201.
    points : int
        A power of two, up to 2^20; of any other number the first so many of the next power.
    generator : numpy.random.Generator, optional
        By which it is scrambled: a random linear matrix and a digital shift (Matousek 1998), which
        is not Owen's nested scrambling. No scrambling where it is not given.
    centred : bool
        Half a step of 2^-30 further, which keeps every point inside 0..1.

    Returns
    -------
    array (points, dimensions)
        In 0..1, 1 left out; a dimension's points lie together in memory.
    """
    columns = max(points - 1, 0).bit_length()
    steps = directions(dimensions, columns)
    shift = np.zeros(dimensions, dtype=np.uint32)
    if generator is not None:
        (generator,) = generator.spawn(1)  # as SciPy does, which keeps the child to itself
        shift = _by_bits(generator.integers(2, size=(dimensions, SOBOL_BITS), dtype=np.uint32))
        size = (dimensions, SOBOL_BITS, SOBOL_BITS)
        steps = _scrambled(steps, generator.integers(2, size=size, dtype=np.uint32))
    bits = SOBOL_BITS
    if centred:
        steps, shift, bits = steps << np.uint32(1), shift << np.uint32(1) | np.uint32(1), bits + 1
    whole = _in_gray_order(shift, steps)[:, :points].view(np.int32)  # below 2^31, so the same
    return np.asarray(np.ascontiguousarray(whole * 0.5**bits).T)


def _in_gray_order(first: Bits, steps: Bits) -> Bits:
    """All sums (d, 2^m) of ``first`` (d,) and of steps (d, m), bit by bit, in Gray's order."""
    count = steps.shape[1]
    found: Bits = np.empty((first.size, 1 << count), dtype=np.uint32)
    found[:, 0] = first
    for column in range(count):
        # The second half is the first run backwards with one bit more.
        half = 1 << column
        np.bitwise_xor(
            found[:, half - 1 :: -1] if half > 1 else found[:, :1],
            steps[:, column, None],
            out=found[:, half : 2 * half],
        )
    return found


def _by_bits(flags: Bits) -> Bits:
    """Numbers (d,) from their bits (d, b), the lowest first."""
    weights = np.uint32(1) << np.arange(flags.shape[1], dtype=np.uint32)
    return np.asarray((flags * weights).sum(axis=1), dtype=np.uint32)


def _scrambled(steps: Bits, matrices: Bits) -> Bits:
    """Multiply directions (d, m) by lower triangular matrices of bits (d, b, b), modulo 2."""
    places = np.arange(SOBOL_BITS - 1, -1, -1, dtype=np.uint32)
    bits = ((steps[:, :, None] >> places) & np.uint32(1)).astype(np.float32)
    lower = np.tril(matrices, -1).astype(np.float32)
    lower += np.eye(SOBOL_BITS, dtype=np.float32)
    # Sums of at most thirty ones are exact in whatever order.
    product = np.matmul(bits, lower.swapaxes(1, 2)).astype(np.uint32) & np.uint32(1)
    return np.asarray((product << places).sum(axis=2), dtype=np.uint32)


def directions(dimensions: int, columns: int) -> Bits:
    """Directions (dimensions, columns) of the sequence, as whole numbers of 2^-30."""
    if columns > TABULATED:
        return _from_points(dimensions, columns)
    wanted = 1 << max(dimensions - 1, 0).bit_length()
    return _table(max(wanted, BESIDE))[:dimensions, :columns]


@lru_cache(maxsize=4)
def _table(dimensions: int) -> Bits:
    if dimensions <= BESIDE:
        return np.asarray(
            np.load(Path(__file__).with_name("sobol_directions.npy")), dtype=np.uint32
        )
    try:
        return _from_file(dimensions)
    except (OSError, KeyError, ValueError):
        return _from_points(dimensions, TABULATED)


def _from_file(dimensions: int) -> Bits:
    """Work out the directions from Joe and Kuo's polynomials and first numbers, as SciPy does.

    Bratley and Fox 1988, ACM Trans. Math. Softw. 14:88, their recurrence.
    """
    import scipy

    path = Path(scipy.__file__).parent / "stats" / "_sobol_direction_numbers.npz"
    with np.load(path) as held:
        polynomials = held["poly"][:dimensions].astype(np.int64)
        first = held["vinit"][:dimensions].astype(np.int64)
    if polynomials.size < dimensions:
        raise ValueError(dimensions)
    found = np.ones((dimensions, TABULATED), dtype=np.int64)  # the first dimension's are all 1
    degrees = np.array([int(each).bit_length() - 1 for each in polynomials])
    for degree in np.unique(degrees[1:]):
        rows = 1 + np.flatnonzero(degrees[1:] == degree)
        known = min(int(degree), TABULATED)
        numbers = np.empty((rows.size, TABULATED), dtype=np.int64)
        numbers[:, :known] = first[rows, :known]
        for column in range(known, TABULATED):
            new = numbers[:, column - degree].copy()
            for back in range(1, degree + 1):
                has = (polynomials[rows] >> (degree - back)) & 1
                new ^= has * (numbers[:, column - back] << back)
            numbers[:, column] = new
        found[rows] = numbers
    return (found << np.arange(SOBOL_BITS - 1, SOBOL_BITS - 1 - TABULATED, -1)).astype(np.uint32)


def _from_points(dimensions: int, columns: int) -> Bits:
    """Find the directions from SciPy's points: the step into place 2^j is the j-th."""
    from scipy.stats import qmc

    points = qmc.Sobol(dimensions, scramble=False, bits=SOBOL_BITS).random(1 << columns)
    places = 1 << np.arange(columns)
    whole = (points[np.concatenate([places, places - 1])] * 2.0**SOBOL_BITS).astype(np.uint32)
    return np.asarray((whole[:columns] ^ whole[columns:]).T)
