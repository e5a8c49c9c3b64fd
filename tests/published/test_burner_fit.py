"""Wick tubes placed in plan one by one, as circles in a rectangle, apart from the model."""

import numpy as np
import pytest

from models.burner_fit import burner_fit

PRINTED = [  # firebox length, width, wicks, pitch, tube outside, first wick x, y, yaw -> clearance
    ((45.23, 33.07, 3, 8.37, 7.8, 7.91, -1.87, -4.45), 4.010),
    ((52.66, 44.45, 5, 9.57, 6.56, 6.38, 0.07, 3.91), 3.100),
    ((55.51, 33.41, 4, 11.7, 7.41, 7.78, -2.36, -3.95), 4.075),
    ((44.04, 43.04, 4, 11.4, 7.93, 6.63, 0.1, 0.93), -0.750),
    ((45.5, 39.18, 5, 10.25, 6.45, 6.73, 1.02, -0.77), -5.451),
]


@pytest.mark.parametrize(("plan", "printed"), PRINTED)
def test_printed_clearance(plan, printed):
    # Worked out independently by placing every tube.
    length, width, count, pitch, outside, x, y, yaw = plan
    fit = burner_fit(
        firebox_length=length, firebox_width=width, wick_count=count, wick_pitch=pitch,
        wick_bore=outside, wick_tube_wall=0.0, burner_position=x, burner_offset=y, burner_yaw=yaw,
    )  # fmt: skip
    assert fit.wall_clearance == pytest.approx(printed, abs=5.01e-4)  # half the last digit


def rims(plan, manifold, points=720):
    """Points on the rims of all tubes, as complex numbers: the row is turned by e^(i yaw)."""
    count, pitch, outside, x, y, yaw = plan
    turn = np.exp(1j * np.deg2rad(yaw))
    places = np.arange(count) * pitch
    row = 1j * (places - places.mean()) * turn if manifold else places * turn
    circle = 0.5 * outside * np.exp(2j * np.pi * np.arange(points) / points)
    return (x + 1j * y + row)[:, None] + circle


@pytest.mark.parametrize("seed", range(20))
def test_tubes_placed_in_plan(seed):
    rng = np.random.default_rng(seed)
    manifold = bool(seed % 2)
    count, wall = int(rng.integers(1, 7)), 0.4
    outside = rng.uniform(5.0, 9.0)
    plan = (
        count, outside + rng.uniform(0.5, 4.0), outside, rng.uniform(0.0, 25.0),
        rng.uniform(-6.0, 6.0), rng.uniform(-20.0, 20.0),
    )  # fmt: skip
    length, width, frames = rng.uniform(40.0, 60.0), rng.uniform(35.0, 50.0), 34.0
    fit = burner_fit(
        firebox_length=length,
        firebox_width=width,
        frame_spacing=frames,
        wick_count=count,
        wick_pitch=plan[1],
        wick_bore=outside - 2.0 * wall,
        wick_tube_wall=wall,
        manifold=float(manifold),
        burner_position=plan[3],
        burner_offset=plan[4],
        burner_yaw=plan[5],
    )
    x, y = rims(plan, manifold).real, rims(plan, manifold).imag
    # The rim's points at 0, 90, 180 and 270 deg are the nearest ones to straight walls.
    assert fit.entry_clearance == pytest.approx(x.min(), abs=1e-9)
    assert fit.far_clearance == pytest.approx(length - x.max(), abs=1e-9)
    assert fit.side_clearance == pytest.approx(0.5 * width - np.abs(y).max(), abs=1e-9)
    assert fit.frame_clearance == pytest.approx(0.5 * frames - np.abs(y).max(), abs=1e-9)
    walls = min(x.min(), length - x.max(), 0.5 * width - np.abs(y).max())
    assert fit.wall_clearance == pytest.approx(walls, abs=1e-9)


def test_cover_of_the_grate_by_counting():
    plan = (4, 10.0, 7.8, 9.0, 0.0, 5.0)
    x, y = np.meshgrid(np.arange(0.05, 50.0, 0.1), np.arange(-22.45, 22.5, 0.1))
    centres = rims(plan, False).mean(axis=1)
    within = np.abs((x + 1j * y)[..., None] - centres).min(axis=-1) < 0.5 * 7.8
    fit = burner_fit(wick_count=4, burner_yaw=5.0)
    assert fit.grate_cover == pytest.approx(within.mean(), rel=2e-3)
    assert fit.length_cover == pytest.approx((3 * 10.0 + 7.8) / 50.0, rel=1e-12)
