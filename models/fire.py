"""A spirit fire under a deflector plate at a given flow of air: heat and temperatures.

Flames burn below the plate, the gas turns round its edge, flows back over it to the tubes and
through them to the smokebox. Plain functions of float64 arrays in SI units; nothing is masked.
"""

from typing import Annotated, NamedTuple

import numpy as np

from models import gas
from models.arrays import Array, polynomial
from models.draught import AirWay, GasState
from models.heat_exchange import (
    STEFAN_BOLTZMANN,
    emissivity_law,
    graetz_number,
    left_over,
    nusselt_parallel_plates,
    nusselt_tube,
    plate_temperature,
    radiation_chord,
)

_PASSES = 3  # over the temperatures at which properties are taken; see `fire_at`


class Firebox(NamedTuple):
    """A firebox, its fuel and its surroundings, in SI units."""

    way: AirWay
    stoichiometric: Array  # kg of air per kg of fuel
    heat_of_fuel: Array  # W, if all of it burns
    air_enthalpy: Array  # J/kg
    wall: Array  # K
    gap: Array  # m
    wall_area: Array  # m2, below the plate
    plate_area: Array  # m2, one face
    side_area: Array  # m2, walls beside the passage over the plate
    beam: Array  # m, mean beam length of the flames' space
    passage_beam: Array  # m, the same of the passage
    floor_share: Array  # of what the plate's lower face sees, the floor
    tube_count: Array
    tube_length: Array  # m
    unmixedness: Array
    emissivity: Array  # of the plate
    flame_film: Array  # W/m2K
    film_factor: Array  # of the films computed here
    radiation_factor: Array  # of the gas radiation


class Fire(NamedTuple):
    """A fire at one flow of air: temperatures in K, heat in W."""

    air_ratio: Array
    burnt_fraction: Array
    flame: Array
    plate: Array
    smokebox: Array
    heat_firebox: Array
    heat_tubes: Array
    heat_floor: Array
    gas: GasState


class _Flames(NamedTuple):
    """The gas as it is made: kg/s, mass fractions of products and of vapour in them, J/kg, K."""

    flow: Array
    products: Array
    vapour: Array
    enthalpy: Array
    temperature: Array


class _Turn(NamedTuple):
    """The gas round the plate, K: entering the passage, mean in it, leaving it; and the plate."""

    inlet: Array
    mean: Array
    outlet: Array
    plate: Array


class _Line(NamedTuple):
    """A temperature as a linear function of the plate's: fixed + slope * plate."""

    fixed: Array
    slope: Array

    def at(self, plate: Array) -> Array:
        return self.fixed + self.slope * plate


def burnt_fraction(
    air_ratio: Annotated[Array, "", "mean air over the air needed", ">= 0"] = 1.2,
    unmixedness: Annotated[Array, "", "standard deviation of its logarithm", ">= 0"] = 0.35,
) -> Annotated[Array, "", "share of the fuel that burns"]:
    """Share burnt where air and fuel are not evenly mixed: the mean of min(1, X).

    X, the local air ratio, is lognormal with mean a = air_ratio and log-standard-deviation s:
    a Phi((-ln a - s^2/2)/s) + Phi((ln a - s^2/2)/s). Exact for that distribution; the
    distribution is an assumption (s 0.25 to 0.45), and rich pockets are taken to burn as far
    as their air goes. s = 0 gives min(1, a).
    """
    from scipy.special import ndtr  # takes a fifth of a second

    s: Array = np.maximum(unmixedness, 1e-9)
    steps: Array = np.log(air_ratio) / s
    burnt: Array = air_ratio * ndtr(-steps - 0.5 * s) + ndtr(steps - 0.5 * s)
    return burnt


def fire_at(box: Firebox, air: Array) -> Fire:
    """State of the fire when `air` kg/s are drawn in; energy closes whatever the coefficients.

    Heat to the firebox is the enthalpy the gas has lost when it leaves the passage, less what
    the plate's lower face radiates to the floor: all else that the plate takes it gives to the
    walls. Vapour that does not burn takes its heat of evaporation and its own specific heat
    along; for all else it counts as products. The rates need mean temperatures of the gas, and
    those need the rates: three passes leave below 0.1 % of the heat near any sound design (1 %
    in extremes), without touching the balance.
    """
    primary = box.way.primary_share * air
    flow = primary + box.way.fuel
    air_ratio = primary / (box.way.fuel * box.stoichiometric)
    burnt = burnt_fraction(air_ratio, box.unmixedness)
    products = box.way.fuel * (1.0 + burnt * box.stoichiometric) / flow
    vapour = box.way.fuel * (1.0 - burnt) / flow
    enthalpy = (burnt * box.heat_of_fuel + primary * box.air_enthalpy) / flow
    flame = gas.dissociated(gas.temperature_of(enthalpy, products, vapour))
    flames = _Flames(flow, products, vapour, enthalpy, flame)

    turn = _round_the_plate(box, flames)
    # Dissociated gas holds the enthalpy of a hotter complete one; negligible below 1700 K.
    left = gas.enthalpy(turn.outlet + gas.dissociation(turn.outlet), products, vapour)
    floor = box.floor_share * box.emissivity * box.plate_area * STEFAN_BOLTZMANN
    heat_floor = floor * (_fourth(turn.plate) - _fourth(box.wall))

    # The bypass air has met neither flames nor plate: it joins where the tubes begin.
    total = air + box.way.fuel
    mixed = (flow * left + (air - primary) * box.air_enthalpy) / total
    thinned = flow / total
    mixed_products, mixed_vapour = thinned * products, thinned * vapour
    smokebox, mean = _through_the_tubes(box, total, mixed, mixed_products, mixed_vapour)
    return Fire(
        air_ratio=air_ratio,
        burnt_fraction=burnt,
        flame=flame,
        plate=turn.plate,
        smokebox=smokebox,
        heat_firebox=flow * (enthalpy - left) - heat_floor,
        heat_tubes=total * (mixed - gas.enthalpy(smokebox, mixed_products, mixed_vapour)),
        heat_floor=heat_floor,
        gas=GasState(
            gap_density=gas.density(turn.inlet, products),
            passage_density=gas.density(turn.mean, products),
            passage_viscosity=gas.viscosity(turn.mean, products),
            tube_density=gas.density(mean, mixed_products),
            tube_viscosity=gas.viscosity(mean, mixed_products),
        ),
    )


def _round_the_plate(box: Firebox, flames: _Flames) -> _Turn:
    """Cool the flames below the plate, then in the passage over it.

    Below: films to the walls and the plate's underside, each the flame film and the gas
    radiation; above: the film of a parallel-plate duct and the gas radiation, to the plate, and
    to the crown and the sides. In each the gas falls from its inlet T_i towards the mean S of
    what cools it (weighted by h A): outlet = S + (T_i - S) e^-N, mean = S + (T_i - S)
    (1 - e^-N)/N, N = sum h A/(m cp). All are linear in the plate's temperature, so its balance
    with what both faces radiate is a quartic.
    """
    flow, products, vapour, _, flame = flames
    wall = box.wall
    span = flame - wall
    below, mean, plate = wall + 0.80 * span, wall + 0.60 * span, wall + 0.45 * span
    mixture = gas.blended(products, vapour)
    radiating = gas.radiating_fraction(products)
    shining = STEFAN_BOLTZMANN * box.radiation_factor
    law_below = emissivity_law(radiating * box.beam, shining)
    law_over = emissivity_law(radiating * box.passage_beam, shining)
    per_conductivity = 4.0 * box.gap / box.plate_area
    per_nusselt = box.film_factor / (2.0 * box.gap)
    over_area = box.plate_area + box.side_area
    for _ in range(_PASSES):
        shine = polynomial(law_below, below)
        to_plate = box.flame_film + shine * radiation_chord(below, plate)
        to_walls = box.flame_film + shine * radiation_chord(below, wall)
        face = to_plate * box.plate_area
        both = face + to_walls * box.wall_area
        share = face / both
        units = both / (flow * gas.heat_capacity_of(mixture, below))
        at_gap, under = _cooled(_Line(flame, 0.0), (1.0 - share) * wall, share, units)

        carried = flow * gas.heat_capacity_of(mixture, mean)
        k = gas.conductivity(mean, products)
        graetz = per_conductivity * carried / k  # Re Pr 2g/L
        over = nusselt_parallel_plates(graetz) * k * per_nusselt
        shine = polynomial(law_over, mean)
        from_over = over + shine * radiation_chord(mean, plate)
        to_crown = over + shine * radiation_chord(mean, wall)
        face = from_over * box.plate_area
        both = face + to_crown * over_area
        share = face / both
        outlet, passage = _cooled(at_gap, (1.0 - share) * wall, share, both / carried)

        plate = plate_temperature(
            gain=to_plate * under.fixed + from_over * passage.fixed,
            conductance=to_plate * (1.0 - under.slope) + from_over * (1.0 - passage.slope),
            emissivity=2.0 * box.emissivity,
            surroundings=wall,
        )
        below, mean = under.at(plate), passage.at(plate)
    return _Turn(at_gap.at(plate), mean, outlet.at(plate), plate)


def _cooled(inlet: _Line, sink: Array, share: Array, units: Array) -> tuple[_Line, _Line]:
    """Outlet and mean of gas cooled by `sink` + share * plate over `units` transfer units."""
    left = left_over(units)
    part = 1.0 - left
    part /= units
    fixed, slope = inlet.fixed - sink, inlet.slope - share
    outlet = _Line(_beyond(sink, fixed, left), _beyond(share, slope, left))
    return outlet, _Line(_beyond(sink, fixed, part), _beyond(share, slope, part))


def _beyond(end: Array, way: Array, left: Array) -> Array:
    """What is left of a way to its end."""
    place = way * left
    place += end
    return place


def _through_the_tubes(
    box: Firebox, flow: Array, enthalpy: Array, products: Array, vapour: Array
) -> tuple[Array, Array]:
    """Outlet and mean temperature (K) of gas of this enthalpy in tubes of one wall temperature.

    N = 4 Nu/Gz, with Hausen's Nu and the properties at the mean temperature of the gas.
    """
    span = gas.temperature_of(enthalpy, products, vapour) - box.wall
    each = flow / box.tube_count
    mixture = gas.blended(products, vapour)
    mean = box.wall + 0.5 * span
    for _ in range(_PASSES):
        cp = gas.heat_capacity_of(mixture, mean)
        k = gas.conductivity(mean, products)
        graetz = graetz_number(each, cp, k, box.tube_length)
        units = 4.0 * box.film_factor * nusselt_tube(graetz) / graetz
        left = left_over(units)
        mean = box.wall + span * (1.0 - left) / units
    return box.wall + span * left, mean


def _fourth(kelvin: Array) -> Array:
    square = kelvin * kelvin
    return square * square
