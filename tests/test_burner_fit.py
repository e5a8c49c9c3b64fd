"""The burner in its firebox: symmetry, signs, what is too long and too short, limits, shapes."""

import inspect

import hypothesis.extra.numpy as arrays
import hypothesis.strategies as st
import numpy as np
import pytest
from hypothesis import given, settings

from models.burner_fit import burner_fit

DEFAULTS = {name: one.default for name, one in inspect.signature(burner_fit).parameters.items()}
SPANS = {
    "firebox_length": (40.0, 70.0),
    "firebox_width": (30.0, 60.0),
    "frame_spacing": (25.0, 50.0),
    "wick_pitch": (9.0, 15.0),
    "wick_bore": (4.0, 8.0),
    "wick_tube_wall": (0.0, 0.5),
    "burner_position": (-5.0, 30.0),
    "burner_offset": (-8.0, 8.0),
    "burner_yaw": (-20.0, 20.0),
}
SHARES = arrays.arrays(float, (len(SPANS), 50), elements=st.floats(0.0, 1.0))
COUNTS, LAYOUTS = st.integers(1, 6), st.sampled_from([0.0, 1.0])


def burners(shares):
    return {
        name: low + share * (high - low)
        for (name, (low, high)), share in zip(SPANS.items(), shares, strict=True)
    }


def test_every_argument_is_covered_here():
    assert set(SPANS) | {"wick_count", "manifold"} == set(DEFAULTS)


@settings(max_examples=20)
@given(shares=SHARES, count=COUNTS, layout=LAYOUTS)
def test_left_is_as_right(shares, count, layout):
    burner = burners(shares) | {"wick_count": count, "manifold": layout}
    mirror = burner | {name: -burner[name] for name in ("burner_offset", "burner_yaw")}
    for one, other in zip(burner_fit(**burner), burner_fit(**mirror), strict=True):
        np.testing.assert_allclose(one, other, rtol=1e-12, atol=1e-12)


@settings(max_examples=20)
@given(shares=SHARES, count=COUNTS)
def test_length_of_a_straight_burner_is_shared_out(shares, count):
    """Entry gap, row of tubes and far gap fill the firebox where the burner is not turned."""
    burner = burners(shares) | {"wick_count": count, "burner_yaw": 0.0}
    fit = burner_fit(**burner)
    outside = burner["wick_bore"] + 2.0 * burner["wick_tube_wall"]
    row = (count - 1) * burner["wick_pitch"] + outside
    total = fit.entry_clearance + row + fit.far_clearance
    np.testing.assert_allclose(total, burner["firebox_length"], rtol=1e-12)
    np.testing.assert_allclose(fit.length_cover * burner["firebox_length"], row, rtol=1e-12)


@settings(max_examples=20)
@given(shares=SHARES, count=COUNTS, layout=LAYOUTS)
def test_nearest_wall_is_the_least_of_all(shares, count, layout):
    fit = burner_fit(**burners(shares), wick_count=count, manifold=layout)
    least = np.min([fit.entry_clearance, fit.far_clearance, fit.side_clearance], axis=0)
    np.testing.assert_array_equal(fit.wall_clearance, least)


def test_pipe_too_short_and_pipe_too_long():
    at = np.array([2.0, 9.0, 20.0])
    fit = burner_fit(wick_count=4, burner_position=at)
    assert (fit.entry_clearance < 0.0).tolist() == [True, False, False]
    assert (fit.far_clearance < 0.0).tolist() == [False, False, True]
    assert (fit.wall_clearance < 0.0).tolist() == [True, False, True]


@pytest.mark.parametrize(
    ("argument", "sign"),
    [("firebox_length", 1), ("wick_tube_wall", -1), ("wick_bore", -1), ("burner_position", -1)],
)
def test_sign_at_the_far_end(argument, sign):
    fit = burner_fit(wick_count=4, **{argument: np.linspace(*SPANS[argument], 21)})
    assert (sign * np.diff(fit.far_clearance) > 0.0).all()


def test_a_turned_burner_comes_nearer_the_side():
    fit = burner_fit(wick_count=4, burner_yaw=np.linspace(0.0, 20.0, 21))
    assert (np.diff(fit.side_clearance) < 0.0).all()
    assert (np.diff(fit.far_clearance) > 0.0).all()


def test_manifold_lies_across():
    fit = burner_fit(wick_count=3, manifold=1.0, burner_position=25.0)
    assert fit.entry_clearance == fit.far_clearance == pytest.approx(25.0 - 3.9)
    assert fit.side_clearance == pytest.approx(22.5 - 10.0 - 3.9)
    assert fit.length_cover == pytest.approx(27.8 / 45.0)


@pytest.mark.parametrize(
    ("argument", "values"),
    [
        ("firebox_length", [0.0, -1.0, np.inf]),
        ("firebox_width", [0.0, -1.0, np.inf]),
        ("frame_spacing", [0.0, -1.0, np.inf]),
        ("wick_count", [0.0, 7.0, 1.5]),
        ("wick_pitch", [0.0, 7.7, np.inf]),  # tubes of 7.8 mm would overlap
        ("wick_bore", [0.0, -1.0, 9.3]),
        ("wick_tube_wall", [-0.1, 1.6]),
        ("manifold", [0.5, 2.0]),
        ("burner_position", [np.inf]),
        ("burner_offset", [np.inf]),
        ("burner_yaw", [-45.1, 90.0, np.inf]),
    ],
)
def test_no_answer_outside_and_none_spoilt_beside(argument, values):
    base = DEFAULTS | {"wick_count": 4.0}
    bad = [*values, np.nan]
    mixed = burner_fit(**base | {argument: np.array([base[argument], *bad, base[argument]])})
    for name, result, nominal in zip(mixed._fields, mixed, burner_fit(**base), strict=True):
        assert result[0] == result[-1] == nominal, name
        assert np.isnan(result[1:-1]).all(), name
    for value in bad:
        assert np.isnan(burner_fit(**base | {argument: value})).all()


@settings(max_examples=20)
@given(samples=arrays.arrays(float, (len(DEFAULTS), 12), elements=st.floats(width=64)))
def test_any_number_gives_a_number_or_nan(samples):
    fit = burner_fit(**dict(zip(DEFAULTS, samples, strict=True)))
    missing = np.isnan(fit)
    assert (missing == missing[0]).all()
    assert np.isfinite(np.array(fit)[~missing]).all()


@settings(max_examples=5)
@given(shares=SHARES, layout=LAYOUTS)
def test_arrays_agree_with_numbers(shares, layout):
    burner = burners(shares)
    together = burner_fit(**burner, wick_count=4, manifold=layout)
    alone = burner_fit(
        **{name: float(values[7]) for name, values in burner.items()},
        wick_count=4,
        manifold=layout,
    )
    for many, one in zip(together, alone, strict=True):
        assert isinstance(one, float)
        assert many[7] == pytest.approx(one, rel=1e-12, abs=1e-12)


def test_broadcasting():
    fit = burner_fit(firebox_length=np.linspace(45.0, 60.0, 4)[:, None], burner_yaw=np.arange(3.0))
    assert {np.shape(result) for result in fit} == {(4, 3)}
