"""A boiler through the steps of a schedule: its heat, its water and its steam in time.

Energy and mass are what is kept; the temperature follows from them. So both balances close to
rounding whatever the size of a sub-step.
"""

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from models.arrays import STANDARD_ATMOSPHERE, Array
from models.draught import reynolds_number
from models.fire import Firebox
from models.firebox import LAMINAR_LIMIT, ZERO_CELSIUS, settle
from models.smokebox import NATURAL_DRAUGHT
from models.steam import (
    saturation_logarithm,
    saturation_temperature,
    vapour_density_at,
    vapour_enthalpy_at,
)

SPELLS = 3
"""Parts of a step; the fire is worked out at the middle of each, and once as the step begins."""

SUB_STEPS = 8
"""Sub-steps of the boiler in each of these."""

STEAMING = 100.0
"""Temperature above which boiler, cylinders and blower pass steam, degC."""

_ATMOSPHERE = 1e-5 * STANDARD_ATMOSPHERE  # bar
_OPEN = float(saturation_temperature(_ATMOSPHERE))  # degC
_ENOUGH = 5e-4  # of the air: less than that of the heat
_PER_MINUTE = 60.0


Flags = NDArray[np.bool_] | bool


class Engine(NamedTuple):
    """What holds through a run."""

    box: Firebox  # at the weighed burn rate
    weighed_burn_rate: Array  # ml/min
    stated_draught: Array  # Pa
    draught_exponent: Array
    kept: Array  # share of the fire's heat that reaches the water
    metal: Array  # J/K
    shell: Array  # W/K
    ambient: Array  # degC
    cylinder_litres: Array  # litre of steam a revolution
    blower: Array  # g/min a bar of absolute pressure, fully open
    blower_factor: Array  # Pa min/g
    exhaust_factor: Array  # Pa min/g
    feed_enthalpy: Array  # J/g
    blow_off: Array  # degC
    raised: Array  # degC, at which steam counts as raised
    least_water: Array  # g


class Step(NamedTuple):
    """The running conditions of one step."""

    duration: Array  # min
    revolutions: Array  # rpm
    blower_opening: Array
    auxiliary_draught: Array  # Pa
    feed: Array  # g/min


class Boiler(NamedTuple):
    """A boiler at one moment, and what has come and gone since the start."""

    energy: Array  # J, water and metal, above 0 degC
    water: Array  # g
    temperature: Array  # degC
    clock: Array  # min
    air: Array | None  # kg/s, where the search for the draught's air starts
    draught: Array  # Pa, at which that air was drawn
    heat: Array  # J, from the fire
    shell_loss: Array  # J
    steam: Array  # g, through cylinders and blower
    steam_heat: Array  # J, in it
    blown_off: Array  # g
    blown_off_heat: Array  # J
    fed: Array  # g
    burnt: Array  # ml
    lowest: Array  # bar, while it ran
    raised_at: Array  # min, inf before
    dry_at: Array  # min, inf before
    sound: Flags  # whether the fire had an answer


Watch = Callable[[Boiler], None]


class _Rates(NamedTuple):
    """What happens to water at one temperature, each a minute."""

    pressure: Array  # bar above the atmosphere
    cylinders: Array  # g
    blower: Array  # g
    steam_heat: Array  # J/g
    shell_loss: Array  # J


def liquid(temperature: Array) -> tuple[Array, Array]:
    """Enthalpy (J/g) of liquid water and its slope, as in `models.steam`, without its masks."""
    t = temperature
    enthalpy = t * (4.20296 - t * (5.0449e-4 - 3.8869e-6 * t))
    return enthalpy, 4.20296 - t * (1.00898e-3 - 1.16607e-5 * t)


def gauge(temperature: Array) -> Array:
    """Pressure above the atmosphere (bar) of saturated steam, none below 100 degC."""
    above: Array = np.maximum(np.exp(saturation_logarithm(temperature)) - _ATMOSPHERE, 0.0)
    return above


def run_step(engine: Engine, step: Step, boiler: Boiler, watch: Watch | None = None) -> Boiler:
    """Run through one step of the schedule.

    The heat of a spell is that of its middle, foretold from its beginning; the first spell is
    foretold with the fire as the step begins.
    """
    spell = step.duration / SPELLS
    boiler, power, burn = _fire(engine, step, boiler, boiler.temperature)
    for _ in range(SPELLS):
        middle = _foretold(engine, step, boiler, 0.5 * spell, power)
        boiler, power, burn = _fire(engine, step, boiler, middle)
        for _ in range(SUB_STEPS):
            boiler = _sub_step(engine, step, boiler, spell / SUB_STEPS, power, burn)
            if watch:
                watch(boiler)
    return _note_pressure(step, boiler, gauge(boiler.temperature))


def _foretold(engine: Engine, step: Step, boiler: Boiler, time: Array, power: Array) -> Array:
    """Temperature `time` minutes on, if all goes on as now."""
    rates = _rates(engine, step, boiler.temperature)
    enthalpy, slope = liquid(boiler.temperature)
    net = (
        _PER_MINUTE * power
        - rates.shell_loss
        - (rates.cylinders + rates.blower) * (rates.steam_heat - enthalpy)
        + step.feed * (engine.feed_enthalpy - enthalpy)
    )
    ahead = boiler.temperature + time * net / (boiler.water * slope + engine.metal)
    foretold: Array = np.minimum(ahead, engine.blow_off)
    return foretold


def _fire(
    engine: Engine, step: Step, boiler: Boiler, temperature: Array
) -> tuple[Boiler, Array, Array]:
    """Heat of the fire that reaches the water (W) and its burn (ml/min), at a temperature of it."""
    rates = _rates(engine, step, temperature)
    draught = (
        NATURAL_DRAUGHT
        + step.auxiliary_draught
        + engine.blower_factor * rates.blower
        + engine.exhaust_factor * rates.cylinders
    )
    share = np.power(draught / engine.stated_draught, engine.draught_exponent)
    box = engine.box._replace(
        way=engine.box.way._replace(fuel=engine.box.way.fuel * share),
        heat_of_fuel=engine.box.heat_of_fuel * share,
        wall=np.maximum(temperature, _OPEN) + ZERO_CELSIUS,
    )
    # Air goes about as the root of the draught: creeping flow, but hotter the more there is.
    start = None if boiler.air is None else boiler.air * np.sqrt(draught / boiler.draught)
    air, fire, settled = settle(box, draught, start, _ENOUGH)
    # Too little air for a fire is an answer: it is out, and nothing burns.
    lit = settled & np.isfinite(fire.heat_tubes)
    power = np.where(lit, engine.kept * (fire.heat_firebox + fire.heat_tubes), 0.0)
    turbulent = reynolds_number(box.way, fire.gas, air) > LAMINAR_LIMIT
    boiler = boiler._replace(air=air, draught=draught, sound=boiler.sound & ~(lit & turbulent))
    return boiler, power, np.where(lit, engine.weighed_burn_rate * share, 0.0)


def _rates(engine: Engine, step: Step, temperature: Array) -> _Rates:
    logarithm = saturation_logarithm(temperature)
    pressure = np.exp(logarithm)
    steaming = temperature > STEAMING
    turns = engine.cylinder_litres * step.revolutions
    return _Rates(
        pressure=np.maximum(pressure - _ATMOSPHERE, 0.0),
        cylinders=np.where(steaming, turns * vapour_density_at(logarithm), 0.0),
        blower=np.where(steaming, engine.blower * step.blower_opening * pressure, 0.0),
        steam_heat=vapour_enthalpy_at(logarithm),
        shell_loss=_PER_MINUTE * engine.shell * (temperature - engine.ambient),
    )


def _sub_step(
    engine: Engine, step: Step, boiler: Boiler, time: Array, power: Array, burn: Array
) -> Boiler:
    """Advance by `time` minutes with the midpoint rule, then let the safety valve blow.

    A boiler that has run dry stands still: its time is taken as none.
    """
    time = np.where(np.isfinite(boiler.dry_at), 0.0, time)
    gain = _PER_MINUTE * power + step.feed * engine.feed_enthalpy
    first = _rates(engine, step, boiler.temperature)
    steam = first.cylinders + first.blower
    half = 0.5 * time
    middle = warmed(
        engine,
        boiler.energy + half * (gain - first.shell_loss - steam * first.steam_heat),
        boiler.water + half * (step.feed - steam),
        boiler.temperature,
    )
    rates = _rates(engine, step, middle)
    steam = time * (rates.cylinders + rates.blower)
    steam_heat, shell_loss = steam * rates.steam_heat, time * rates.shell_loss
    energy = boiler.energy + time * gain - shell_loss - steam_heat
    water = boiler.water + time * step.feed - steam
    temperature = warmed(engine, energy, water, warmed(engine, energy, water, middle))

    # What is over the blow-off pressure leaves as steam of it, and leaves the rest at it.
    dry = vapour_enthalpy_at(saturation_logarithm(engine.blow_off))
    standing, _ = liquid(engine.blow_off)
    excess = energy - water * standing - engine.metal * engine.blow_off
    blown = np.maximum(excess, 0.0) / (dry - standing)
    after = np.minimum(temperature, engine.blow_off)
    clock = boiler.clock + time
    crossing = (engine.raised - boiler.temperature) / (after - boiler.temperature)
    before = np.isinf(boiler.raised_at) & (after >= engine.raised)
    dried = np.isinf(boiler.dry_at) & (water - blown < engine.least_water)
    return _note_pressure(step, boiler, first.pressure)._replace(
        energy=energy - blown * dry,
        water=water - blown,
        temperature=after,
        clock=clock,
        heat=boiler.heat + time * _PER_MINUTE * power,
        shell_loss=boiler.shell_loss + shell_loss,
        steam=boiler.steam + steam,
        steam_heat=boiler.steam_heat + steam_heat,
        blown_off=boiler.blown_off + blown,
        blown_off_heat=boiler.blown_off_heat + blown * dry,
        fed=boiler.fed + time * step.feed,
        burnt=boiler.burnt + time * burn,
        raised_at=np.where(
            before, boiler.clock + np.clip(crossing, 0.0, 1.0) * time, boiler.raised_at
        ),
        dry_at=np.where(dried, clock, boiler.dry_at),
    )


def warmed(engine: Engine, energy: Array, water: Array, near: Array) -> Array:
    """Temperature of water and metal that hold `energy`: a step of Newton's from `near`.

    The heat capacity hardly changes: a step of 3 K leaves 0.001 K, and squares with the next.
    """
    enthalpy, slope = liquid(near)
    held = water * enthalpy + engine.metal * near
    return near + (energy - held) / (water * slope + engine.metal)


def _note_pressure(step: Step, boiler: Boiler, pressure: Array) -> Boiler:
    """Keep the lowest pressure at which the engine has run."""
    running = (np.asarray(step.revolutions) > 0.0) & np.isinf(boiler.dry_at)
    lowest = np.where(running, np.minimum(boiler.lowest, pressure), boiler.lowest)
    return boiler._replace(lowest=lowest)
