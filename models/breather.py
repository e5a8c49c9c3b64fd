"""What holds the air out at the breather: the mouth's inner rim, its outer rim and its slant.

The breather ends in the sump with its mouth down. Air has to pass two menisci on its way in:
the ring of fuel that hangs from the tube's outer rim to the sump's surface, and the face that
spans the bore. Both are static, axisymmetric and solved; the numbers here are fits to those
solutions (`tests/published/test_breather_entry.py` and `test_breather_ring.py` solve them anew).
"""

import math
from typing import Annotated, NamedTuple

import numpy as np

from models.arrays import STANDARD_GRAVITY, Array
from models.fuel import density, surface_tension
from models.ranges import ANY_NOT_NEGATIVE, ANY_POSITIVE, SCARF, SHARE, within

SCARF_RADIUS_FACTOR_RANGE = (1.0, 1.6)
RECEDING_RANGE = (0.0, 60.0)
"""Receding contact angles on the end face for which the ring was solved, deg."""

RIM_RANGE = (0.1, 6.0)
"""Radii of the outer rim, in capillary lengths, for which the ring was solved."""

BOND_NUMBER_HELD = 5.783186
"""Square of the first zero of the Bessel function J0: above it a mouth holds no head at all."""

BOND_NUMBER_RISING = 0.842
"""Bond number above which a long bubble rises by itself in a filled tube (Bretherton 1961)."""

FULL_SCARF = 30.0
"""Scarf from which the fuel on the tube's side is taken to shut the mouth, deg: a guess."""

_MM = 1e-3  # m


class BreatherMouth(NamedTuple):
    """Where fuel covers the mouth and how far below it air enters; all in mm."""

    mouth: Array  # upper lip of the mouth above the sump floor
    inner_depression: Array  # below the mouth, the head that the face in the bore bears
    outer_depression: Array  # below the mouth, where the ring on the outer rim lets go
    closing_depth: Array  # below the mouth, where rising fuel shuts it
    enters: Array  # mean level at which air enters
    closes: Array  # mean level at which the mouth is shut again


def entry_pressure_factor(
    bond_number: Annotated[Array, "", "rho g r^2/sigma of the mouth", ">= 0"] = 0.5,
) -> Annotated[Array, "", "K: most pressure the meniscus bears, in sigma/r"]:
    """Pressure K sigma/r at which air breaks into a tube that is full of liquid, mouth down.

    The meniscus hangs on the inner rim and bulges up into the liquid, so gravity helps it in:
    K is the greatest of 2/b - Bo h over all axisymmetric Young-Laplace shapes (b radius of
    curvature at the top, h height of the top, both in r). Fitted to our own solution as

    K = (1 - y)^(3/2) (2 - 0.147921 Bo + 0.021868 Bo^2 - 3.1848e-3 Bo^3 + 2.2275e-4 Bo^4),
    y = Bo/5.783186

    within 0.0002 for all Bo >= 0 (0.01 % of its greatest value). Both ends are exact:
    2 - 2 Bo/3 for small Bo, and nothing from Bo = j_{0,1}^2 = 5.783 on, where a flat face that
    is held at the rim, with liquid above and constant pressure below, falls by itself. A face
    that is free to slide at the rim tilts and lets air in from Bo = j'_{1,1}^2 = 3.39 on:
    at most 0.44 sigma/r is in doubt there, and `air_entry_factor` has to carry it.
    """
    bond = np.minimum(within(bond_number, ANY_NOT_NEGATIVE), BOND_NUMBER_HELD)
    held = 1.0 - bond / BOND_NUMBER_HELD
    series = 2.0 + bond * (-0.147921 + bond * (0.021868 + bond * (-3.1848e-3 + bond * 2.2275e-4)))
    factor: Array = held * np.sqrt(held) * series
    return factor


def ring_depth(
    rim_radius: Annotated[Array, "", "radius of the outer rim, in capillary lengths", "> 0"] = 1.76,
    turn_short: Annotated[
        Array, "deg", "angle by which the liquid stays short of turning right over", "0..60"
    ] = 0.0,
) -> Annotated[Array, "", "x: how far the level sinks below the rim, in capillary lengths"]:
    """Depth at which a ring of liquid that hangs on the outer rim of a tube lets go.

    A raised meniscus outside a round rim of radius R, in a wide sump: the axisymmetric
    Young-Laplace equation with no slope far away. Its height x has a greatest value over the
    slope psi at the rim, the fold: a level that is imposed can sink no further. If the receding
    angle th on the end face is reached first, psi = 180 deg - th, the line slides inwards, where
    x is less, and that is letting go as well. Fitted to our own solution, L = ln R, th in rad:

    x0 = 2/(1 + exp(-(0.6549 + 1.1874 L + 0.0842 L^2 - 0.0227 L^3 - 0.0093 L^4))), th = 0,
    x = x0 (1 - 0.66 (1 - cos(th/2)) q), q = s^2/(s^2 - 1.97 s + 2.723),
    s = max(0, L + 1.205 + 0.714 ln th - 0.589 th + 0.584 th^2)

    within 0.25 % for th = 0 and 0.8 % up to 60 deg, R from 0.1 to 6; R is clipped to that.
    Limits: 2 cos(th/2) - 2/(3R) for large R; the greatest over psi of
    R sin psi (ln(4/(R (1 + cos psi))) - 0.5772) for small R (James 1974, J. Fluid Mech. 63,
    657; from memory).

    The wall of a sump at 3, 2, 1.5 and 1 capillary lengths from the tube raises x by 0.1, 0.5,
    1.5 and 5 % (R = 1.76); nearer than that is a slot that never dries.
    """
    L = _log_rim(rim_radius)
    rises = 0.6549 + L * (1.1874 + L * (0.0842 - L * (0.0227 + L * 0.0093)))
    wetted: Array = 2.0 / (1.0 + np.exp(-rises))
    short = np.deg2rad(within(turn_short, RECEDING_RANGE))
    bend = 1.205 + 0.714 * np.log(np.maximum(short, 1e-9)) - short * (0.589 - 0.584 * short)
    s = np.maximum(L + bend, 0.0)
    square = s * s
    half = 0.25 * short * short
    turned = half * (0.5 - half * (1.0 / 24.0 - half / 720.0))  # 1 - cos(th/2), to 2e-6 of it
    depth: Array = wetted * (1.0 - 0.66 * turned * square / (square - 1.97 * s + 2.723))
    return depth


def side_rise(
    rim_radius: Annotated[Array, "", "radius of the tube outside, in capillary lengths"] = 1.76,
) -> Annotated[Array, "", "rise of wetting liquid on the tube's side, in capillary lengths"]:
    """Rise of perfectly wetting liquid on the outside of an upright tube; R clipped to 0.1..6.

    sqrt(2)/(1 + exp(-(0.8696 + 0.9761 L + 0.0146 L^2 - 0.0029 L^3))), L = ln R: the same solution
    as `ring_depth`, at a slope of 90 deg, within 0.06 %; sqrt(2) on a plane wall (textbook).
    """
    L = _log_rim(rim_radius)
    rises = 0.8696 + L * (0.9761 + L * (0.0146 - L * 0.0029))
    rise: Array = math.sqrt(2.0) / (1.0 + np.exp(-rises))
    return rise


def _log_rim(rim_radius: Array) -> Array:
    """Logarithm of a rim's radius in capillary lengths, brought into `RIM_RANGE`."""
    low, high = RIM_RANGE
    logarithm: Array = np.log(np.minimum(np.maximum(within(rim_radius, ANY_POSITIVE), low), high))
    return logarithm


def bond_number_at_1_mm(
    fuel_temperature: Array = 20.0, fuel_water: Array = 0.0
) -> Annotated[Array, "", "rho g r^2/sigma of a mouth 1 mm in radius"]:
    """Bond number by which others go as the square of their radius in mm."""
    gravity = density(fuel_temperature, fuel_water) * (STANDARD_GRAVITY * _MM * _MM / 1e-3)
    return gravity / surface_tension(fuel_temperature, fuel_water)


def breather_mouth(
    *,
    breather_height: Array,
    breather_bore: Array,
    breather_wall: Array,
    breather_scarf: Array,
    breather_chamfer: Array,
    scarf_radius_factor: Array,
    scarf_closing: Array,
    air_entry_factor: Array,
    cling_factor: Array,
    receding_angle: Array,
    slosh_amplitude: Array,
    bond_at_1_mm: Array,
) -> BreatherMouth:
    """Levels at which air enters the mouth and at which fuel shuts it, mm above the sump floor.

    Arguments as in `models.fuel_level.fuel_level` and `bond_number_at_1_mm`; NaN where one is
    outside its range. s is the scarf, l the capillary length, r the radius of the bore:

    * mouth = breather_height + 2 r tan s, the upper lip of a slanted mouth;
    * inner = air_entry_factor K(Bo) sigma/(r_e rho g), r_e = r (1 + (scarf_radius_factor - 1)
      tan s), Bo = rho g r_e^2/sigma (`entry_pressure_factor`);
    * outer = cling_factor l x(r_o/l, min(receding_angle + s, 60 deg)) (`ring_depth`), r_o the
      outer rim, r + breather_wall (1 - breather_chamfer);
    * air enters below the mouth by the greater of the two, never by their sum: when the ring
      breaks, the pressure in the tube is continuous, so the face in the bore has at once to bear
      rho g outer. If it cannot, air enters at that moment; if it can, the sump falls on to inner;
    * closing_depth = scarf_closing l h90 min(1, s/30 deg) (`side_rise`), at most as deep as air
      enters: fuel that climbs the side of a slanted end shuts it before the level is at the lip;
    * slosh of amplitude a at the mouth lets air in at its troughs: air enters at a mean level
      higher by a, and the mouth stays shut only from a mean level on whose troughs do not open
      it again. Always up, quasi-static, below some 10 Hz. That rests on a vacuum that each entry
      of air breaks down whole, so that the valve runs on. Were the feed to stop at the next
      crest, a valve that passes twice the burn would let the mean sink further: for a
      depression of 1 mm to -0.51 and -0.47 instead of -0.43 and 0.48 mm (a 0.6 and 1.5), for
      2.7 mm to -1.06 instead of 0.27 (a 3), a plain run in time.

    At the upper lip of a scarf the face falls away by s, so that the liquid under it may turn
    to 180 deg - s - receding_angle only: it acts as a receding angle. Bounds by the same
    equations, a 45 deg scarf on 6 mm outside: 1.94 to 2.55 mm, where a square end has 2.71. The
    slanted mouth was not solved in three dimensions, and the blend up to 30 deg is a guess.
    """
    bore = within(breather_bore, ANY_POSITIVE)
    radius = 0.5 * bore
    scarf = within(breather_scarf, SCARF)
    slant: Array = np.tan(np.deg2rad(scarf))
    widening = (within(scarf_radius_factor, SCARF_RADIUS_FACTOR_RANGE) - 1.0) * slant
    entered = radius * (1.0 + widening)
    bond_over_radius = bond_at_1_mm * entered
    borne = entry_pressure_factor(bond_over_radius * entered) / bond_over_radius
    inner = within(air_entry_factor, ANY_NOT_NEGATIVE) * borne

    per_mm = np.sqrt(bond_at_1_mm)  # 1/l, l the capillary length in mm
    wall = within(breather_wall, ANY_NOT_NEGATIVE)
    rim = (radius + wall * (1.0 - within(breather_chamfer, SHARE))) * per_mm
    short = np.minimum(within(receding_angle, RECEDING_RANGE) + scarf, RECEDING_RANGE[1])
    outer = within(cling_factor, ANY_NOT_NEGATIVE) * ring_depth(rim, short) / per_mm

    depression = np.maximum(inner, outer)
    slanted = within(scarf_closing, SHARE) * np.minimum(scarf * (1.0 / FULL_SCARF), 1.0)
    # Most ends are square, and need no rise on their side.
    rise = side_rise((radius + wall) * per_mm) / per_mm if np.any(slanted) else 0.0
    closing = np.minimum(slanted * rise, depression)
    mouth = within(breather_height, ANY_POSITIVE) + bore * slant
    enters = mouth - depression + within(slosh_amplitude, ANY_NOT_NEGATIVE)
    return BreatherMouth(
        mouth, inner, outer, closing, enters=enters, closes=np.maximum(mouth - closing, enters)
    )
