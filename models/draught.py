"""Air drawn through a firebox: inlet, gap over the deflector, passage and tubes in series.

Plain functions of float64 arrays in SI units that broadcast against each other. Every drop is
a square of the flow, a multiple of it, or both, so at given gas temperatures the flow is the
root of a quadratic.
"""

from typing import NamedTuple

import numpy as np

from models.arrays import Array

TUBE_ENDS = 2.3
"""Loss at both ends of a tube in laminar flow, in dynamic pressures of its mean speed.

A flow that enters even builds its profile: 1.25 to 1.33 above the friction of the developed
flow (Boussinesq 1891; Shah and London 1978), and the outlet loses what is left, 1. A sharp
entry before it and turbulent flow, 0.5 and 1, are not the case here.
"""

PLATES_FRICTION = 96.0
"""Friction factor times Reynolds number, laminar, between plates, on twice the gap."""

TUBE_FRICTION = 64.0
"""The same in a round tube, on its bore (Hagen 1839, Poiseuille 1840)."""


class AirWay(NamedTuple):
    """What the dimensions of the way do to a flow; made by `air_way`."""

    primary_share: Array  # of the air, through the air inlet; the rest is bypass
    fuel: Array  # kg/s
    inlet: Array  # Pa s2/kg2
    slot: Array  # 1/(m2 2^0.5)
    slot_bypass: Array  # Pa^0.5 s/kg
    passage: Array  # 1/m3
    passage_bypass: Array  # 1/kg
    passage_width: Array  # m
    tube_ends: Array  # 1/m4
    tube_friction: Array  # 1/m3
    tubes_round: Array  # m, circumference of all tubes


class GasState(NamedTuple):
    """Density (kg/m3) and viscosity (Pa s) of the gas along its way."""

    gap_density: Array
    passage_density: Array
    passage_viscosity: Array
    tube_density: Array
    tube_viscosity: Array


class Drops(NamedTuple):
    """Pressure lost on the way, Pa."""

    inlet: Array
    gap: Array
    passage: Array
    tubes: Array


def air_way(
    inlet_area: Array,
    bypass_area: Array,
    discharge_coefficient: Array,
    gap: Array,
    width: Array,
    passage_length: Array,
    tube_count: Array,
    tube_bore: Array,
    tube_length: Array,
    air_density: Array,
    fuel: Array,
) -> AirWay:
    """Prepare the laws of `pressure_drops` for lengths in m, areas in m2, `fuel` in kg/s."""
    area = inlet_area + bypass_area
    primary = inlet_area / area
    slot = np.sqrt(0.5) / (discharge_coefficient * gap * width)
    passage = (PLATES_FRICTION / 8.0) * passage_length / (gap * gap * gap * width)
    bore_squared = tube_bore * tube_bore
    tube_area = (0.25 * np.pi) * bore_squared * tube_count
    return AirWay(
        primary_share=primary,
        fuel=fuel,
        inlet=0.5 / (air_density * (discharge_coefficient * area) ** 2),
        slot=slot,
        slot_bypass=(1.0 - primary) * slot / np.sqrt(air_density),
        passage=passage,
        passage_bypass=(1.0 - primary) * passage / air_density,
        passage_width=width,
        tube_ends=(0.5 * TUBE_ENDS) / (tube_area * tube_area),
        tube_friction=(0.5 * TUBE_FRICTION) * tube_length / (bore_squared * tube_area),
        tubes_round=np.pi * tube_bore * tube_count,
    )


def pressure_drops(way: AirWay, gas: GasState, air: Array) -> Drops:
    """Losses of pressure on the way of `air` kg/s, which `way.fuel` kg/s of vapour joins.

    * Inlet: m^2/(2 rho (Cd A)^2), A the air inlet and the bypass together, cold air.
    * Gap g: the burnt gas and the bypass air, not yet mixed, pass side by side under one drop,
      (m_gas/sqrt(rho_gas) + m_bypass/sqrt(rho_air))^2/(2 (Cd g w)^2).
    * Passage: laminar friction between plates, 12 mu L V/(g^3 w), V the volume flow; that is
      the friction factor 96/Re on twice the gap (Shah and London 1978).
    * Tubes: (rho u^2/2)(64/Re L/d + 2.3), see `TUBE_ENDS`.

    Laminar passage and tubes (Re < 2300, see `reynolds_number`), Mach number below 0.1. Cd of a
    sharp slot is 0.6 to 0.75 above Re 100. Left out: the buoyancy of the hot gas (up to 0.8 Pa
    per 100 mm of height) and the pressure that speeds up the gas while it is heated.
    """
    gap_air, gap_fuel, passage_air, passage_fuel, ends, friction = _laws(way, gas)
    through = air + way.fuel
    return Drops(
        inlet=way.inlet * air * air,
        gap=(gap_air * air + gap_fuel) ** 2,
        passage=passage_air * air + passage_fuel,
        tubes=through * (ends * through + friction),
    )


def drawn_air(way: AirWay, gas: GasState, draught: Array) -> Array:
    """Air (kg/s) for which the four drops of `pressure_drops` add up to `draught` (Pa). Exact.

    Below zero where the fuel's vapour alone would take up the draught: there is no such flow.
    The root of a m^2 + b m = c, c what the vapour leaves of the draught, is written without a
    difference of nearly equal numbers: 2 c/(b + sqrt(b^2 + 4 a c)).
    """
    gap_air, gap_fuel, passage_air, passage_fuel, ends, friction = _laws(way, gas)
    a = way.inlet + gap_air * gap_air + ends
    b = 2.0 * (gap_air * gap_fuel + ends * way.fuel) + passage_air + friction
    c = draught - gap_fuel * gap_fuel - passage_fuel - way.fuel * (ends * way.fuel + friction)
    air: Array = 2.0 * c / (b + np.sqrt(b * b + 4.0 * a * np.maximum(c, 0.0)))
    return air


def reynolds_number(way: AirWay, gas: GasState, air: Array) -> Array:
    """Give the greater Reynolds number: tubes on the bore, passage on twice the gap."""
    through = air + way.fuel
    passage = 2.0 * through / (way.passage_width * gas.passage_viscosity)
    greater: Array = np.maximum(4.0 * through / (way.tubes_round * gas.tube_viscosity), passage)
    return greater


def _laws(way: AirWay, gas: GasState) -> tuple[Array, Array, Array, Array, Array, Array]:
    """Factors of the air and terms of the fuel in each drop, at these gas temperatures."""
    thin = way.slot / np.sqrt(gas.gap_density)
    spread = way.passage * gas.passage_viscosity / gas.passage_density
    per_density = 1.0 / gas.tube_density
    return (
        way.primary_share * thin + way.slot_bypass,
        way.fuel * thin,
        way.primary_share * spread + way.passage_bypass * gas.passage_viscosity,
        way.fuel * spread,
        way.tube_ends * per_density,
        way.tube_friction * gas.tube_viscosity * per_density,
    )
