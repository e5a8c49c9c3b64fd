"""Flow through small openings: the fuel past a needle, and steam through the blower jet.

The plain functions take and give SI units (m, Pa, Pa s, kg/m3, m3/s); the two models take
and give shop units. Arrays broadcast against each other, numbers stay numbers, and a point
outside its range gives NaN.
"""

from typing import Annotated, NamedTuple

import numpy as np

from models import fuel
from models.arrays import STANDARD_GRAVITY, Array
from models.quantities import (
    AmbientPressure,
    BurnRate,
    FuelMethanol,
    FuelTemperature,
    FuelWater,
    SteamPressure,
    TankHead,
)
from models.ranges import NOT_NEGATIVE, POSITIVE, within
from models.steam import saturation_temperature

STEAM_GAS_CONSTANT = 461.5
"""Gas constant of water vapour, J/(kg K)."""

STEAM_EXPANSION_EXPONENT = 1.135
"""Exponent of the expansion of steam that is saturated at the start (Zeuner)."""

TUBE_KINETIC_LOSS = 2.3
"""Velocity heads from reservoir to reservoir beyond Poiseuille's and Sampson's losses."""

LAMINAR_REYNOLDS = 2000.0
"""Reynolds number of a tube, on its bore, up to which Poiseuille's law is used."""

_MILLIMETRE = 1e-3
_ML_PER_MIN = 1e-6 / 60.0  # m3/s
_KG_PER_S_IN_G_PER_MIN = 60_000.0
_BAR = 1e5
_SHUT = 1e-9  # m: a gap of a nanometre is a needle on its seat
_NEWTON_STEPS = 4


def hole_resistance(bore: Array, length: Array, viscosity: Array) -> Array:
    """Laminar resistance of a round hole in a wall, Pa s/m3: mu (3 + 8 L/(pi r))/r^3.

    Sum of the two ends (Sampson 1891, Phil. Trans. R. Soc. A 182, 449, exact for L = 0) and
    of the tube (Poiseuille, exact for L >> r): Dagan, Weinbaum and Pfeffer 1982, J. Fluid
    Mech. 115, 505, who find the sum right within 1 % for every length (figure from memory).
    """
    radius = 0.5 * bore
    return viscosity * (3.0 + 8.0 / np.pi * length / radius) / radius**3


def edge_resistance(
    gap: Array, circumference: Array, viscosity: Array, eccentricity: Array = 0.0
) -> Array:
    """Creeping resistance of a thin-edged slot, Pa s/m3: 8 mu/(pi c^2 W), c half the gap.

    Roscoe 1949, Phil. Mag. 40, 338: the profile in the slot is the half ellipse
    u = dp/(4 mu) sqrt(c^2 - y^2). Exact for a straight slot of width W >> c in a thin wall.
    Set off centre by `eccentricity` (offset over mean gap, 0 to 1) the gap is
    s (1 + e cos theta) and the mean of its square is s^2 (1 + e^2/2).
    """
    centred = 32.0 / np.pi * viscosity / (gap**2 * circumference)
    return centred / (1.0 + 0.5 * eccentricity**2)


def land_resistance(
    gap: Array,
    circumference: Array,
    length: Array,
    viscosity: Array,
    widening: Array = 0.0,
    eccentricity: Array = 0.0,
) -> Array:
    """Laminar resistance of a thin ring-shaped gap, Pa s/m3: 12 mu l/(W G).

    A gap s at one end and s + widening at the other has G = 2 s^2 (s + w)^2/(2 s + w) by
    Reynolds' lubrication equation: s^3 where the faces are parallel. Off centre by e s,
    each strip of the ring passes its own share; with m = s + w/2 and k = w/2 the mean is

        G = s^2 (s + w)^2/m + (3/2) m (e s)^2 + k^4 (1/sqrt(m^2 - (e s)^2) - 1/m)

    which for parallel faces is the known s^3 (1 + (3/2) e^2). Exact for gaps thin against the
    radius; against the exact annulus (Bird, Stewart and Lightfoot 2002, 2.4) within 0.02 % at a
    tenth of the radius if W is taken half way across the gap.
    """
    mean, half = gap + 0.5 * widening, 0.5 * widening
    offset = (eccentricity * gap) ** 2
    # All terms are positive, so nothing cancels; the last is 1/sqrt(..) - 1/m made safe.
    root = np.sqrt(np.maximum(mean**2 - offset, np.finfo(np.float64).tiny))
    cubed = (
        (gap * (gap + widening)) ** 2 / mean
        + 1.5 * mean * offset
        + half**4 * offset / (mean * root * (mean + root))
    )
    return 12.0 * viscosity * length / (circumference * cubed)


def inertial_coefficient(area: Array, density: Array, discharge_coefficient: Array) -> Array:
    """Pressure over flow squared of a jet, Pa s2/m6: rho/(2 Cd^2 A^2) (Bernoulli)."""
    return density / (2.0 * (discharge_coefficient * area) ** 2)


def quadratic_flow(pressure: Array, linear: Array, quadratic: Array) -> Array:
    """Positive root of linear q + quadratic q^2 = pressure, m3/s, without cancellation."""
    root: Array = np.sqrt(linear**2 + 4.0 * quadratic * pressure)
    return 2.0 * pressure / (linear + root)


def edge_drop(flow: Array, creeping: Array, inertial: Array, transition: Array) -> Array:
    """Pressure lost at an edge, Pa: q sqrt(a^2 + 2 k a b q + (b q)^2).

    a is the creeping resistance, b the inertial coefficient. Both ends of the Reynolds range
    are exact for every k; k = 1 adds the two losses, k = 0 joins them in quadrature.
    """
    jet = inertial * flow
    total: Array = flow * np.sqrt(creeping**2 + jet * (2.0 * transition * creeping + jet))
    return total


def series_flow(
    pressure: Array,
    creeping: Array,
    inertial: Array,
    transition: Array,
    linear: Array,
    quadratic: Array,
) -> Array:
    """Flow, m3/s, for which an edge (see `edge_drop`) and linear q + quadratic q^2 take `pressure`.

    Newton's rule from the closed root for k = 1, which is never above the answer. The sum is
    convex and rises with q, so the first step lands above it and the others fall to it: no
    sample can run away. Four steps leave less than 1e-12 of the pressure.
    """
    q = quadratic_flow(pressure, creeping + linear, inertial + quadratic)
    cross = transition * creeping
    square = creeping**2
    for _ in range(_NEWTON_STEPS):
        jet = inertial * q
        edge = np.sqrt(square + jet * (2.0 * cross + jet))
        excess = q * (linear + quadratic * q + edge) - pressure
        slope = linear + 2.0 * quadratic * q + edge + jet * (cross + jet) / edge
        q = q - excess / slope
    return q


def needle_opening(lift: Array, half_angle: Array, seat_bore: Array) -> tuple[Array, Array]:
    """Gap (m) and mean circumference (m) between a cone and the edge of its seat.

    Lifted by x, a cone of half angle a (rad) stands s = x sin a from the edge, square to its
    face; with W = pi (D - s cos a) the area s W = pi x sin a (D - x sin a cos a) is that of a
    frustum (geometry; the least area is up to 0.7 % smaller for a up to 10 deg, 4 % at 45).
    From s = D/(2 (1 + sqrt(1 - cos a))) on, the area is the seat bore's own, pi D^2/4.
    """
    cosine = np.cos(half_angle)
    widest = 0.5 * seat_bore / (1.0 + np.sqrt(1.0 - cosine))
    gap: Array = np.minimum(lift * np.sin(half_angle), widest)
    return gap, np.pi * (seat_bore - gap * cosine)


def nozzle_mass_flux(
    pressure: Array,
    back_pressure: Array,
    temperature: Array,
    heat_capacity_ratio: Array,
    gas_constant: Array,
) -> Array:
    """Mass flow per area of a perfect gas expanding without friction, kg/(m2 s).

    G = p0 sqrt(2 g/((g - 1) R T0) r^(2/g) (1 - r^((g - 1)/g))) with r = back pressure/p0, but
    never less than the critical r = (2/(g + 1))^(g/(g - 1)), where the flow chokes and
    G = p0 sqrt(g/(R T0)) (2/(g + 1))^((g + 1)/(2 (g - 1))): Saint-Venant and Wantzel 1839.
    Pressures absolute, Pa; temperature in K; gas constant in J/(kg K).
    """
    g = heat_capacity_ratio
    critical = (2.0 / (g + 1.0)) ** (g / (g - 1.0))
    ratio = np.maximum(back_pressure / pressure, critical)
    fall = ratio ** (2.0 / g) * (1.0 - ratio ** ((g - 1.0) / g))
    flux: Array = np.sqrt(2.0 * g / ((g - 1.0) * gas_constant * temperature) * fall)
    return pressure * flux


class NeedleFlow(NamedTuple):
    """What a needle valve passes; the fields have the shape of the arguments together."""

    feed_capacity: Annotated[Array, "ml/min", "fuel the valve passes at the stated head"]
    feed_ratio: Annotated[Array, "", "feed capacity over burn rate"]
    needle_lift: Annotated[Array, "mm", "how far the needle stands off its seat"]
    needle_reynolds: Annotated[Array, "", "Reynolds number of the gap, on twice its width"]


def needle_valve(
    needle_turns: Annotated[Array, "", "turns the needle is opened from shut", ">= 0"] = 1.0,
    thread_pitch: Annotated[Array, "mm", "pitch of the needle's thread", "> 0"] = 0.5,
    seat_wear: Annotated[
        Array, "mm", "lift lost to wear of the seat and thread", ">= 0", "build: 0..0.08 triangular"
    ] = 0.02,
    needle_angle: Annotated[
        Array, "deg", "included angle of the needle's cone", "0..180", "read as angle"
    ] = 20.0,
    seat_bore: Annotated[Array, "mm", "bore of the needle's seat", "> 0", "read as bore"] = 1.0,
    land_length: Annotated[Array, "mm", "length of seat facing the cone; 0 an edge", ">= 0"] = 0.1,
    land_taper: Annotated[
        Array,
        "",
        "widening of the land's gap: 0 seat ground to the cone, 1 straight bore",
        "0..1",
        "model: 0..1 triangular",
    ] = 0.0,
    tank_head: Annotated[TankHead, ">= 0"] = 30.0,
    feed_tube_bore: Annotated[
        Array, "mm", "bore of the tube in series", "> 0", "read as bore"
    ] = 1.5,
    feed_tube_length: Annotated[
        Array, "mm", "length of the tube in series", ">= 0", "read as outside size"
    ] = 20.0,
    needle_discharge_coefficient: Annotated[
        Array,
        "",
        "discharge coefficient of the gap at high Reynolds number",
        "0..1",
        "model: 0.6..0.75",
    ] = 0.67,
    needle_transition: Annotated[
        Array,
        "",
        "joining of viscous and inertial edge loss: 1 sum, 0 quadrature",
        "0..1",
        "model: 0..1",
    ] = 1.0,
    needle_eccentricity: Annotated[
        Array, "", "needle off centre, over the gap: 0 centred, 1 touching", "0..1", "model: 0..1"
    ] = 0.3,
    fuel_temperature: FuelTemperature = 20.0,
    fuel_water: FuelWater = 0.06,
    fuel_methanol: FuelMethanol = 0.0,
    burn_rate: Annotated[BurnRate, "> 0"] = 3.0,
) -> NeedleFlow:
    """Fuel that a needle valve and its tube pass under the head of the tank.

    rho g H = q sqrt(a^2 + 2 k a b q + (b q)^2)     edge of the seat (`edge_drop`)
              + q 12 mu l/(W G)                     land (`land_resistance`)
              + q mu (3 + 8 L/(pi r))/r^3 + 2.3 rho q^2/(2 A_tube^2)    tube (`hole_resistance`)

    a = 8 mu/(pi c^2 W) (`edge_resistance`), b = rho/(2 Cd^2 A^2), gap 2 c and area A of the
    frustum from the lift turns * pitch - wear (`needle_opening`), never below 0: a shut needle
    passes nothing. 2.3 velocity heads: acceleration and developing flow, 1 + 1.25 to 1 + 1.33
    (Boussinesq 1891; Shah and London 1978). NaN above a tube Reynolds number of 2000.

    Doubts, as arguments: Cd 0.60 to 0.75; k 0 to 1. The plain sum k = 1 passes up to 20 % less
    than the thin-edged orifice of Hollingshead 2011 (Re 2 to 2e6, beta 0.5) with Cd 0.61, and
    still 11 % less with 0.75, at Re 10 to 30, where a needle works: Cd alone does not cover
    that. With k it is covered within 1.5 %. A gap with worn edges may not have that hump.
    Eccentricity multiplies the land's flow by up to 2.5 and is seldom known. A land as long
    as a few gaps passes many times more if it is a straight bore than if ground to the cone:
    `land_taper`. Left out: chamfer or burr on the edge (0 to +15 % flow), dirt, the frustum's
    curvature in a and in the land (some per cent), the vapour lock of a hot valve.
    """
    with np.errstate(all="ignore"):
        size = _MILLIMETRE
        mu = fuel.viscosity(fuel_temperature, fuel_water, fuel_methanol) * 1e-3
        rho = fuel.density(fuel_temperature, fuel_water)
        pressure = rho * STANDARD_GRAVITY * within(tank_head, NOT_NEGATIVE) * size
        coefficient = within(needle_discharge_coefficient, (1e-6, 1.0))
        eccentricity = within(needle_eccentricity, (0.0, 1.0))
        half_angle = np.radians(0.5 * within(needle_angle, (1e-6, 180.0 - 1e-6)))
        travel = within(needle_turns, NOT_NEGATIVE) * within(thread_pitch, POSITIVE)
        lift: Array = np.maximum(travel - within(seat_wear, NOT_NEGATIVE), 0.0)
        drawn, width = needle_opening(lift * size, half_angle, within(seat_bore, POSITIVE) * size)
        gap: Array = np.maximum(drawn, _SHUT)  # keeps the shut needle's resistances finite
        is_open: Array = np.where(drawn > _SHUT, 1.0, 0.0)

        length = within(land_length, NOT_NEGATIVE) * size
        widening = within(land_taper, (0.0, 1.0)) * length * np.sin(half_angle)
        land = land_resistance(gap, width, length, mu, widening, eccentricity)
        bore = within(feed_tube_bore, POSITIVE) * size
        tube = hole_resistance(bore, within(feed_tube_length, NOT_NEGATIVE) * size, mu)
        tube_jet = TUBE_KINETIC_LOSS * inertial_coefficient(0.25 * np.pi * bore**2, rho, 1.0)
        flow = series_flow(
            pressure,
            edge_resistance(gap, width, mu, eccentricity),
            inertial_coefficient(gap * width, rho, coefficient),
            within(needle_transition, (0.0, 1.0)),
            land + tube,
            tube_jet,
        )
        flow = flow * is_open  # not selected by np.where: what is NaN stays NaN
        tube_reynolds = 4.0 / np.pi * rho * flow / (bore * mu)
        flow = np.where(tube_reynolds <= LAMINAR_REYNOLDS, flow, np.nan)
        capacity = flow / _ML_PER_MIN
        return NeedleFlow(
            feed_capacity=capacity,
            feed_ratio=capacity / within(burn_rate, POSITIVE),
            needle_lift=lift,
            needle_reynolds=2.0 * rho * flow / (width * mu),
        )


class BlowerSteam(NamedTuple):
    """What the blower jet passes; the field has the shape of the arguments together."""

    blower_steam: Annotated[Array, "g/min", "steam the blower jet passes"]


def blower_jet(
    jet_bore: Annotated[Array, "mm", "bore of the blower jet", "> 0", "read as bore"] = 0.4,
    steam_pressure: Annotated[SteamPressure, ">= 0"] = 3.0,
    jet_discharge_coefficient: Annotated[
        Array, "", "discharge coefficient of the jet", "0..1", "model: 0.7..0.92 triangular"
    ] = 0.82,
    steam_dryness: Annotated[
        Array, "", "mass fraction of vapour in the steam", "0.9..1", "model: 0.9..1"
    ] = 0.97,
    ambient_pressure: Annotated[AmbientPressure, "> 0"] = 1.01325,
) -> BlowerSteam:
    """Steam that the blower jet lets out, water carried along included.

    m = Cd A G/sqrt(x), G of `nozzle_mass_flux` with g = 1.135 (Zeuner's exponent of steam
    saturated at the start), R = 461.5 J/(kg K) and T0 the saturation temperature; above
    0.74 bar the jet is choked, below it follows the same law unchoked. Dryness x: the critical
    flow of wet steam goes nearly as x^-1/2. Valid at 1 to 8 bar absolute, x 0.9 to 1; NaN
    outside.

    Saturated steam is denser than the perfect gas taken here, so G is below homogeneous
    equilibrium (IAPWS-95) by 1.3 % at 2 bar absolute, 2.1 % at 4 and 3.3 % at 8; from Napier's
    rule of 1866 it parts by +2.4 to -3.6 % over the same range. Metastable steam would pass 5 %
    more than equilibrium. All are inside the doubt of Cd: triangular 0.70, 0.82, 0.92 for a
    small drilled jet. Left out: cooling and blocking of the jet, pressure lost in the blower's
    pipe and valve, the smokebox's own vacuum.
    """
    with np.errstate(all="ignore"):
        around = within(ambient_pressure, (0.1, 8.0))
        boiler = within(steam_pressure, NOT_NEGATIVE) + around
        flux = nozzle_mass_flux(
            boiler * _BAR,
            around * _BAR,
            saturation_temperature(boiler) + 273.15,
            STEAM_EXPANSION_EXPONENT,
            STEAM_GAS_CONSTANT,
        )
        area = 0.25 * np.pi * (within(jet_bore, POSITIVE) * _MILLIMETRE) ** 2
        wet = np.sqrt(within(steam_dryness, (0.9, 1.0)))
        coefficient = within(jet_discharge_coefficient, (0.0, 1.0))
        steam: Array = coefficient * area * flux / wet * _KG_PER_S_IN_G_PER_MIN
        return BlowerSteam(blower_steam=steam)
