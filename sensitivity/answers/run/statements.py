"""Margins in the words that an engineer would sign: numbers cut to what is known of them."""

from __future__ import annotations

from math import ceil, floor, isfinite, log10

from sensitivity.engine.intervals import Proportion
from sensitivity.engine.result import Output
from sensitivity.presentation import wording
from sensitivity.presentation.units_said import Manner, Said


def failing(share: Proportion) -> str:
    """Write the probability of failing as a percentage with its interval, never a bare 0 %."""
    if share.failures == 0:
        return f"below {_rounded_up(100 * (1.0 - share.low))} % (none of {share.rows:,} failed)"
    if share.passes == 0:
        lowest = 100 * (1.0 - share.high)
        return f"above {floor(lowest * 1000) / 1000:g} % (all of {share.rows:,} failed)"
    other = Proportion(
        1.0 - share.value,
        1.0 - share.high,
        1.0 - share.low,
        share.method,
        share.failures,
        share.rows,
    )
    return wording.percent(other, digits=2).removesuffix(" *")


def _rounded_up(value: float) -> str:
    """Write a bound with two digits, never below it."""
    decimals = max(1 - floor(log10(value)), 0)
    step = 10.0**-decimals
    return wording.number(ceil(value / step - 1e-9) * step, decimals)


def where_it_fails(output: Output, said: Said) -> str:
    """Say which values break the limit of a result: ``below 1/64 in``."""
    limit, manner = output.limit, said.of(output.name)
    assert limit is not None
    if limit.at_least is not None and limit.at_most is not None:
        return f"outside {manner.pair(limit.at_least, limit.at_most)}"
    if limit.at_least is not None:
        return f"below {manner.text(limit.at_least)}"
    assert limit.at_most is not None
    return f"above {manner.text(limit.at_most)}"


def margin_statement(output: Output, many: str, said: Said) -> str:
    """State one limited result: as drawn, in most parts, at worst, and how likely it fails.

    ``many`` is what the parts are called.
    """
    assert output.limit is not None
    assert output.proportion is not None
    scale, manner = output.scale, said.of(output.name)
    low, high = output.quantiles[0.025], output.quantiles[0.975]
    nominal = (
        f"{manner.text(output.nominal, scale)} as drawn"
        if isfinite(output.nominal)
        else "no answer as drawn"
    )
    if low == high:
        middle = f"the same in all {many}"
    else:
        middle = (
            f"95 % of {many} built as stated fall between "
            f"{manner.pair(low, high, scale).replace(' to ', ' and ')}"
        )
    because = f" ({output.limit.because})" if output.limit.because else ""
    if (wanted := said.limit(output.limit)) in ("yes", "no"):
        broken = "no" if wanted == "yes" else "yes"
        return (
            f"{nominal}; worst case {_worst(output, manner)}; probability that it is "
            f"{broken}{because}: {failing(output.proportion)}."
        )
    return (
        f"{nominal}; {middle}; worst case {_worst(output, manner)}; probability of a value "
        f"{where_it_fails(output, said)}{because}: {failing(output.proportion)}."
    )


def _worst(output: Output, manner: Manner) -> str:
    """Write the end of the worst case that the limit is about."""
    assert output.limit is not None
    low, high = output.worst_case
    if output.limit.at_most is None:
        return manner.text(low, output.scale)
    if output.limit.at_least is None:
        return manner.text(high, output.scale)
    return manner.pair(low, high, output.scale)
