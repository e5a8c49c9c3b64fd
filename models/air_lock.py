"""Air shut in a step of the fuel pipe while it fills: the head it costs and what clears it.

The first fuel runs along a near level pipe as a stream under the air, where the bore is wide
enough for a stream (occlusion of a round tube by its own liquid: Manning, Collicott and Finn
2011, J. Fluid Mech. 682; the threshold from memory). It fills the low run first and shuts the
air of the leg that leads down to it. A plug of air in a leg going down holds up as much fuel as
it is high; in a leg going up it helps.

A pipe *under* a bar can trap only while it fills, in the leg down on the sump's side, from where
the air may go back. A pipe *over* a bar keeps at its crest all air and vapour that ever comes.
Whether a step traps at all is a yes or no near a Bond number of 1, and in doubt there.
"""

from collections.abc import Sequence
from itertools import pairwise
from typing import Any, NamedTuple

import numpy as np

from models import fuel
from models.arrays import STANDARD_GRAVITY, Array, Mask, either
from models.ranges import SCARF, masked_where, within

BOND_NUMBER_RISING = 0.842
"""Bond number above which a long bubble rises by itself in a filled tube (Bretherton 1961)."""

STILL = 0.1
"""Rise slower than this counts as this, mm/s: 8 mm would take longer than filling (judgement).

It keeps the ratio of speeds finite where a bubble does not rise at all.
"""


LEVEL = 1e-9
"""Fall of a leg up to which it counts as level, mm: rounding, not slope."""


class AirLock(NamedTuple):
    """What air shut in while filling does; fields as the results of the pipes."""

    head: Array
    ratio: Array
    clears: Array


def bond_number(pipe_bore: Array, fuel_temperature: Array, fuel_water: Array) -> Array:
    """Bond number rho g r^2/sigma of the bore; mm, degC and mass fraction, broadcast."""
    weight = fuel.density(fuel_temperature, fuel_water) * STANDARD_GRAVITY
    return _bond_number(pipe_bore, weight, fuel.surface_tension(fuel_temperature, fuel_water))


def _bond_number(pipe_bore: Array, weight: Array, sigma: Array) -> Array:
    return (1e-3 / 4.0) * (pipe_bore * pipe_bore) * (weight / sigma)  # mN/m; bores in mm


def rise_speed(pipe_bore: Array, fuel_temperature: Array = 20.0, fuel_water: Array = 0.06) -> Array:
    """Speed at which a long bubble rises in an upright tube full of fuel, mm/s.

    U = 0.345 sqrt(g d)(1 - e^((3.37 - Eo)/10)), Eo = 4 Bo (Wallis 1969, One-dimensional
    Two-phase Flow, the form for thin liquids); 0 below Bo = 0.842 (Bretherton 1961, J. Fluid
    Mech. 10, 166), where it all but vanishes by itself. Bore in mm. Doubt 20 %: the
    correlation of Viana and others 2003 (J. Fluid Mech. 494, 379; from memory) lies within that
    from 3.6 to 6 mm in spirit of 5 to 60 degC, but near 3.2 mm has several times as much, at
    20 degC 4.7 for 1.0 mm/s.
    """
    return _rise_speed(pipe_bore, bond_number(pipe_bore, fuel_temperature, fuel_water))


def _rise_speed(pipe_bore: Array, bond: Array) -> Array:
    speed = 0.345 * np.sqrt(1e3 * STANDARD_GRAVITY * pipe_bore)
    share = -np.expm1((3.37 - 4.0 * bond) / 10.0)
    rising: Array = (speed * np.maximum(share, 0.0)) * (bond >= BOND_NUMBER_RISING)
    return rising


def trapped_head(heights: Sequence[Array], pipe_bore: Array) -> tuple[Array, Mask]:
    """Height of the air that a pipe can shut in, mm, and whether all of it can go back.

    ``heights`` are those of the centreline where its legs meet, from the sump on. Legs that go
    down one after another hold one column, as high as they fall together; one that falls by no
    more than the bore shuts nothing in, since the low side's crown is not under the high side's
    floor. The columns add up where the legs going up are full: the most that there can be.

    Air can go back to the sump from the column that begins at the outlet, which is so where the
    first run rises towards the sump, and from no other.
    """
    falling: Any = 0.0
    head: Array = 0.0
    first: Array = 0.0
    only_down: Mask = True
    for before, after in pairwise(heights):
        fall = before - after
        goes_down = np.greater(fall, LEVEL)
        if goes_down.all():  # most legs do the same in every pipe
            falling = falling + fall
        else:
            high = np.greater(falling, pipe_bore)
            if high.any():
                head = head + falling * (high & ~goes_down)
            falling = np.multiply(falling + fall, goes_down) if goes_down.any() else 0.0
            only_down = only_down & goes_down
        if np.any(only_down):
            first = either(only_down, falling, first)
    high = np.greater(falling, pipe_bore)
    if high.any():
        head = head + falling * high
    head = head + 0.0 * heights[-1]
    return head, np.equal(head, first * (first > pipe_bore))


def mouth_height(breather_height: Array, breather_bore: Array, breather_scarf: Array) -> Array:
    """Level to which a sump fills, mm over its floor: the upper lip of the breather's mouth.

    breather_height + breather_bore tan(breather_scarf), as in `models.breather`; mm and deg, NaN
    for a scarf outside 0 to 60 deg.
    """
    slant: Array = np.tan(np.deg2rad(within(breather_scarf, SCARF)))
    return breather_height + breather_bore * slant


def air_lock(
    heights: Sequence[Array],
    pipe_bore: Array,
    equivalent_length: Array,
    filling_level: Array,
    fluid: fuel.Properties,
    bubble_rise_factor: Array,
    occlusion_bond_number: Array,
) -> AirLock:
    """What air shut in while the pipe fills costs, and whether it clears.

    ``heights`` as in `trapped_head`, the last that of the burner pipe; ``equivalent_length`` is
    that of straight pipe as good as the whole, mm; ``filling_level`` the fuel's level in the
    sump, mm over its floor.

    * head: of `trapped_head`, mm.
    * ratio: fill velocity over `rise_speed` times its doubt (``bubble_rise_factor``). Filled
      under the head h of the level over the burner pipe's crown, the fuel moves by
      v = rho g d^2 h/(32 mu L) (Hagen-Poiseuille), the same as the burn rate times h over the
      head loss at that rate. Above 1 the stream sweeps the air on; below 0 nothing flows.
    * clears: 1 where the head is less than h, or the air can go back and the bubble rises by
      itself (Bo above 0.842), or the stream sweeps it on, or the Bond number is below
      ``occlusion_bond_number``: there the fuel fills the bore and drives all air before it.
      0 elsewhere. A column higher than h stops the very stream that should sweep it, so a
      ratio above 1 needs the start of the flow, before the low run is full: a doubt.

    Ratio and clears are NaN where the fuel is outside its range or an argument has no answer.
    """
    head, goes_back = trapped_head(heights, pipe_bore)
    over_crown = filling_level - (heights[-1] + 0.5 * pipe_bore)
    weight = fluid.density * STANDARD_GRAVITY
    # kg/m3 m/s2 mm^2/(mPa s) is mm/s; first what belongs to the pipe, which has the fewest values.
    of_pipe = pipe_bore * pipe_bore / (32.0 * equivalent_length)
    speed = of_pipe * (weight / fluid.viscosity * over_crown)
    bond = _bond_number(pipe_bore, weight, fluid.surface_tension)
    sound = (pipe_bore > 0.0) & (bubble_rise_factor > 0.0) & (occlusion_bond_number >= 0.0)
    factor = np.where(sound, bubble_rise_factor, np.nan)
    rise = _rise_speed(pipe_bore, bond)
    ratio = speed / np.maximum(factor * rise, STILL)
    rises_back = np.logical_and(goes_back, bond >= BOND_NUMBER_RISING)
    swept = np.logical_or(ratio > 1.0, bond < occlusion_bond_number)
    clears = np.logical_or(np.logical_or(head < over_crown, rises_back), swept)
    return AirLock(
        head, ratio, masked_where(~np.isnan(ratio))(np.asarray(clears, dtype=np.float64)[()])
    )
