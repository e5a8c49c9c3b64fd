"""What earlier trials taught about the inputs of kind model: a file beside the study.

The file holds the mean and the covariance of the doubts' normal scores, jointly; the stated spreads
that these scores belong to; and the trials that were heard, so that none is heard twice. A score
is 0 at the median of what is stated and 1 where 0.84 lies below. A study that takes the file has
its doubts as the trials left them, in all its answers.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import isfinite
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sensitivity.quantities.text_files import UnreadableError, as_text, inside, read_regular
from sensitivity.spreads.copula import Correlation
from sensitivity.spreads.derived import TABLE, learnt
from sensitivity.spreads.spread import Spread
from sensitivity.study.caps import LONGEST_TITLE, MOST_INPUTS
from sensitivity.study.faults import Faults
from sensitivity.study.form import echo
from sensitivity.study.study import Input

Floats = NDArray[np.float64]

FORM = 1
"""The number of the file's form, which changes with it."""
LARGEST_DOUBTS = 1 << 20  # bytes
MOST_TRIALS_KEPT = 10_000
KEYS = ("doubts", "trials", "names", "stated", "mean", "covariance", "quantiles", "effective_rows")
TOGETHER = "learnt_together"
"""Group of doubts that trials have tied to each other."""
NARROWEST = 1e-3
"""Smallest standard deviation of a score that is believed."""
SPREAD_KEYS = ("shape", "low", "high", "centre", "scale", "flat", "values")


@dataclass(frozen=True)
class Doubts:
    """What trials taught of the physics.

    Attributes
    ----------
    file : str
        Where it was read, as the study names it; empty where it was not.
    names : tuple of str
        Model inputs, d of them.
    stated : mapping of str to Spread
        What is stated of each, to which its scores belong.
    trials : tuple of str
        Identifiers of the trials that were heard.
    mean, covariance : array (d,), array (d, d)
        Of the normal scores.
    effective_rows : float
        Effective sample size that both rest on, the least of all trials.
    quantiles : mapping of str to tuple of float
        Of the scores that are not as a normal's of that mean and deviation: quantiles at the
        standard normal scores of ``derived.TABLE``.
    """

    file: str
    names: tuple[str, ...]
    stated: Mapping[str, Spread]
    trials: tuple[str, ...]
    mean: Floats
    covariance: Floats
    effective_rows: float
    quantiles: Mapping[str, tuple[float, ...]] = field(default_factory=dict)

    def to_json(self) -> str:
        """Write the file; numbers as they are, so that they are read back the same."""
        content = {
            "doubts": FORM,
            "trials": list(self.trials),
            "names": list(self.names),
            "stated": {name: _spread_value(self.stated[name]) for name in self.names},
            "mean": self.mean.tolist(),
            "covariance": self.covariance.tolist(),
            "quantiles": {name: list(row) for name, row in self.quantiles.items()},
            "effective_rows": self.effective_rows,
        }
        return json.dumps(content, indent=1) + "\n"


def doubts_of_study(
    content: Mapping[str, Any],
    folder: Path,
    inputs: tuple[Input, ...],
    correlations: tuple[Correlation, ...],
    faults: Faults,
) -> tuple[Doubts | None, tuple[Input, ...], tuple[Correlation, ...]]:
    """Read the file that ``doubts = "..."`` names, and put what it says in the inputs.

    Parameters
    ----------
    content : mapping
        The whole study.
    folder : Path
        The study's own, outside of which nothing is read.
    inputs, correlations : tuple of Input, tuple of Correlation
        As stated.
    faults : Faults
        Takes what is wrong: with the file, or where a spread is not the one that was stated then.

    Returns
    -------
    Doubts or None, tuple of Input, tuple of Correlation
        As stated where no file is named.
    """
    named = content.get("doubts")
    if named is None:
        return None, inputs, correlations
    if not isinstance(named, str) or not named.strip():
        faults.add(("doubts",), f'found {echo(named)}; should name a file, like "physics.json"')
        return None, inputs, correlations
    try:
        text = as_text(read_regular(inside(folder, named), LARGEST_DOUBTS))
        doubts = read_doubts(text, named)
    except (UnreadableError, DoubtsError) as error:
        faults.add(("doubts",), f"{named}: {error}")
    except OSError as error:
        reason = (error.strerror or "a fault of the machine").lower()
        faults.add(("doubts",), f"{named} cannot be read: {reason}")
    else:
        problems = misfits(doubts, inputs, correlations)
        if not problems:
            return doubts, *taught(doubts, inputs, correlations)
        for problem in problems:
            faults.add(("doubts",), f"{named}: {problem}")
    return None, inputs, correlations


class DoubtsError(ValueError):
    """A file of doubts that is none; the message says why, and nothing of what stands in it."""


def read_doubts(text: str, file: str = "") -> Doubts:
    """Read what ``Doubts.to_json`` wrote; raise DoubtsError where it is not that."""
    try:
        # Whole numbers as floats: one of 400 digits is then infinite, and refused as such.
        content = json.loads(text, parse_int=float)
    except (ValueError, RecursionError):
        raise DoubtsError("is not JSON as --save-doubts writes it") from None
    if not isinstance(content, dict) or set(content) != set(KEYS):
        raise DoubtsError(f"should have the keys {', '.join(KEYS)}, as --save-doubts writes them")
    if content["doubts"] != FORM:
        raise DoubtsError(f"is of another form; this version reads form {FORM}")
    names, trials = (
        _texts(content, "names", MOST_INPUTS),
        _texts(content, "trials", MOST_TRIALS_KEPT),
    )
    stated = content["stated"]
    if not isinstance(stated, dict) or set(stated) != set(names):
        raise DoubtsError("stated: should have the spread of each name")
    mean = _numbers(content["mean"], (len(names),), "mean")
    covariance = _numbers(content["covariance"], (len(names), len(names)), "covariance")
    if not np.allclose(covariance, covariance.T, rtol=0.0, atol=1e-9):
        raise DoubtsError("covariance: should be symmetric")
    if len(names) and float(np.linalg.eigvalsh(covariance)[0]) < NARROWEST**2 * 0.5:
        raise DoubtsError("covariance: should be positive definite")
    rows = content["effective_rows"]
    if isinstance(rows, bool) or not isinstance(rows, int | float) or not 0 < rows < 1e12:
        raise DoubtsError("effective_rows: should be a number above 0")
    return Doubts(
        file,
        names,
        {name: _read_spread(name, stated[name]) for name in names},
        trials,
        mean,
        0.5 * (covariance + covariance.T),
        float(rows),
        _read_quantiles(content["quantiles"], names),
    )


def _read_quantiles(value: Any, names: tuple[str, ...]) -> dict[str, tuple[float, ...]]:
    if not isinstance(value, dict) or not set(value) <= set(names):
        raise DoubtsError("quantiles: should be of some of the names")
    found = {}
    for name, row in value.items():
        numbers = _numbers(row, (TABLE.size,), "quantiles")
        if not np.all(np.diff(numbers) > 0.0):
            raise DoubtsError("quantiles: should be in ascending order")
        found[name] = tuple(numbers.tolist())
    return found


def misfits(
    doubts: Doubts, inputs: Sequence[Input], correlations: Sequence[Correlation]
) -> list[str]:
    """Say which inputs are not stated as they were when the trials were heard.

    Doubts of models that the study does not use are no misfits.
    """
    known = {item.name: item for item in inputs}
    tied = {name for row in correlations for name in row.inputs}
    problems = []
    for name in doubts.names:
        if name not in known:
            continue
        item = known[name]
        if item.kind != "model" or item.spread is None:
            problems.append(
                f'"{name}" does not vary as a doubt here, as it did when trials taught it'
            )
        elif not _same(item.spread, doubts.stated[name]):
            problems.append(
                f'the spread of "{name}" is not the one stated when trials taught it '
                f"({doubts.stated[name].low:g} to {doubts.stated[name].high:g}); state that, or "
                "learn again"
            )
        elif name in tied:
            problems.append(f'"{name}" is correlated here; what trials taught has its own')
    return problems


def taught(
    doubts: Doubts, inputs: Sequence[Input], correlations: Sequence[Correlation]
) -> tuple[tuple[Input, ...], tuple[Correlation, ...]]:
    """Put in the inputs what trials taught of them, with what they have in common.

    Correlations that the trials' sample cannot tell from none (three standard errors) are left out.
    """
    known = {item.name for item in inputs}
    deviations = np.sqrt(np.diag(doubts.covariance))
    place = {name: index for index, name in enumerate(doubts.names)}
    count = len(doubts.trials)
    after = f"narrowed by {count} trial{'s' if count != 1 else ''}"
    found = []
    for item in inputs:
        if item.name in place and item.spread is not None:
            at = place[item.name]
            item = replace(
                item,
                spread=learnt(
                    item.spread,
                    float(doubts.mean[at]),
                    float(deviations[at]),
                    doubts.quantiles.get(item.name, ()),
                ),
                stated=f"{item.stated}, {after}" if item.stated else after,
            )
        found.append(item)
    there = [name for name in doubts.names if name in known]
    matrix = (doubts.covariance / np.outer(deviations, deviations))[
        np.ix_([place[name] for name in there], [place[name] for name in there])
    ]
    plain = np.where(np.abs(matrix) < 3.0 / np.sqrt(doubts.effective_rows), 0.0, matrix)
    if there and float(np.linalg.eigvalsh(plain)[0]) > 1e-6:
        matrix = plain
    because = f"learnt together from trials ({doubts.file})" if doubts.file else "learnt together"
    new = [
        # Pearson's correlation of the scores as Spearman's rank: the copula turns it back.
        Correlation((one, other), float(6.0 / np.pi * np.arcsin(0.5 * matrix[i, j])), because)
        for i, one in enumerate(there)
        for j, other in enumerate(there)
        if i < j and matrix[i, j] != 0.0
    ]
    return _together(found, new), (*correlations, *new)


def _together(inputs: Sequence[Input], new: Sequence[Correlation]) -> tuple[Input, ...]:
    """Give doubts that were learnt together one group, as correlated inputs are to have.

    Those that the study groups itself are left as they are.
    """
    heaps: list[set[str]] = []
    for row in new:
        joined = set(row.inputs).union(*(heap for heap in heaps if heap & set(row.inputs)))
        heaps = [heap for heap in heaps if not heap & joined] + [joined]
    grouped = {item.name for item in inputs if item.group}
    names = {
        name: TOGETHER if number == 0 else f"{TOGETHER}_{number + 1}"
        for number, heap in enumerate(heaps)
        if not heap & grouped
        for name in heap
    }
    return tuple(replace(i, group=names[i.name]) if i.name in names else i for i in inputs)


def _same(one: Spread, other: Spread) -> bool:
    if one.shape != other.shape or len(one.values) != len(other.values):
        return False
    mine = [getattr(one, key) for key in SPREAD_KEYS[1:-1]] + list(one.values)
    its = [getattr(other, key) for key in SPREAD_KEYS[1:-1]] + list(other.values)
    scale = max(abs(one.high - one.low), 1e-300)
    return bool(np.all(np.abs(np.subtract(mine, its)) <= 1e-9 * max(scale, *map(abs, mine))))


def _spread_value(spread: Spread) -> dict[str, Any]:
    found = {key: getattr(spread, key) for key in SPREAD_KEYS}
    return {**found, "values": list(spread.values)}


def _read_spread(name: str, value: Any) -> Spread:
    where = f"stated.{name[:40]}"
    if not isinstance(value, dict) or set(value) != set(SPREAD_KEYS):
        raise DoubtsError(f"{where}: should have the keys {', '.join(SPREAD_KEYS)}")
    shapes = ("normal", "rectangular", "triangular", "arcsine", "trapezoidal", "lognormal")
    if value["shape"] not in (*shapes, "log_uniform", "empirical"):
        raise DoubtsError(f"{where}: no such shape")
    figures = _numbers([value[key] for key in SPREAD_KEYS[1:-1]], (5,), where)
    values = value["values"]
    if not isinstance(values, list) or len(values) > MOST_TRIALS_KEPT:
        raise DoubtsError(f"{where}.values: should be a list of numbers")
    low, high, centre, scale, flat = figures.tolist()
    found = _numbers(values, (len(values),), where)
    if not low < high:
        raise DoubtsError(f"{where}: low should be below high")
    return Spread(value["shape"], low, high, centre, scale, flat, tuple(found.tolist()))


def _numbers(value: Any, shape: tuple[int, ...], where: str) -> Floats:
    rows = value if len(shape) == 2 else [value]
    width = shape[-1]
    sound = isinstance(rows, list) and len(rows) == (shape[0] if len(shape) == 2 else 1)
    sound = sound and all(isinstance(row, list) and len(row) == width for row in rows)
    if not sound or not all(
        isinstance(each, int | float) and not isinstance(each, bool) and isfinite(each)
        for row in rows
        for each in row
    ):
        raise DoubtsError(f"{where}: should be numbers, {' by '.join(map(str, shape))}")
    return np.array(value, dtype=np.float64).reshape(shape)


def _texts(content: Mapping[str, Any], key: str, most: int) -> tuple[str, ...]:
    value = content[key]
    if (
        not isinstance(value, list)
        or len(value) > most
        or not all(isinstance(text, str) and len(text) <= LONGEST_TITLE for text in value)
        or len(set(value)) != len(value)
    ):
        raise DoubtsError(f"{key}: should be at most {most} texts, each once")
    return tuple(value)
