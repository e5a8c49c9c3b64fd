"""A feed set out: the arguments of a run as one value, and what the events are worked out from."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from models.arrays import Array
from models.breather import bond_number_at_1_mm, breather_mouth
from models.feed_events import Burner, Condition, Run
from models.fuel import density
from models.fuel_level import overshoot_height, shift_at_wick, velocity_head, wick_window
from models.ranges import ANY_NOT_NEGATIVE, ANY_POSITIVE, SHARE, within

PER_STEP = ("duration", "burn_rate", "valve_opening", "grade", "acceleration", "cant")
"""Arguments of `feed_cycle` that have one value for each step of the schedule."""

_COLUMN = 0.25e-3 * np.pi
"""Fuel in 1 mm of a breather of 1 mm bore, ml."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Feed:
    """The arguments of `feed_cycle`, by the same names and in the same units."""

    duration: Array
    burn_rate: Array
    valve_opening: Array
    grade: Array
    acceleration: Array
    cant: Array
    breather_height: Array
    breather_bore: Array
    breather_wall: Array
    breather_scarf: Array
    breather_chamfer: Array
    scarf_radius_factor: Array
    scarf_closing: Array
    air_entry_factor: Array
    cling_factor: Array
    receding_angle: Array
    slosh_amplitude: Array
    vacuum_breakdown: Array
    burner_height: Array
    outlet_height: Array
    pipe_bore: Array
    wick_lip_height: Array
    wick_hold: Array
    reach: Array
    outlet_reach: Array
    lateral: Array
    pipe_head_loss: Array
    pipe_loss_burn_rate: Array
    hot_column_lift: Array
    fuel_temperature: Array
    fuel_water: Array
    sump_free_area: Array
    sump_fill_at_start: Array
    tank_volume: Array
    tank_air_volume: Array
    tank_head: Array
    tank_floor_area: Array
    feed_capacity: Array
    valve_viscous_share: Array


def set_out(
    given: Feed,
) -> tuple[Burner, tuple[Condition, ...], Run, NDArray[np.bool_] | bool]:
    """The burner, the steps, the state at the start, and where all arguments make sense."""
    lip, crown = wick_window(given.burner_height, given.pipe_bore, given.wick_lip_height)
    bond_at_1_mm = bond_number_at_1_mm(given.fuel_temperature, given.fuel_water)
    breather = breather_mouth(
        breather_height=given.breather_height,
        breather_bore=given.breather_bore,
        breather_wall=given.breather_wall,
        breather_scarf=given.breather_scarf,
        breather_chamfer=given.breather_chamfer,
        scarf_radius_factor=given.scarf_radius_factor,
        scarf_closing=given.scarf_closing,
        air_entry_factor=given.air_entry_factor,
        cling_factor=given.cling_factor,
        receding_angle=given.receding_angle,
        slosh_amplitude=given.slosh_amplitude,
        bond_at_1_mm=bond_at_1_mm,
    )
    fuel_density = density(given.fuel_temperature, given.fuel_water)
    free_area = within(given.sump_free_area, ANY_POSITIVE)
    tank_volume = within(given.tank_volume, ANY_POSITIVE)
    air = within(given.tank_air_volume, ANY_NOT_NEGATIVE)
    loss = within(given.pipe_head_loss, ANY_NOT_NEGATIVE)
    loss = loss / within(given.pipe_loss_burn_rate, ANY_POSITIVE)
    burner = Burner(
        mouth=breather.closes,
        lower_edge=breather.enters,
        overshoot=overshoot_height(fuel_density, 1.0, 1.0, free_area),
        breakdown=within(given.vacuum_breakdown, SHARE),
        column=_COLUMN * given.breather_bore * given.breather_bore,
        lip=lip,
        drained=crown - within(given.wick_hold, ANY_NOT_NEGATIVE),
        outlet=given.outlet_height + 0.5 * given.pipe_bore,
        sump_area=0.1 * free_area,
        tank_volume=tank_volume,
        tank_fuel=within(tank_volume - air, ANY_NOT_NEGATIVE),
        tank_head=within(given.tank_head, ANY_POSITIVE),
        tank_area=0.1 * within(given.tank_floor_area, ANY_POSITIVE),
        feed_capacity=within(given.feed_capacity, ANY_NOT_NEGATIVE),
        viscous_share=within(given.valve_viscous_share, SHARE),
    )
    start = within(given.sump_fill_at_start, SHARE) * burner.mouth
    check = 0.0 * sum(burner) + 0.0 * start
    for value in (
        given.reach,
        given.lateral,
        given.outlet_reach,
        given.hot_column_lift,
        given.breather_wall,
    ):
        check = check + 0.0 * value
    steps = []
    scheduled = [getattr(given, name) for name in PER_STEP]
    for number in range(_step_count(scheduled)):
        duration, burn, opening, grade, acceleration, cant = (
            np.asarray(value)[number] if np.ndim(value) else value for value in scheduled
        )
        shift = shift_at_wick(given.reach, given.lateral, grade, acceleration, cant)
        outlet_shift = shift_at_wick(given.outlet_reach, 0.0, grade, acceleration, 0.0)
        burn = within(burn, ANY_NOT_NEGATIVE)
        step = Condition(
            duration=within(duration, ANY_NOT_NEGATIVE),
            burn_rate=burn,
            valve_opening=within(opening, SHARE),
            shift=shift,
            outlet_shift=outlet_shift,
            loss=loss * burn + velocity_head(burn, given.pipe_bore) - given.hot_column_lift,
        )
        steps.append(step)
        check = check + 0.0 * sum(step)
    sound = np.isfinite(check)
    # A burner that makes no sense takes no time, and so holds up none of the others.
    steps = [step._replace(duration=np.where(sound, step.duration, 0.0)) for step in steps]
    run = Run(
        sump_level=start,
        tank_fuel=burner.tank_fuel,
        sealed=False,
        filled=False,
        fallen=0.0,
        wick_out=False,
        left=0.0,
        clock=0.0,
        burnt=0.0,
        spilled=0.0,
        feeds=0.0,
        lit_minutes=0.0,
        out_minutes=np.inf,
        highest=-np.inf,
        lowest=np.inf,
        lowest_fed=np.inf,
        least=np.inf,
        least_fed=np.inf,
    )
    return burner, tuple(steps), run, sound


def _step_count(scheduled: Iterable[Array]) -> int:
    """Number of steps that the per-step arguments state; 1 if all of them are numbers."""
    counts = {np.shape(value)[0] for value in scheduled if np.ndim(value)}
    if len(counts) > 1:
        raise ValueError(f"per-step arguments with {sorted(counts)} steps: give all the same")
    return counts.pop() if counts else 1
