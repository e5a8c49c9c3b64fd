"""Numbers and names as a person at the bench reads them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import pairwise
from math import ceil, floor, isfinite, log10

from sensitivity.engine.intervals import Estimate, Proportion
from sensitivity.study.study import Input, Limit

NO_VALUE = "no answer"


def in_words(name: str) -> str:
    """Turn a name such as ``flood_margin`` or ``grade.up_the_bank`` into plain words."""
    return name.replace("_", " ").replace(".", ", ")


def instrument(name: str) -> str:
    """Turn the name of an instrument or a process into words: ``pin gauges in 0.01 mm steps``."""
    return re.sub(r"(?<=\d)_(?=\d)", ".", name).replace("_", " ")


def decimals_for(scale: float) -> int:
    """Decimals that show a scale (a standard deviation, say) with two digits."""
    if not isfinite(scale) or scale <= 0:
        return 3
    return min(max(1 - floor(log10(scale)), 0), 9)


def number(value: float, decimals: int) -> str:
    """Write a number with a true minus sign, and no minus before a zero."""
    if not isfinite(value):
        return NO_VALUE
    text = f"{value:.{decimals}f}"
    if float(text) == 0.0:
        text = text.removeprefix("-")
    return text.replace("-", "−")


def significant(value: float, digits: int = 4) -> str:
    """Write a number with a few significant digits and no needless zeros."""
    if not isfinite(value):
        return NO_VALUE
    text = f"{value:.{digits}g}"
    if "e" in text and abs(value) < 1e7 and abs(value) >= 1e-4:
        text = f"{value:.0f}"
    return text.replace("-", "−")


def with_unit(text: str, unit: str) -> str:
    """Put the unit behind a number."""
    return f"{text} {unit}".rstrip()


def value_range(low: float, high: float, unit: str, scale: float) -> str:
    """Write a range in its unit, with the digits that the scale deserves."""
    decimals = decimals_for(scale)
    if not (isfinite(low) and isfinite(high)):
        return NO_VALUE
    return with_unit(f"{number(low, decimals)} to {number(high, decimals)}", unit)


def index(estimate: Estimate, *, settled: bool = True) -> str:
    """Write an index with its interval, digits cut to the interval and ends rounded outward.

    One that is not settled, for too few rows pass or fail otherwise for it, has a bound alone.
    """
    if estimate.high < 0.0005:
        return "0"
    if not settled:
        decimals = max(1 - floor(log10(estimate.high)), 2)
        step = 10.0**-decimals
        return f"not settled, below {number(ceil(estimate.high / step - 1e-9) * step, decimals)}"
    return _with_interval(estimate.value, estimate.low, estimate.high, least=2, most=3)


def _with_interval(value: float, low: float, high: float, *, least: int, most: int) -> str:
    half = 0.5 * (high - low)
    decimals = most if half <= 0 else min(max(floor(-log10(half)), least), most)
    step = 10.0**-decimals
    return (
        f"{number(value, decimals)} "
        f"({number(floor(low / step + 1e-9) * step, decimals)} to "
        f"{number(ceil(high / step - 1e-9) * step, decimals)})"
    )


def measured(estimate: Estimate) -> str:
    """Write an estimate with three digits, and its interval where three digits show it."""
    if not isfinite(estimate.value) or estimate.value == 0:
        return number(estimate.value, 0)
    decimals = min(max(2 - floor(log10(abs(estimate.value))), 0), 9)
    value, low, high = (
        number(end, decimals) for end in (estimate.value, estimate.low, estimate.high)
    )
    return value if low == high else f"{value} ({low} to {high})"


def share_of_a_hundred(proportion: Proportion) -> str:
    """Write a probability as so many in a hundred, with its interval."""
    low, value, high = (100 * end for end in (proportion.low, proportion.value, proportion.high))
    return _with_interval(value, low, high, least=_decimals(proportion), most=6)


def _decimals(proportion: Proportion, digits: int = 1) -> int:
    """Decimals of a percentage that show what fails (or passes, if that is less), and no 100."""
    rarer = 100 * min(proportion.value, 1 - proportion.value)
    decimals = 1 if rarer <= 0 else min(max(digits - 1 - floor(log10(rarer)), 1), 6)
    high = 100 * proportion.high
    while decimals < 6 and high < 100 <= ceil(high * 10**decimals - 1e-9) / 10**decimals:
        decimals += 1
    return decimals


def percent(proportion: Proportion, digits: int = 1) -> str:
    """Write a probability as a percentage with its interval; never a bare 100 %.

    ``digits`` are those shown of what is rarer, failing or passing.
    """
    low, high = 100 * proportion.low, 100 * proportion.high
    if proportion.failures == 0:
        return f"above {lower_bound(low)} %, none failed *"
    if proportion.passes == 0:
        decimals = min(max(ceil(-log10(high)) + 1, 1), 7)
        step = 10.0**-decimals
        return f"below {number(ceil(high / step) * step, decimals)} %, none passed *"
    decimals = _decimals(proportion, digits)
    mark = "" if proportion.method == "student" else " *"
    if proportion.method == "clopper-pearson" and high > 50:
        # With a handful of failures only the lower end says anything.
        step = 10.0**-decimals
        lowest = number(floor(low / step) * step, decimals)
        return f"{number(100 * proportion.value, decimals)} % (above {lowest}){mark}"
    text = _with_interval(100 * proportion.value, low, high, least=decimals, most=6)
    return text.replace(" (", " % (", 1) + mark


def share_alone(proportion: Proportion) -> str:
    """Write a share of a hundred without its interval, with a digit of what is rarer; never 100."""
    rarer = 100 * min(proportion.value, 1.0 - proportion.value)
    decimals = min(max(-floor(log10(rarer)), 1), 6) if rarer > 0.0 else 1
    text = number(100 * proportion.value, decimals)
    return text if float(text) < 100.0 else f"above {lower_bound(100 * proportion.low)}"


def percent_in_short(proportion: Proportion) -> str:
    """Write a probability as a percentage with the digits that its interval bears.

    The interval itself stands there where it is more than two points either way.
    """
    if proportion.failures == 0:
        return f"above {lower_bound(100 * proportion.low)} %"
    value, low, high = (100 * end for end in (proportion.value, proportion.low, proportion.high))
    half = 0.5 * (high - low)
    if proportion.passes == 0:
        return percent(proportion).removesuffix(", none passed *")
    if half < 0.5 or not 5.0 <= value <= 95.0:
        return f"{share_alone(proportion)} %"
    return f"{value:.0f} %" + (f" ({floor(low)} to {ceil(high)})" if half > 2.0 else "")


def lower_bound(value: float) -> str:
    """Write the lower bound of a percentage, rounded down, with the digits that say something."""
    decimals = min(max(ceil(-log10(100 - value)) + 1, 1), 7) if value < 100 else 7
    step = 10.0**-decimals
    return number(floor(value / step) * step, decimals)


def points_of_percent(difference: Estimate) -> str:
    """Write a difference of two probabilities, in points of a percentage, with its sign."""
    value, low, high = (100 * part for part in (difference.value, difference.low, difference.high))
    text = _with_interval(value, low, high, least=1, most=6)
    more = value > 0 and float(text.partition(" (")[0]) != 0.0
    return ("+" if more else "") + text.replace(" (", " points (", 1)


def gain_of_a_hundred(difference: Estimate) -> str:
    """Write a difference of two probabilities as so many of 100, with its sign."""
    return points_of_percent(difference).replace(" points", "")


def size_of_a_hundred(difference: Estimate) -> str:
    """Write how large a difference of two probabilities is, in so many of 100, without a sign."""
    if abs(difference.value) >= 0.1:
        return number(100.0 * abs(difference.value), 0)
    return gain_of_a_hundred(difference).partition(" (")[0].lstrip("+−")


def limit(limit: Limit) -> str:
    """Write what a result must be."""
    unit = limit.unit
    if limit.at_least is not None and limit.at_most is not None:
        low, high = significant(limit.at_least), significant(limit.at_most)
        return with_unit(f"{low} to {high}", unit)
    if limit.at_least is not None:
        return with_unit(f"at least {significant(limit.at_least)}", unit)
    assert limit.at_most is not None
    return with_unit(f"at most {significant(limit.at_most)}", unit)


def drawn(item: Input) -> str:
    """Write an input's nominal as the study does."""
    return item.drawn or with_unit(significant(item.nominal), item.unit)


def out_of_a_hundred(share: float) -> str:
    """Write a share as so many in 100, or in 1000 and more where it is small."""
    base = 100
    while base < 1_000_000 and (share * base < 1 or 0 < (1 - share) * base < 0.5):
        base *= 10
    count = round(share * base)
    return f"{min(count, base - 1) if share < 1 else count} of {base}"


def of_a_hundred(share: float) -> str:
    """Write a wanted yield as so many in 100, such as ``95 of 100`` or ``99.9 of 100``."""
    return f"{100 * share:.6g} of 100"


def listed(names: Sequence[str]) -> str:
    """Write names in a row: ``a, b and c``."""
    *head, last = names
    return f"{', '.join(head)} and {last}" if head else last


def decimals_of(values: Sequence[float]) -> int:
    """Decimals that show ascending values as they are, but no more than tell them apart."""
    gap = min(high - low for low, high in pairwise(values)) * (1.0 + 1e-9)
    for decimals in range(decimals_for(gap)):
        if all(abs(value - round(value, decimals)) < 1e-9 for value in values):
            return decimals
    return decimals_for(gap)
