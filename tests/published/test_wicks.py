"""Wicks placed in space one by one, and their feed in series, apart from the model's algebra.

The printed values were worked out independently by placing every wick in space: 20 degC, 6 % of
water, 0.5 mm lost to the first wick; edges of the level in the sump at the breather's mouth.
"""

from typing import NamedTuple

import fluids
import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import norm

from models import fuel
from models.fuel_level import shift_at_wick
from models.wicks import wicks

G = 9.80665
LOSS_TO_FIRST = 0.5


class Burner(NamedTuple):
    """One burner, its track and its level; mm, deg, %, m/s2, ml/min."""

    count: int
    pitch: float
    manifold: bool
    angle: float  # tilt of the pipe, or roll of the manifold
    height: float
    bore: float
    lip: float
    lip_errors: tuple[float, ...]
    reach: float
    lateral: float
    grade: float
    acceleration: float
    cant: float
    upper_edge: float
    lower_edge: float
    burn_rate: float


LEVEL_LIPS = (0.0, 0.0, 0.0)
PRINTED = [
    (
        Burner(4, 10.0, False, 1.5, 8.0, 3.2, 6.6, (0.1, -0.2, 0.05, -0.1), 95.0, 9.0, 0.5, 0.05,
               1.0, 12.4, 11.6, 3.0),
        (1.0444, 2, 2.0810, 4),
    ),
    (
        Burner(4, 10.0, False, -2.0, 8.1, 3.2, 6.6, (0.0, 0.1, 0.1, -0.3), 95.0, 0.0, -0.8, 0.0,
               0.0, 12.5, 11.5, 3.4),
        (1.8529, 4, 0.5400, 1),
    ),
    (
        Burner(6, 8.0, False, 0.5, 7.9, 3.0, 6.8, (0.0, 0.2, -0.1, 0.1, -0.25, 0.05), 110.0, -12.0,
               1.0, -0.1, 2.0, 12.0, 11.0, 4.0),
        (3.1407, 1, 0.1803, 6),
    ),
    (
        Burner(3, 12.0, True, 1.2, 8.0, 3.2, 6.6, LEVEL_LIPS, 95.0, 0.0, 0.0, 0.0, 1.5, 12.4, 11.5,
               3.0),
        (2.1371, 3, 1.3371, 1),
    ),
    (
        Burner(2, 14.0, True, -2.0, 8.2, 3.2, 6.4, (0.15, -0.15), 90.0, 5.0, 0.3, 0.1, -1.0, 12.6,
               11.7, 2.5),
        (0.6273, 2, 2.3783, 1),
    ),
]  # fmt: skip


def answer(burner):
    """The model's own, with the margins at the first wick that `fuel_level` would give it."""
    shift = shift_at_wick(
        burner.reach, burner.lateral, burner.grade, burner.acceleration, burner.cant
    )
    crown = burner.height + 0.5 * burner.bore
    layout = {"manifold": float(burner.manifold)}
    layout["manifold_roll" if burner.manifold else "burner_tilt"] = burner.angle
    lips = {f"wick_lip_error_{i}": error for i, error in enumerate(burner.lip_errors, 1)}
    return wicks(
        flood_margin=burner.height + burner.lip - (burner.upper_edge + shift),
        wick_starve_margin=burner.lower_edge + shift - LOSS_TO_FIRST - crown,
        sump_starve_margin=1e3,
        wick_hold=0.0,
        wick_count=burner.count,
        wick_pitch=burner.pitch,
        grade=burner.grade,
        acceleration=burner.acceleration,
        cant=burner.cant,
        pipe_bore=burner.bore,
        burn_rate=burner.burn_rate,
        **layout,
        **lips,
    )


@pytest.mark.parametrize(("burner", "printed"), PRINTED)
def test_printed_margins_and_wicks(burner, printed):
    found = answer(burner)
    flood, first_to_flood, starve, first_to_starve = printed
    assert found.flood_margin_all == pytest.approx(flood, abs=5.01e-5)  # half the last digit
    assert found.starve_margin_all == pytest.approx(starve, abs=5.01e-5)
    assert (found.first_to_flood, found.first_to_starve) == (first_to_flood, first_to_starve)


# Placed in space: the frame of the engine turned by rotation matrices, the surface of the fuel
# a plane square to what the fuel feels, every lip and crown a point.


def turn(axis, angle):
    """Rotation matrix about axis 0, 1 or 2 by an angle in radians (right-handed)."""
    c, s = np.cos(angle), np.sin(angle)
    i, j = ((1, 2), (2, 0), (0, 1))[axis]
    matrix = np.eye(3)
    matrix[i, i] = matrix[j, j] = c
    matrix[i, j], matrix[j, i] = -s, s
    return matrix


def placed(burner, upright=True):
    """Lips and crowns over the levels, one a wick, mm; in the frame x along, y across, z up."""
    # The engine goes down at the wicks by the grade, and down on the side of positive y.
    frame = turn(1, np.arctan(burner.grade / 100.0)) @ turn(0, -np.deg2rad(burner.cant))
    along = frame[:, 0]
    felt = frame.T @ (np.array([0.0, 0.0, -G]) + burner.acceleration * along)
    angle = np.deg2rad(burner.angle)
    pipe = turn(0, angle) if burner.manifold else turn(1, -angle)
    direction = pipe[:, 1] if burner.manifold else pipe[:, 0]
    up = np.array([0.0, 0.0, 1.0]) if upright else pipe[:, 2]
    middle = 0.5 * (burner.count - 1) if burner.manifold else 0.0
    lips, crowns = [], []
    flow, lost = burner.burn_rate, LOSS_TO_FIRST
    for i, error in enumerate(burner.lip_errors):
        axis = np.array([burner.reach, burner.lateral, burner.height])
        axis = axis + (i - middle) * burner.pitch * direction
        lip = axis + (burner.lip + error) * up
        crown = axis + 0.5 * burner.bore * up
        # Height of the plane felt . (r - r0) = 0 at a point's x and y.
        for point, level, rest, fall in (
            (lip, burner.upper_edge, lips, 0.0),
            (crown, burner.lower_edge, crowns, lost),
        ):
            surface = level - (felt[0] * point[0] + felt[1] * point[1]) / felt[2]
            rest.append(point[2] - (surface - fall))
        # The next wick is fed through one pitch of pipe by what this one leaves.
        flow -= burner.burn_rate / burner.count
        if i + 1 < burner.count and not burner.manifold:
            rho = fuel.density(20.0, 0.06)
            lost += (
                fluids.one_phase_dP(
                    m=rho * flow * 1e-6 / 60.0,
                    rho=rho,
                    mu=fuel.viscosity(20.0, 0.06) * 1e-3,
                    D=burner.bore * 1e-3,
                    L=burner.pitch * 1e-3,
                )
                / (rho * G)
                * 1e3
            )
    return np.array(lips), -np.array(crowns)


def chance_burner(seed, most=2.0):
    rng = np.random.default_rng(seed)
    count = int(rng.integers(1, 7))
    return Burner(
        count,
        rng.uniform(6.0, 15.0),
        bool(seed % 2),
        rng.uniform(-most, most),
        8.0,
        rng.uniform(2.5, 4.0),
        6.6,
        tuple(rng.normal(0.0, 0.2, count)),
        95.0,
        rng.uniform(-15.0, 15.0),
        rng.uniform(-most, most),
        rng.uniform(-0.2, 0.2),
        rng.uniform(-most, most),
        12.4,
        11.5,
        rng.uniform(1.0, 5.0),
    )


BURNERS = [burner for burner, _ in PRINTED] + [chance_burner(seed) for seed in range(24)]


@pytest.mark.parametrize("burner", BURNERS)
def test_upright_wicks_placed_in_space(burner):
    found = answer(burner)
    lips, crowns = placed(burner)
    # Products of the leans over some 150 mm: 2 deg squared is 0.12 % of a shift of some mm.
    assert found.flood_margin_all == pytest.approx(lips.min(), abs=0.005)
    assert found.starve_margin_all == pytest.approx(crowns.min(), abs=0.005)
    for margins, number in ((lips, found.first_to_flood), (crowns, found.first_to_starve)):
        assert margins[int(number) - 1] == pytest.approx(margins.min(), abs=0.001)


@pytest.mark.parametrize("seed", range(24))
def test_one_lean_alone_is_exact(seed):
    burner = chance_burner(seed)
    lean = ({"grade": 0.0, "acceleration": 0.0}, {"cant": 0.0, "acceleration": 0.0})[seed % 2]
    burner = burner._replace(**lean)
    found = answer(burner)
    lips, crowns = placed(burner)
    assert found.flood_margin_all == pytest.approx(lips.min(), abs=1e-9)
    assert found.starve_margin_all == pytest.approx(crowns.min(), abs=1e-9)
    assert found.first_to_flood == lips.argmin() + 1
    assert found.first_to_starve == crowns.argmin() + 1


@pytest.mark.parametrize("seed", range(24))
def test_wicks_that_lean_with_the_pipe_move_by_a_hundredth(seed):
    """What the model's docstring states for 2 deg of tilt and 2 % of grade."""
    burner = chance_burner(seed)._replace(acceleration=0.0, cant=0.0)
    moved = np.abs(placed(burner)[0] - placed(burner, upright=False)[0])
    assert moved.max() < 0.01


@pytest.mark.parametrize(
    ("count", "printed"), [(2, 0.564), (3, 0.846), (4, 1.029), (5, 1.163), (6, 1.267)]
)
def test_lowest_of_several_normal_lips(count, printed):
    # Expected least of n normal values: n times the integral of x phi(x) (1 - Phi(x))^(n - 1).
    exact = quad(lambda x: count * x * norm.pdf(x) * norm.sf(x) ** (count - 1), -12.0, 12.0)[0]
    assert -exact == pytest.approx(printed, abs=5e-4)
    # The model's own: its mean over equally likely lips, each by its own quantiles.
    rng = np.random.default_rng(4)
    points = 400_000
    errors = norm.ppf((rng.permuted(np.tile(np.arange(points), (count, 1)), axis=1) + 0.5) / points)
    lips = {f"wick_lip_error_{i}": errors[i - 1] for i in range(1, count + 1)}
    low = wicks(flood_margin=0.0, wick_count=count, **lips).flood_margin_all
    assert low.mean() == pytest.approx(exact, abs=4.0 * low.std() / np.sqrt(points))


def test_a_tilt_and_a_roll_of_two_degrees():
    # Over 30 mm of wicks: 30 sin 2 deg in line, half of it to either side of a manifold.
    line = wicks(flood_margin=0.0, wick_count=4, burner_tilt=-2.0)
    across = wicks(flood_margin=0.0, wick_count=4, manifold=1.0, manifold_roll=2.0)
    assert line.flood_margin_all == pytest.approx(-1.05, abs=5e-3)
    assert across.flood_margin_all == pytest.approx(-0.52, abs=5e-3)
