"""Invariants of `models.orifice_flow`: balances, signs, limits, bad points."""

import inspect
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models import fuel
from models.orifice_flow import (
    blower_jet,
    edge_drop,
    edge_resistance,
    hole_resistance,
    land_resistance,
    needle_opening,
    needle_valve,
    nozzle_mass_flux,
    quadratic_flow,
    series_flow,
)

ROWS = 64

DESIGNS = {
    "needle_turns": (0.1, 4.0),
    "thread_pitch": (0.3, 0.8),
    "seat_wear": (0.0, 0.02),
    "needle_angle": (4.0, 120.0),
    "seat_bore": (0.4, 3.0),
    "land_length": (0.0, 2.0),
    "land_taper": (0.0, 1.0),
    "tank_head": (1.0, 100.0),
    "feed_tube_bore": (1.2, 4.0),
    "feed_tube_length": (0.0, 100.0),
    "needle_discharge_coefficient": (0.5, 1.0),
    "needle_transition": (0.0, 1.0),
    "needle_eccentricity": (0.0, 1.0),
    "fuel_temperature": (0.0, 60.0),
    "fuel_water": (0.0, 0.15),
    "fuel_methanol": (0.0, 0.1),
    "burn_rate": (0.5, 10.0),
}

seeds = st.integers(0, 2**32 - 1)
few = settings(max_examples=15, deadline=None, derandomize=True)


def drawn(seed: int, **fixed: Any) -> dict[str, Any]:
    random = np.random.default_rng(seed)
    design = {name: random.uniform(*span, ROWS) for name, span in DESIGNS.items()}
    return design | fixed


def drops(flow: Any, design: dict[str, Any]) -> list[Any]:
    """Pressure lost in each part, written anew from physics.md's equations, SI units."""
    d = design
    mu = fuel.viscosity(d["fuel_temperature"], d["fuel_water"], d["fuel_methanol"]) / 1000
    rho = fuel.density(d["fuel_temperature"], d["fuel_water"])
    a = np.deg2rad(d["needle_angle"]) / 2
    D = d["seat_bore"] / 1000
    x = (d["needle_turns"] * d["thread_pitch"] - d["seat_wear"]) / 1000
    # Where the frustum is wider than the bore, the gap whose frustum is the bore's own area.
    s = np.minimum(x * np.sin(a), D * (1 - np.sqrt(1 - np.cos(a))) / (2 * np.cos(a)))
    W = np.pi * (D - s * np.cos(a))
    e = d["needle_eccentricity"]
    creeping = 8 * mu / (np.pi * (s / 2) ** 2 * W) / (1 + e**2 / 2) * flow
    jet = rho * flow**2 / (2 * (d["needle_discharge_coefficient"] * s * W) ** 2)
    edge = np.sqrt(creeping**2 + 2 * d["needle_transition"] * creeping * jet + jet**2)
    length = d["land_length"] / 1000
    theta = (np.arange(400) + 0.5) * np.pi / 400
    shift = e * s * np.cos(theta)[:, None]
    near, far = s + shift, s + d["land_taper"] * length * np.sin(a) + shift
    passed = np.mean(2 * near**2 * far**2 / (near + far), axis=0)
    land = 12 * mu * length * flow / (W * passed)
    bore = d["feed_tube_bore"] / 1000
    tube = 128 * mu * (d["feed_tube_length"] / 1000 + 3 * np.pi / 16 * bore) * flow
    tube = tube / (np.pi * bore**4)
    kinetic = 2.3 * rho * (flow / (np.pi * bore**2 / 4)) ** 2 / 2
    return [edge, land, tube, kinetic]


@few
@given(seeds)
def test_drops_in_series_add_up_to_the_head(seed: int) -> None:
    design = drawn(seed)
    flow = np.asarray(needle_valve(**design).feed_capacity) / 60e6
    rho = fuel.density(design["fuel_temperature"], design["fuel_water"])
    head = rho * 9.80665 * design["tank_head"] / 1000
    fine = ~np.isnan(flow)
    assert np.all(flow[fine] > 0)
    assert fine.sum() > ROWS // 2
    np.testing.assert_allclose(sum(drops(flow, design))[fine], head[fine], rtol=1e-9)


@few
@given(seeds)
def test_reported_ratio_lift_and_reynolds_belong_to_the_flow(seed: int) -> None:
    d = drawn(seed, needle_angle=20.0, seat_bore=6.0, feed_tube_bore=4.0)
    valve = needle_valve(**d)
    fine = ~np.isnan(np.asarray(valve.feed_capacity))
    lift = d["needle_turns"] * d["thread_pitch"] - d["seat_wear"]
    gap = lift * np.sin(np.radians(10.0))
    velocity = valve.feed_capacity / 60 / (np.pi * gap * (6.0 - gap * np.cos(np.radians(10.0))))
    viscosity = fuel.viscosity(d["fuel_temperature"], d["fuel_water"], d["fuel_methanol"])
    density = fuel.density(d["fuel_temperature"], d["fuel_water"])
    # ml/s over mm2 is m/s; hydraulic diameter 2 gap in mm, viscosity in mPa s.
    reynolds = density * velocity * 2 * gap / viscosity
    np.testing.assert_allclose(valve.needle_lift, lift, rtol=1e-13)
    np.testing.assert_allclose(valve.needle_reynolds[fine], reynolds[fine], rtol=1e-12)
    np.testing.assert_allclose(valve.feed_ratio * d["burn_rate"], valve.feed_capacity, rtol=1e-14)


@pytest.mark.parametrize(
    ("name", "step", "sign"),
    [
        ("needle_turns", 0.1, +1),
        ("thread_pitch", 0.05, +1),
        ("tank_head", 1.0, +1),
        ("needle_discharge_coefficient", 0.05, +1),
        ("needle_eccentricity", 0.1, +1),
        ("fuel_temperature", 5.0, +1),  # warmer is thinner
        ("fuel_methanol", 0.02, +1),  # thinner too
        ("feed_tube_bore", 0.2, +1),
        ("land_taper", 0.1, +1),
        ("seat_wear", 0.01, -1),
        ("land_length", 0.1, -1),
        ("feed_tube_length", 5.0, -1),
        ("needle_transition", 0.1, -1),
    ],
)
def test_signs(name: str, step: float, sign: int) -> None:
    """Thin needles well inside every range, so that no step meets the seat bore's own area."""
    design = drawn(11, needle_angle=10.0, seat_bore=3.0, needle_turns=np.linspace(0.3, 2.0, ROWS))
    design |= {"needle_discharge_coefficient": 0.7, "fuel_temperature": 30.0}
    design |= {"fuel_methanol": 0.05, "needle_eccentricity": 0.4, "needle_transition": 0.5}
    design |= {"land_taper": 0.5, "tank_head": 20.0}
    before = np.asarray(needle_valve(**design).feed_capacity)
    after = np.asarray(needle_valve(**(design | {name: design[name] + step})).feed_capacity)
    assert not np.isnan(before).any()
    assert np.all(sign * (after - before) > 0)


@pytest.mark.parametrize("turns", [0.0, 0.04, 0.039999])
def test_shut_needle_passes_nothing(turns: float) -> None:
    for land in (0.0, 0.5):
        flow = needle_valve(needle_turns=turns, thread_pitch=0.5, seat_wear=0.02, land_length=land)
        assert [float(value) for value in flow] == [0.0, 0.0, 0.0, 0.0]


def test_flow_rises_from_shut_without_a_jump() -> None:
    turns = 0.04 + np.geomspace(1e-8, 1e-1, 50)
    flow = np.asarray(needle_valve(needle_turns=turns, seat_wear=0.02).feed_capacity)
    assert np.all(np.diff(flow) >= 0)
    assert flow[0] < 1e-12


def test_no_head_no_flow() -> None:
    assert float(needle_valve(tank_head=0.0).feed_capacity) == 0.0


@few
@given(seeds)
def test_flow_area_is_the_frustum_and_never_more_than_the_bore(seed: int) -> None:
    random = np.random.default_rng(seed)
    lift, bore = random.uniform(0, 5e-3, ROWS), random.uniform(2e-4, 3e-3, ROWS)
    half = np.radians(random.uniform(1.0, 89.0, ROWS))
    gap, circumference = needle_opening(lift, half, bore)
    area, own = gap * circumference, np.pi * bore**2 / 4
    assert np.all(area <= own * (1 + 1e-14))
    s = lift * np.sin(half)
    frustum = np.pi * s * (bore - s * np.cos(half))
    narrow = (s < bore / (2 * np.cos(half))) & (frustum < own)
    np.testing.assert_allclose(area[narrow], frustum[narrow], rtol=1e-13)
    np.testing.assert_allclose(area[~narrow], own[~narrow], rtol=1e-13)


def test_a_needle_drawn_right_out_changes_nothing_more() -> None:
    wide = {"needle_angle": 30.0, "seat_bore": 0.5, "seat_wear": 0.0, "tank_head": 10.0}
    far = needle_valve(needle_turns=np.array([4.0, 10.0, 1000.0]), **wide).feed_capacity
    assert not np.isnan(far).any()
    np.testing.assert_allclose(far, far[0], rtol=1e-14)


@pytest.mark.parametrize("transition", [0.0, 0.5, 1.0])
def test_creeping_and_inertial_ends_are_exact(transition: float) -> None:
    a, b = 3.0e9, 2.0e16
    # Where one loss is 1e10 times the other only that one is left, to 1e-10.
    creeping = series_flow(a**2 / b * 1e-10, a, b, transition, 0.0, 0.0)
    inertial = series_flow(a**2 / b * 1e20, a, b, transition, 0.0, 0.0)
    assert creeping == pytest.approx(a**2 / b * 1e-10 / a, rel=2e-10)
    assert inertial == pytest.approx(np.sqrt(a**2 / b * 1e20 / b), rel=2e-10)


def test_transition_of_one_is_the_plain_sum() -> None:
    head, a, b, linear, quadratic = np.random.default_rng(3).uniform(1, 9, (5, ROWS))
    flow = series_flow(head, a, b, 1.0, linear, quadratic)
    np.testing.assert_allclose(flow, quadratic_flow(head, a + linear, b + quadratic), rtol=1e-14)
    np.testing.assert_allclose(edge_drop(flow, a, b, 1.0), a * flow + b * flow**2, rtol=1e-14)


@few
@given(seeds)
def test_series_flow_is_solved_whatever_the_orders_of_magnitude(seed: int) -> None:
    random = np.random.default_rng(seed)
    head, a = 10 ** random.uniform(-3, 5, 512), 10 ** random.uniform(0, 25, 512)
    b = a**2 / head * 10 ** random.uniform(-8, 8, 512)
    linear, quadratic = random.choice([0, 0.01, 1, 100], (2, 512)) * np.array([a, b])
    transition = random.choice([0, 0.01, 0.5, 1], 512)
    q = series_flow(head, a, b, transition, linear, quadratic)
    lost = edge_drop(q, a, b, transition) + linear * q + quadratic * q**2
    np.testing.assert_allclose(lost, head, rtol=1e-12)


def test_quadratic_keeps_its_figures_where_a_root_cancels() -> None:
    assert quadratic_flow(1.0, 1e12, 1e-3) == pytest.approx(1e-12, rel=1e-15)
    assert quadratic_flow(4.0, 0.0, 1.0) == 2.0


def test_hole_limits_are_sampson_and_poiseuille() -> None:
    mu, d = 1.2e-3, 0.4e-3
    assert hole_resistance(d, 0.0, mu) == pytest.approx(24 * mu / d**3, rel=1e-15)
    long = 1e6 * d
    poiseuille = 128 * mu * long / (np.pi * d**4)
    assert hole_resistance(d, long, mu) == pytest.approx(poiseuille, rel=1e-6)
    assert hole_resistance(d, long, mu) > poiseuille


@few
@given(seeds)
def test_land_is_the_mean_over_the_ring_of_strips_in_parallel(seed: int) -> None:
    """Reynolds' equation for each strip, by quadrature along and around."""
    random = np.random.default_rng(seed)
    gap, widening = random.uniform(5e-6, 2e-4, ROWS), random.uniform(0, 4e-4, ROWS)
    e, length, mu, circumference = random.uniform(0, 0.9, ROWS), 1e-3, 1.2e-3, 3e-3
    theta = 2 * np.pi * np.arange(256) / 256
    node, weight = np.polynomial.legendre.leggauss(64)
    along = 0.5 * (1 + node)
    here = (gap * (1 + e * np.cos(theta)[:, None]))[..., None] + widening[:, None] * along
    conductance = np.mean(1 / np.sum(0.5 * weight / here**3, axis=-1), axis=0)
    expected = 12 * mu * length / (circumference * conductance)
    got = land_resistance(gap, circumference, length, mu, widening, e)
    np.testing.assert_allclose(got, expected, rtol=1e-6)


def test_touching_needle_has_finite_land_resistance() -> None:
    gap = 3e-5
    touching = land_resistance(gap, 3e-3, 1e-3, 1e-3, 0.0, 1.0)
    centred = land_resistance(gap, 3e-3, 1e-3, 1e-3)
    assert centred / touching == pytest.approx(2.5, rel=1e-14)
    assert (
        1.0
        < land_resistance(gap, 3e-3, 1e-3, 1e-3, 1e-5, 0.0)
        / land_resistance(gap, 3e-3, 1e-3, 1e-3, 1e-5, 1.0)
        < 2.5
    )


def test_edge_off_centre_is_the_mean_of_the_gap_squared() -> None:
    e, theta = 0.7, 2 * np.pi * np.arange(64) / 64
    each = 1 / edge_resistance(1e-4 * (1 + e * np.cos(theta)), 3e-3, 1e-3)
    assert 1 / edge_resistance(1e-4, 3e-3, 1e-3, e) == pytest.approx(each.mean(), rel=1e-14)


def test_tube_beyond_laminar_flow_is_nan() -> None:
    wide = {"seat_bore": 6.0, "needle_turns": 20.0, "land_length": 0.0, "feed_tube_bore": 3.0}
    capacity = needle_valve(tank_head=np.array([1.0, 1000.0]), **wide).feed_capacity
    assert np.isfinite(capacity[0])
    assert np.isnan(capacity[1])


BAD = [
    (needle_valve, {"needle_turns": -1.0}),
    (needle_valve, {"thread_pitch": 0.0}),
    (needle_valve, {"seat_wear": -0.1}),
    (needle_valve, {"needle_angle": 0.0}),
    (needle_valve, {"needle_angle": 180.0}),
    (needle_valve, {"seat_bore": 0.0}),
    (needle_valve, {"land_length": -0.1}),
    (needle_valve, {"land_taper": 1.1}),
    (needle_valve, {"tank_head": -1.0}),
    (needle_valve, {"feed_tube_bore": 0.0}),
    (needle_valve, {"feed_tube_length": -1.0}),
    (needle_valve, {"needle_discharge_coefficient": 0.0}),
    (needle_valve, {"needle_transition": -0.1}),
    (needle_valve, {"needle_eccentricity": 1.1}),
    (needle_valve, {"fuel_temperature": 61.0}),
    (needle_valve, {"fuel_water": 0.2}),
    (needle_valve, {"fuel_methanol": -0.1}),
    (blower_jet, {"jet_bore": 0.0}),
    (blower_jet, {"steam_pressure": -0.1}),
    (blower_jet, {"steam_pressure": 7.0}),
    (blower_jet, {"jet_discharge_coefficient": 1.1}),
    (blower_jet, {"steam_dryness": 0.89}),
    (blower_jet, {"ambient_pressure": 0.0}),
]
WORSE = [
    (model, {name: value})
    for model in (needle_valve, blower_jet)
    for name in inspect.signature(model).parameters
    for value in (np.nan, np.inf, -np.inf, -1e300, 1e300)
]


@pytest.mark.parametrize(("model", "change"), BAD + WORSE)
def test_bad_point_is_nan_and_leaves_its_neighbours(
    model: Callable[..., Any], change: dict[str, float]
) -> None:
    ((name, value),) = change.items()
    good = inspect.signature(model).parameters[name].default
    reference, alone = model(), model(**change)
    among = model(**{name: np.array([good, value, good])})
    if name in ("burn_rate",):
        assert np.isnan(alone.feed_ratio)
        assert np.isfinite(alone.feed_capacity)
    else:
        assert np.isnan(alone[0])
    for one, three in zip(reference, among, strict=True):
        around = np.broadcast_to(three, 3)
        assert around[0] == around[2] == pytest.approx(float(one), rel=1e-14)
    assert np.array_equal(np.broadcast_to(among[0], 3)[1], alone[0], equal_nan=True)


def test_shut_needle_does_not_hide_a_bad_point() -> None:
    assert np.isnan(needle_valve(needle_turns=0.0, land_length=-1.0).feed_capacity)
    assert np.isnan(needle_valve(needle_turns=0.0, fuel_water=0.5).feed_capacity)


def test_held_numbers_give_what_full_arrays_give() -> None:
    design = drawn(5)
    held = {name: float(values[0]) for name, values in design.items()}
    full = {name: np.full(ROWS, value) for name, value in held.items()}
    for number, array in zip(needle_valve(**held), needle_valve(**full), strict=True):
        assert np.ndim(number) == 0
        np.testing.assert_allclose(array, number, rtol=1e-13)
    crossed = needle_valve(needle_turns=np.ones((3, 1)), tank_head=np.ones(4))
    assert np.shape(crossed.feed_capacity) == (3, 4)


def test_steam_of_the_worked_jets() -> None:
    """Arithmetic of physics.md 5 (perfect gas, 4 bar absolute, Cd 1), not an outside source."""
    steam = blower_jet(
        jet_bore=np.array([0.40, 0.50]),
        steam_pressure=4.0 - 1.01325,
        jet_discharge_coefficient=1.0,
        steam_dryness=1.0,
    ).blower_steam
    assert [f"{value:.2f}" for value in steam] == ["4.37", "6.83"]


@few
@given(seeds)
def test_steam_signs(seed: int) -> None:
    random = np.random.default_rng(seed)
    pressure, bore = random.uniform(0.0, 6.4, ROWS), random.uniform(0.1, 2.0, ROWS)
    reference = np.asarray(blower_jet(bore, pressure).blower_steam)
    assert np.all(np.asarray(blower_jet(bore, pressure + 0.1).blower_steam) > reference)
    assert np.all(blower_jet(bore, pressure, steam_dryness=0.95).blower_steam > reference)
    np.testing.assert_allclose(blower_jet(2 * bore, pressure).blower_steam, 4 * reference)
    assert float(blower_jet(steam_pressure=0.0).blower_steam) == 0.0


def test_choked_flux_is_the_closed_form_and_takes_no_notice_downstream() -> None:
    g = 1.135
    critical = (2 / (g + 1)) ** (g / (g - 1))
    back = np.array([0.0, 0.1, 0.5, 0.999, 1.0]) * critical
    flux = nozzle_mass_flux(1.0, back, 1.0, g, 1.0)
    closed = np.sqrt(g) * (2 / (g + 1)) ** ((g + 1) / (2 * (g - 1)))
    np.testing.assert_allclose(flux, closed, rtol=1e-13)
    above = nozzle_mass_flux(1.0, np.linspace(critical, 1.0, 50)[1:], 1.0, g, 1.0)
    assert np.all(np.diff(above) < 0)
    assert above[0] < closed
    assert above[-1] == 0.0


def test_nominal_valve_feeds_its_fire_and_nominal_jet_spares_the_boiler() -> None:
    assert 1.0 < float(needle_valve().feed_ratio) < 4.0
    assert 1.0 < float(blower_jet().blower_steam) < 10.0
