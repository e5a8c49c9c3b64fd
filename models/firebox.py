"""A firebox from its drawing: its laws in SI units, and its draught."""

from collections.abc import Iterable
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from models import fuel, gas, steam
from models.arrays import STANDARD_ATMOSPHERE, Array
from models.draught import GasState, air_way, drawn_air
from models.fire import Fire, Firebox, fire_at
from models.heat_exchange import parallel_rectangles
from models.ranges import AIR_TEMPERATURE, NOT_NEGATIVE, POSITIVE, SHARE, within

LEAST_AIR_RATIO = 0.1
"""Air ratio below which no answer is sought: there is no fire (judgement).

At half of it the flame could just evaporate its fuel.
"""

LAMINAR_LIMIT = 2300.0
"""Reynolds number above which the laminar laws of passage and tubes do not hold."""

ZERO_CELSIUS = 273.15
"""0 degC in K."""

SETTLED = 3e-10
"""Relative error of the air flow at which the search ends: 6e-10 of the draught at most."""

CLOSE = 1e-6
"""Relative error below which a search is for better steps: see `_step`."""

CROWDED = 0.8
"""Share of the points not yet settled below which the search goes on with these alone."""

_FIRST_SLOPE = 1.25
"""Of the excess of air, before the search has found its own.

Hotter gas from more air slows the flow, so the excess falls faster than the air rises.
"""

_ML_PER_MIN = 1e-6 / 60.0  # m3/s
_MM = 1e-3
_MM2 = 1e-6
_STEPS = 24  # of the search, at most; six to eight are used
# Gas half way down a fire of common kind: where the search starts.
_WARM = GasState(
    gap_density=gas.density(1300.0, 0.7),
    passage_density=gas.density(1200.0, 0.7),
    passage_viscosity=gas.viscosity(1200.0, 0.7),
    tube_density=gas.density(800.0, 0.7),
    tube_viscosity=gas.viscosity(800.0, 0.7),
)


def firebox(
    deflector_gap: Array,
    deflector_length: Array,
    firebox_width: Array,
    firebox_height: Array,
    tube_count: Array,
    tube_bore: Array,
    tube_length: Array,
    air_inlet_area: Array,
    bypass_area: Array,
    burn_rate: Array,
    fuel_water: Array,
    fuel_temperature: Array,
    ambient_temperature: Array,
    steam_pressure: Array,
    discharge_coefficient: Array,
    unmixedness: Array,
    deflector_emissivity: Array,
    flame_film_coefficient: Array,
    heat_transfer_factor: Array,
    gas_radiation_factor: Array,
) -> Firebox:
    """Firebox, fuel and surroundings in SI units, from the arguments of `firebox_heat`.

    NaN outside the ranges of the arguments. The firebox is as long as its deflector; all walls
    have the temperature of saturated steam.
    """
    gap, length, width = (
        _MM * within(deflector_gap, POSITIVE),
        _MM * within(deflector_length, POSITIVE),
        _MM * within(firebox_width, POSITIVE),
    )
    below = within(_MM * within(firebox_height, POSITIVE) - gap, POSITIVE)
    count = within(tube_count, POSITIVE)
    tubes_long = _MM * within(tube_length, POSITIVE)
    air_temperature = within(ambient_temperature, AIR_TEMPERATURE) + ZERO_CELSIUS
    burning = _ML_PER_MIN * within(burn_rate, POSITIVE) * fuel.density(fuel_temperature, fuel_water)
    way = air_way(
        inlet_area=_MM2 * within(air_inlet_area, POSITIVE),
        bypass_area=_MM2 * within(bypass_area, NOT_NEGATIVE),
        discharge_coefficient=within(discharge_coefficient, (1e-6, 1.0)),
        gap=gap,
        width=width,
        passage_length=length,
        tube_count=count,
        tube_bore=_MM * within(tube_bore, POSITIVE),
        tube_length=tubes_long,
        air_density=gas.density(air_temperature, 0.0),
        fuel=burning,
    )
    walls = 2.0 * (length + width) * below
    plate = length * width
    factor = within(heat_transfer_factor, POSITIVE)
    boiler = within(steam_pressure, NOT_NEGATIVE) + 1e-5 * STANDARD_ATMOSPHERE
    return Firebox(
        way=way,
        stoichiometric=fuel.stoichiometric_air(fuel_water),
        heat_of_fuel=burning * (1e6 * fuel.lower_heating_value(fuel_water)),
        air_enthalpy=gas.enthalpy(air_temperature, 0.0),
        wall=steam.saturation_temperature(boiler) + ZERO_CELSIUS,
        gap=gap,
        wall_area=walls,
        plate_area=plate,
        side_area=2.0 * gap * length,
        beam=3.6 * plate * below / (walls + 2.0 * plate),
        passage_beam=1.8 * gap * width / (gap + width),
        floor_share=parallel_rectangles(length, width, below),
        tube_count=count,
        tube_length=tubes_long,
        unmixedness=within(unmixedness, NOT_NEGATIVE),
        emissivity=within(deflector_emissivity, SHARE),
        flame_film=within(flame_film_coefficient, POSITIVE) * factor,
        film_factor=factor,
        radiation_factor=within(gas_radiation_factor, NOT_NEGATIVE),
    )


def settle(
    box: Firebox, draught: Array, start: Array | None = None, enough: float = SETTLED
) -> tuple[Array, Fire, NDArray[np.bool_]]:
    """Air (kg/s) the draught (Pa) brings in, the fire it makes, and whether they agree.

    The root of drawn_air(temperatures of the fire at m) - m, which falls as m rises, lies
    between the least air of a fire and what the inlet alone would pass. Secant steps inside a
    bracket that shrinks, its middle where a step would leave it; a point that has settled is
    not worked out again, so that no point depends on its neighbours. `start` is a first guess of
    the air, `enough` the relative error at which a point is settled.
    """
    way = box.way
    low = LEAST_AIR_RATIO * way.fuel * box.stoichiometric / way.primary_share
    high: Array = np.sqrt(draught / way.inlet)
    guess = drawn_air(way, _WARM, draught) if start is None else start
    search = _Search(np.clip(guess, low, high), low, high, (), ())
    return _settled(box, draught, search, enough, 0)


class _Search(NamedTuple):
    """How far the search for the air has come."""

    air: Array
    low: Array
    high: Array
    tried: tuple[Array, ...]  # the last airs before, at most two
    excesses: tuple[Array, ...]  # of what the fire would draw at these


def _settled(
    box: Firebox, draught: Array, search: _Search, enough: float, begun: int
) -> tuple[Array, Fire, NDArray[np.bool_]]:
    """Go on with a search from the step that it has `begun`."""
    air, low, high, tried, excesses = search
    for step in range(begun, _STEPS):
        fire = fire_at(box, air)
        excess = drawn_air(box.way, fire.gas, draught) - air
        settled = np.asarray(np.abs(excess) <= enough * air)
        low = np.where(excess > 0.0, air, low)
        high = np.where(excess < 0.0, air, high)
        going = np.asarray(~settled & np.asarray(high - low > enough * high))
        if not going.any():
            break
        tried, excesses = (*tried[-2:], air), (*excesses[-2:], excess)
        trial = _step(tried, excesses, fire.air_ratio, enough)
        trial = np.where((trial > low) & (trial < high), trial, 0.5 * (low + high))
        air = np.where(settled, air, trial)
        rows = np.flatnonzero(going)
        if step + 1 < _STEPS and rows.size < CROWDED * going.size:
            # Those that have settled need not be worked out again.
            rest = _Search(air, low, high, tried, excesses)
            box, draught, rest = _some((box, draught, rest), rows, going.shape)
            found = _settled(box, draught, rest, enough, step + 1)
            whole: tuple[Array, Fire, NDArray[np.bool_]]
            whole = _put((air, fire, settled), rows, found, going.shape)
            return whole
    return air, fire, settled


def _step(
    tried: tuple[Array, ...], excesses: tuple[Array, ...], air_ratio: Array, enough: float
) -> Array:
    """Next air to try: a secant step, or where the search is close the parabola's of three.

    The parabola is that of the air over its excess (inverse quadratic interpolation). The first
    slope of a close search is fitted to our own fires, within 0.09 (one standard deviation)
    from a third to three times the air needed; no answer hangs on it, only the number of steps.
    """
    air, excess = tried[-1], excesses[-1]
    if len(tried) == 1:
        slope: Array = _FIRST_SLOPE
        if enough < CLOSE:
            cube = air_ratio * air_ratio * air_ratio
            slope = 1.13 - 0.42 * (cube - 1.0) / (cube + 1.0)
        return air + excess / slope
    gain = (tried[-2] - air) / (excesses[-2] - excess)
    trial = air - excess * gain
    if len(tried) == 3 and enough < CLOSE:
        before = (tried[-3] - tried[-2]) / (excesses[-3] - excesses[-2])
        bend = (before - gain) / (excesses[-3] - excess)
        trial = trial + excess * excesses[-2] * np.where(np.isfinite(bend), bend, 0.0)
    return trial


def _some(value: Any, rows: NDArray[np.intp], shape: tuple[int, ...]) -> Any:
    """Of a value, or of each field, the chosen points, in a row."""
    if isinstance(value, tuple):
        return _like(value, (_some(field, rows, shape) for field in value))
    if not np.ndim(value):
        return value
    return np.broadcast_to(value, shape).reshape(-1)[rows]


def _put(whole: Any, rows: NDArray[np.intp], part: Any, shape: tuple[int, ...]) -> Any:
    """Give a copy in which the chosen points are replaced."""
    if isinstance(whole, tuple):
        fields = zip(whole, part, strict=True)
        return _like(whole, (_put(old, rows, new, shape) for old, new in fields))
    result = np.array(np.broadcast_to(whole, shape))
    result.reshape(-1)[rows] = part
    return result


def _like(values: Any, fields: Iterable[Any]) -> Any:
    """Make fields into such a value, or into a plain row of them."""
    return type(values)(*fields) if hasattr(values, "_fields") else tuple(fields)
