"""Every wick: what is conserved, signs, mirror images, which wick, limits, shapes."""

import inspect

import hypothesis.extra.numpy as arrays
import hypothesis.strategies as st
import numpy as np
import pytest
from hypothesis import given, settings

from models.fuel_level import fuel_level
from models.wicks import nearest_the_air, wicks

DEFAULTS = {name: one.default for name, one in inspect.signature(wicks).parameters.items()}
LIPS = [f"wick_lip_error_{i}" for i in range(1, 7)]
SPANS = {  # wide but sane burners
    "flood_margin": (-2.0, 5.0),
    "wick_starve_margin": (-2.0, 5.0),
    "sump_starve_margin": (-2.0, 5.0),
    "wick_hold": (0.0, 6.0),
    "wick_pitch": (5.0, 15.0),
    "burner_tilt": (-4.0, 4.0),
    "manifold_roll": (-4.0, 4.0),
    **dict.fromkeys(LIPS, (-0.5, 0.5)),
    "grade": (-4.0, 4.0),
    "acceleration": (-1.0, 1.0),
    "cant": (-10.0, 10.0),
    "pipe_bore": (2.0, 5.0),
    "burn_rate": (0.0, 10.0),
    "fuel_temperature": (0.0, 60.0),
    "fuel_water": (0.0, 0.15),
}
SHARES = arrays.arrays(float, (len(SPANS), 50), elements=st.floats(0.0, 1.0))
COUNTS = st.integers(1, 6)
LAYOUTS = st.sampled_from([0.0, 1.0])


def burners(shares):
    return {
        name: low + share * (high - low)
        for (name, (low, high)), share in zip(SPANS.items(), shares, strict=True)
    }


def test_every_argument_is_covered_here():
    assert set(SPANS) | {"wick_count", "manifold"} == set(DEFAULTS)


# The first wick's margins are given back where there is nothing else to find.


@settings(max_examples=10)
@given(shares=SHARES, manifold=LAYOUTS)
def test_one_wick_is_the_first_wick(shares, manifold):
    burner = burners(shares) | {"wick_count": 1, "manifold": manifold, "wick_lip_error_1": 0.0}
    found = wicks(**burner)
    np.testing.assert_array_equal(found.flood_margin_all, burner["flood_margin"])
    wick_end = burner["wick_starve_margin"] + burner["wick_hold"]
    np.testing.assert_array_equal(
        found.starve_margin_all, np.minimum(wick_end, burner["sump_starve_margin"])
    )
    assert (found.first_to_flood == 1.0).all()
    assert (found.first_to_starve == 1.0).all()


@pytest.mark.parametrize("wick_hold", [0.0, 0.3, 2.0, 6.0])
def test_one_wick_has_the_margins_of_the_level(wick_hold):
    height = np.linspace(6.0, 18.0, 25)
    level = fuel_level(burner_height=height, wick_hold=wick_hold, grade=0.5)
    found = wicks(
        level.flood_margin, level.wick_starve_margin, level.sump_starve_margin, wick_hold, grade=0.5
    )
    np.testing.assert_array_equal(found.flood_margin_all, level.flood_margin)
    np.testing.assert_array_equal(found.starve_margin_all, level.starve_margin)
    at_the_wicks = level.wick_starve_margin + wick_hold < level.sump_starve_margin
    assert 0 < at_the_wicks.sum() < 25  # both ends are met


def test_hold_of_nothing_is_the_level_at_the_crown():
    bare = {"wick_starve_margin": 1.25, "sump_starve_margin": 9.0}
    assert wicks(wick_hold=0.0, **bare).starve_margin_all == 1.25
    assert wicks(wick_hold=0.2, **bare).starve_margin_all == 1.45


@settings(max_examples=20)
@given(shares=SHARES, count=COUNTS, manifold=LAYOUTS)
def test_no_wick_is_better_than_the_margins(shares, count, manifold):
    """In line every further wick can only take from the margins, never add."""
    burner = burners(shares) | {"manifold": 0.0}
    fewer, more = (wicks(**burner, wick_count=n) for n in (max(1, count - 1), count))
    assert (more.flood_margin_all <= fewer.flood_margin_all).all()
    # The loss to a wick grows a little where others beyond it draw through the same pipe.
    assert (more.starve_margin_all <= fewer.starve_margin_all + 1e-12).all()
    either = wicks(**burners(shares), wick_count=count, manifold=manifold)
    assert (either.starve_margin_all <= burner["sump_starve_margin"]).all()
    for number in (either.first_to_flood, either.first_to_starve):
        assert np.isin(number, range(1, count + 1)).all()


@settings(max_examples=20)
@given(shares=SHARES, count=COUNTS, manifold=LAYOUTS, up=st.floats(-1.0, 1.0))
def test_what_lifts_all_lips_is_shared_by_all(shares, count, manifold, up):
    burner = burners(shares) | {"wick_count": count, "manifold": manifold}
    lifted = burner | {name: burner[name] + up for name in LIPS}
    one, other = wicks(**burner), wicks(**lifted)
    np.testing.assert_allclose(other.flood_margin_all - one.flood_margin_all, up, atol=1e-12)
    np.testing.assert_array_equal(other.starve_margin_all, one.starve_margin_all)


@settings(max_examples=20)
@given(shares=SHARES, count=COUNTS)
def test_manifold_has_a_mirror_image(shares, count):
    burner = burners(shares) | {"wick_count": count, "manifold": 1.0}
    mirror = {name: -burner[name] for name in ("manifold_roll", "cant")}
    lips = [burner[name] for name in LIPS]
    mirror |= dict(zip(LIPS, lips[:count][::-1] + lips[count:], strict=True))
    one, other = wicks(**burner), wicks(**(burner | mirror))
    np.testing.assert_allclose(one.flood_margin_all, other.flood_margin_all, atol=1e-12)
    np.testing.assert_allclose(one.starve_margin_all, other.starve_margin_all, atol=1e-12)
    unlike = (one.first_to_flood + other.first_to_flood) != count + 1.0
    assert (np.abs(np.subtract(*np.sort(lips[:2], axis=0)))[unlike] < 1e-9).all() or count == 1


@settings(max_examples=20)
@given(shares=SHARES, count=COUNTS)
def test_tilt_against_the_lean_of_the_fuel_leaves_the_wicks_level(shares, count):
    """A pipe that lies in the surface of the fuel: only the lips' own errors and the loss tell."""
    burner = burners(shares) | {"wick_count": count, "acceleration": 0.0}
    burner["burner_tilt"] = np.degrees(np.arctan(burner["grade"] / 100.0))
    found = wicks(**burner)
    lips = np.array([burner[name] for name in LIPS[:count]])
    np.testing.assert_allclose(
        found.flood_margin_all, burner["flood_margin"] + lips.min(axis=0), atol=1e-11
    )
    lowest = lips[found.first_to_flood.astype(int) - 1, np.arange(50)]
    np.testing.assert_allclose(lowest, lips.min(axis=0), atol=1e-11)


# Signs.


@pytest.mark.parametrize(
    ("layout", "argument", "flood", "starve"),
    [
        (0.0, "burner_tilt", (-1, 0), (0, -1)),  # downwards the last floods, upwards it starves
        (0.0, "grade", (0, -1), (-1, 0)),
        (0.0, "acceleration", (0, -1), (-1, 0)),
        (0.0, "cant", (0, 0), (0, 0)),
        (0.0, "manifold_roll", (0, 0), (0, 0)),
        (1.0, "manifold_roll", (-1, -1), (-1, -1)),
        (1.0, "cant", (-1, -1), (-1, -1)),
        (1.0, "grade", (0, 0), (0, 0)),
        (1.0, "burner_tilt", (0, 0), (0, 0)),
    ],
)
def test_sign_of_a_lean(layout, argument, flood, starve):
    """Change of the margins as a lean grows from nothing, to below and to above."""
    values = np.array([-1.0, 0.0, 1.0]) * min(abs(SPANS[argument][0]), 4.0)
    found = wicks(
        **{argument: values}, manifold=layout, wick_count=4, burn_rate=0.0, sump_starve_margin=9.0
    )
    for margin, signs in ((found.flood_margin_all, flood), (found.starve_margin_all, starve)):
        margin = np.broadcast_to(margin, 3)
        changed = np.sign(np.round(margin[[0, 2]] - margin[1], 12))
        assert tuple(changed) == signs


@pytest.mark.parametrize(
    ("argument", "sign"),
    [("burn_rate", -1), ("pipe_bore", 1), ("fuel_temperature", 1), ("fuel_water", -1)],
)
def test_loss_between_the_wicks_has_the_sign_of_the_viscous_flow(argument, sign):
    found = wicks(
        **{argument: np.linspace(*SPANS[argument], 21)}, wick_count=6, sump_starve_margin=9.0
    )
    assert (sign * np.diff(found.starve_margin_all) > 0.0).all()
    assert np.ptp(found.flood_margin_all) == 0.0  # unlit, nothing flows
    assert (found.first_to_starve[1:] == 6.0).all()


def test_wider_pitch_makes_a_lean_worse():
    found = wicks(
        wick_pitch=np.linspace(5.0, 15.0, 11), wick_count=4, burner_tilt=1.0, grade=-1.0,
        sump_starve_margin=9.0,
    )  # fmt: skip
    assert (np.diff(found.starve_margin_all) < 0.0).all()


# Which wick.


def test_lowest_lip_floods_first_and_highest_crown_starves_first():
    found = wicks(wick_count=5, wick_lip_error_3=-0.3, burner_tilt=0.2, sump_starve_margin=9.0)
    assert (found.first_to_flood, found.first_to_starve) == (3.0, 5.0)
    down = wicks(wick_count=5, burner_tilt=-0.5, sump_starve_margin=9.0)
    assert (down.first_to_flood, down.first_to_starve) == (5.0, 1.0)


def test_wick_nearest_the_air_goes_out_first_when_the_sump_lets_it_in():
    # Common practice, no source: with the valve shut, the wick nearest the sump goes out first.
    level = wicks(wick_count=4, sump_starve_margin=-1.0)
    assert level.first_to_starve == 1.0
    assert level.starve_margin_all == -1.0
    # A burner that rises by more than its bore over its length: air runs on to its far end.
    bore, pitch, count = 3.2, 10.0, 4
    edge = np.degrees(np.arcsin(bore / (count * pitch)))
    tilted = wicks(
        wick_count=count, sump_starve_margin=-99.0, burner_tilt=edge + np.array([-0.01, 0.01])
    )
    assert tilted.first_to_starve.tolist() == [1.0, 4.0]


@pytest.mark.parametrize(
    ("count", "level", "little", "much"),
    [(1, 1, 1, 1), (2, 1, 2, 2), (3, 2, 2, 3), (4, 2, 3, 4), (5, 3, 3, 5), (6, 3, 4, 6)],
)
def test_air_in_a_manifold_reaches_the_middle_unless_it_leans(count, level, little, much):
    slopes = np.array([0.0, 1e-3, 0.7, -1e-3, -0.7])
    found = nearest_the_air(count, 10.0, 3.2, 1.0, slopes)
    mirrored = [count + 1 - little, count + 1 - much]
    assert found.tolist() == [level, little, much, *mirrored]


# Limits and shapes.


@pytest.mark.parametrize(
    ("argument", "values"),
    [
        ("flood_margin", [np.inf]),
        ("wick_starve_margin", [np.inf]),
        ("sump_starve_margin", [-np.inf, np.inf]),
        ("wick_hold", [-0.1, np.inf]),
        ("wick_count", [0.0, 7.0, 2.5, -1.0, np.inf]),
        ("wick_pitch", [0.0, -1.0, np.inf]),
        ("burner_tilt", [-45.1, 90.0, np.inf]),
        ("manifold", [0.5, 2.0, -1.0]),
        *[(name, [np.inf]) for name in LIPS[:4]],
        ("grade", [np.inf]),
        ("acceleration", [np.inf]),
        ("pipe_bore", [0.0, -1.0, 1e-300]),
        ("burn_rate", [-0.1, 1e6]),
        ("fuel_temperature", [-0.1, 60.1]),
        ("fuel_water", [-0.01, 0.16]),
    ],
)
def test_no_answer_outside_and_none_spoilt_beside(argument, values):
    base = DEFAULTS | {"wick_count": 4.0, "sump_starve_margin": 9.0}
    bad = [*values, np.nan]
    mixed = wicks(**base | {argument: np.array([base[argument], *bad, base[argument]])})
    for name, result, nominal in zip(mixed._fields, mixed, wicks(**base), strict=True):
        assert result[0] == result[-1] == nominal, name
        assert np.isnan(result[1:-1]).all(), name
    for value in bad:  # a held number must not raise either
        assert np.isnan(wicks(**base | {argument: value})).all()


@pytest.mark.parametrize("argument", ["manifold_roll", "cant"])
def test_manifold_alone_asks_for_its_own_leans(argument):
    bad = {argument: np.array([-45.1, 90.0, np.nan])}
    assert np.isnan(wicks(manifold=1.0, wick_count=3, **bad)).all()
    assert np.isfinite(wicks(manifold=0.0, wick_count=3, **bad)).all()


@settings(max_examples=20)
@given(samples=arrays.arrays(float, (len(DEFAULTS), 12), elements=st.floats(width=64)))
def test_any_number_gives_a_number_or_nan(samples):
    found = wicks(**dict(zip(DEFAULTS, samples, strict=True)))
    missing = np.isnan(found)
    assert (missing == missing[0]).all()
    assert np.isfinite(np.array(found)[~missing]).all()


@settings(max_examples=10)
@given(shares=SHARES, counts=arrays.arrays(int, 50, elements=COUNTS), layout=st.booleans())
def test_arrays_agree_with_numbers(shares, counts, layout):
    burner = burners(shares) | {"wick_count": counts.astype(float)}
    burner["manifold"] = np.arange(50) % 2.0 if layout else np.zeros(50)
    together = wicks(**burner)
    for place in (7, 8):
        alone = wicks(**{name: float(values[place]) for name, values in burner.items()})
        for many, one in zip(together, alone, strict=True):
            assert isinstance(one, float)
            assert many[place] == pytest.approx(one, rel=1e-12, abs=1e-12)


def test_broadcasting():
    found = wicks(flood_margin=np.linspace(1.0, 2.0, 4)[:, None], burner_tilt=np.linspace(-1, 1, 3))
    assert {np.shape(result) for result in found} == {(4, 3)}
