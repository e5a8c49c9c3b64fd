"""A lap set out: the arguments of a run as one value, and what its steps are worked out from."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from models.arrays import STANDARD_ATMOSPHERE, Array
from models.boiler_steps import Boiler, Engine, Flags, Step, liquid
from models.firebox import firebox
from models.ranges import NOT_NEGATIVE, POSITIVE, SHARE, within
from models.steam import (
    LIQUID_RANGE,
    cylinder_volume,
    liquid_density,
    liquid_enthalpy,
    saturation_temperature,
)

PER_STEP = ("duration", "revolutions", "blower_opening", "auxiliary_draught", "feed_water")
"""Arguments of `boiler_run` that have one value for each step of the schedule."""

FIREBOX = (
    "deflector_gap",
    "deflector_length",
    "firebox_width",
    "firebox_height",
    "tube_count",
    "tube_bore",
    "tube_length",
    "air_inlet_area",
    "bypass_area",
    "fuel_water",
    "fuel_temperature",
    "ambient_temperature",
    "discharge_coefficient",
    "unmixedness",
    "deflector_emissivity",
    "flame_film_coefficient",
    "heat_transfer_factor",
    "gas_radiation_factor",
)
"""Arguments of `boiler_run` that are its firebox's."""

LEAST_WATER = 5.0
"""Water below which a boiler counts as dry, ml."""

GAUGE_RANGE = (0.0, 6.9)
"""Pressures above the atmosphere for which the fits of steam hold, bar."""

_ATMOSPHERE = 1e-5 * STANDARD_ATMOSPHERE  # bar


@dataclass(frozen=True, slots=True, kw_only=True)
class Lap:
    """The arguments of `boiler_run`, by the same names and in the same units."""

    duration: Array
    revolutions: Array
    blower_opening: Array
    auxiliary_draught: Array
    feed_water: Array
    deflector_gap: Array
    deflector_length: Array
    firebox_width: Array
    firebox_height: Array
    tube_count: Array
    tube_bore: Array
    tube_length: Array
    air_inlet_area: Array
    bypass_area: Array
    fuel_water: Array
    fuel_temperature: Array
    ambient_temperature: Array
    discharge_coefficient: Array
    unmixedness: Array
    deflector_emissivity: Array
    flame_film_coefficient: Array
    heat_transfer_factor: Array
    gas_radiation_factor: Array
    fire_loss: Array
    weighed_burn_rate: Array
    stated_draught: Array
    draught_exponent: Array
    piston_bore: Array
    piston_stroke: Array
    cylinders: Array
    cutoff: Array
    condensation_factor: Array
    steam_pressure: Array
    blower_steam: Array
    blower_draught_factor: Array
    exhaust_draught_factor: Array
    boiler_water: Array
    water_temperature_at_start: Array
    feed_temperature: Array
    boiler_heat_capacity: Array
    shell_loss_coefficient: Array
    blow_off_pressure: Array
    steam_raised: Array


def set_out(
    given: Lap,
) -> tuple[Engine, tuple[Step, ...], Boiler, Flags, Array]:
    """Engine, steps, boiler at the start, where all arguments make sense; and grams a ml."""
    cold = within(given.water_temperature_at_start, (0.0, 100.0))
    per_ml = 1e-3 * liquid_density(cold)
    feed = within(given.feed_temperature, LIQUID_RANGE)
    burn = within(given.weighed_burn_rate, POSITIVE)
    stated = within(given.steam_pressure, GAUGE_RANGE) + _ATMOSPHERE
    turn = cylinder_volume(
        given.piston_bore,
        given.piston_stroke,
        given.cylinders,
        given.cutoff,
        given.condensation_factor,
    )
    box = {name: getattr(given, name) for name in FIREBOX}
    engine = Engine(
        box=firebox(burn_rate=burn, steam_pressure=0.0, **box),
        weighed_burn_rate=burn,
        stated_draught=within(given.stated_draught, POSITIVE),
        draught_exponent=within(given.draught_exponent, NOT_NEGATIVE),
        kept=1.0 - within(given.fire_loss, SHARE),
        metal=within(given.boiler_heat_capacity, NOT_NEGATIVE),
        shell=within(given.shell_loss_coefficient, NOT_NEGATIVE),
        ambient=given.ambient_temperature,
        cylinder_litres=1e-3 * turn,
        blower=within(given.blower_steam, NOT_NEGATIVE) / stated,
        blower_factor=within(given.blower_draught_factor, NOT_NEGATIVE),
        exhaust_factor=within(given.exhaust_draught_factor, NOT_NEGATIVE),
        feed_enthalpy=liquid_enthalpy(feed),
        blow_off=_saturated(given.blow_off_pressure),
        raised=_saturated(given.steam_raised),
        least_water=LEAST_WATER * per_ml,
    )
    water = within(given.boiler_water, POSITIVE) * per_ml
    enthalpy, _ = liquid(cold)
    check = 0.0 * sum(engine[1:]) + 0.0 * (sum(engine.box[1:]) + sum(engine.box.way)) + 0.0 * water
    steps = []
    scheduled = [getattr(given, name) for name in PER_STEP]
    for number in range(_step_count(scheduled)):
        duration, turns, opening, auxiliary, pumped = (
            np.asarray(value)[number] if np.ndim(value) else value for value in scheduled
        )
        step = Step(
            duration=within(duration, NOT_NEGATIVE),
            revolutions=within(turns, NOT_NEGATIVE),
            blower_opening=within(opening, SHARE),
            auxiliary_draught=within(auxiliary, NOT_NEGATIVE),
            feed=within(pumped, NOT_NEGATIVE) * 1e-3 * liquid_density(feed),
        )
        steps.append(step)
        check = check + 0.0 * sum(step)
    start = 0.0 * water
    boiler = Boiler(
        energy=water * enthalpy + engine.metal * cold,
        water=water,
        temperature=cold + start,
        clock=start,
        air=None,
        draught=engine.stated_draught,
        heat=start,
        shell_loss=start,
        steam=start,
        steam_heat=start,
        blown_off=start,
        blown_off_heat=start,
        fed=start,
        burnt=start,
        lowest=start + np.inf,
        raised_at=start + np.inf,
        dry_at=start + np.inf,
        sound=np.isfinite(check),
    )
    return engine, tuple(steps), boiler, np.isfinite(check), per_ml


def _saturated(pressure: Array) -> Array:
    return saturation_temperature(within(pressure, GAUGE_RANGE) + _ATMOSPHERE)


def _step_count(scheduled: Iterable[Array]) -> int:
    """Number of steps that the per-step arguments state; 1 if all of them are numbers."""
    counts = {np.shape(value)[0] for value in scheduled if np.ndim(value)}
    if len(counts) > 1:
        raise ValueError(f"per-step arguments with {sorted(counts)} steps: give all the same")
    return counts.pop() if counts else 1
