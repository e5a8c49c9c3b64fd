"""A feed set out: the arguments of a run as one value, and what the events are worked out from."""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from models.arrays import Array
from models.breather import bond_number_at_1_mm, breather_mouth
from models.feed_events import Burner, Fields
from models.feed_run import Condition, Run, Wicks, at_start
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


class SetOut(NamedTuple):
    """A feed as its events take it, each field in the shape that it has of itself."""

    burner: Burner
    wicks: Wicks
    steps: list[Condition]
    level: Array  # in the sump at the start
    tank_fuel: Array
    sound: NDArray[np.bool_]  # where all arguments make sense, in the shape of all together


def as_it_stands(given: Feed) -> SetOut:
    """The burner, its wicks, the steps and the start, each along the axes that it varies along."""
    burner, level, fuel = _burner(given)
    wicks, steps = _wicks(given), _steps(given)
    others = (level, given.reach, given.lateral, given.outlet_reach, given.breather_wall)
    of_steps = (value for step in steps for value in step)
    sound: NDArray[np.bool_] = np.isfinite(_together([*burner, *wicks, *others, *of_steps]))
    return SetOut(burner, wicks, steps, level, fuel, sound)


def set_out(
    given: Feed,
) -> tuple[Burner, Wicks, tuple[Condition, ...], Run, NDArray[np.bool_]]:
    """The burner, its wicks, the steps, the state at the start, and where all arguments make sense.

    All but the last with the burners in a row; the last in the shape of the arguments together.
    """
    burner, wicks, steps, level, fuel, sound = as_it_stands(given)
    shape = sound.shape
    # A burner that makes no sense takes no time, and so holds up none of the others.
    if not sound.all():
        steps = [step._replace(duration=np.where(sound, step.duration, 0.0)) for step in steps]
    start, tank_fuel = (np.broadcast_to(value, shape).ravel() for value in (level, fuel))
    return (
        _in_a_row(burner, shape),
        _in_a_row(wicks, shape),
        tuple(_in_a_row(step, shape) for step in steps),
        at_start(start, tank_fuel),
        sound,
    )


def _burner(given: Feed) -> tuple[Burner, Array, Array]:
    """What stays the same, and the level and the fuel at the start."""
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
    tank_fuel = within(tank_volume - air, ANY_NOT_NEGATIVE)
    head = within(given.tank_head, ANY_POSITIVE)
    head_volume = 0.1 * within(given.tank_floor_area, ANY_POSITIVE) * head
    overshoot = overshoot_height(fuel_density, 1.0, 1.0, free_area) * head
    share = within(given.valve_viscous_share, SHARE)
    burner = Burner(
        mouth=breather.closes,
        lower_edge=breather.enters,
        overshoot=within(given.vacuum_breakdown, SHARE) * overshoot,
        first_overshoot=overshoot,
        column=_COLUMN * given.breather_bore * given.breather_bore * head,
        sump_area=0.1 * free_area,
        tank_volume=tank_volume,
        headless=tank_fuel - head_volume,
        head_volume=head_volume,
        viscous_share=share,
        share_squared=share * share,
        inertial_share=4.0 * (1.0 - share),
    )
    level = within(given.sump_fill_at_start, SHARE) * burner.mouth
    return burner, level, tank_fuel


def _wicks(given: Feed) -> Wicks:
    """Where the pipe and its wicks are."""
    lip, crown = wick_window(given.burner_height, given.pipe_bore, given.wick_lip_height)
    return Wicks(
        lip=lip,
        drained=crown - within(given.wick_hold, ANY_NOT_NEGATIVE),
        outlet=given.outlet_height + 0.5 * given.pipe_bore,
    )


def _steps(given: Feed) -> list[Condition]:
    """The steps of the schedule."""
    loss = within(given.pipe_head_loss, ANY_NOT_NEGATIVE)
    loss = loss / within(given.pipe_loss_burn_rate, ANY_POSITIVE)
    capacity = within(given.feed_capacity, ANY_NOT_NEGATIVE)
    steps = []
    scheduled = [getattr(given, name) for name in PER_STEP]
    for number in range(_step_count(scheduled)):
        duration, burn, opening, grade, acceleration, cant = (
            np.asarray(value)[number] if np.ndim(value) else value for value in scheduled
        )
        burn, opening = within(burn, ANY_NOT_NEGATIVE), within(opening, SHARE)
        step = Condition(
            duration=within(duration, ANY_NOT_NEGATIVE),
            burn_rate=burn,
            valve_opening=opening,
            full_flow=capacity * opening,
            shift=shift_at_wick(given.reach, given.lateral, grade, acceleration, cant),
            outlet_shift=shift_at_wick(given.outlet_reach, 0.0, grade, acceleration, 0.0),
            loss=loss * burn + velocity_head(burn, given.pipe_bore) - given.hot_column_lift,
        )
        steps.append(step)
    return steps


def _together(values: Iterable[Array]) -> NDArray[np.float64]:
    """Nought in the shape of all values together, not a number where one of them is not finite.

    Those of one shape are summed first: what varies along one axis alone is then small work.
    """
    sums: dict[tuple[int, ...], Array] = {}
    for value in values:
        shape = np.shape(value)
        sums[shape] = sums.get(shape, 0.0) + 0.0 * value
    return np.asarray(sum(sums.values()))


def _in_a_row(values: Fields, shape: tuple[int, ...]) -> Fields:
    """Lay each field's burners in a row; a field of one value becomes a number."""
    laid: list[Any] = [_laid(value, shape) for value in values]
    return type(values)(*laid)


def _laid(value: Array, shape: tuple[int, ...]) -> Array:
    if np.size(value) == 1 and math.prod(shape) != 1:
        return float(np.reshape(value, ()))
    return np.broadcast_to(value, shape).ravel()


def _step_count(scheduled: Iterable[Array]) -> int:
    """Number of steps that the per-step arguments state; 1 if all of them are numbers."""
    counts = {np.shape(value)[0] for value in scheduled if np.ndim(value)}
    if len(counts) > 1:
        raise ValueError(f"per-step arguments with {sorted(counts)} steps: give all the same")
    return counts.pop() if counts else 1
