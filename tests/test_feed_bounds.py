"""Bounds of the feed: no run lies outside of them, and common runs lie well inside."""

import inspect

import numpy as np
import pytest

from models.feed_bounds import FeedCycleBounds, feed_cycle_bounds
from models.feed_cycle import feed_cycle
from models.feed_set_out import PER_STEP
from sensitivity.system.catalogue import companion, installed_model
from tests.test_feed_cycle import DEFAULTS, SPANS

BOUNDED = FeedCycleBounds._fields[:-1]
ROWS = 4000


def drawn(seed, width, steps=4):
    """Draw burners and schedules within a share of the spans about the defaults."""
    rng = np.random.default_rng(seed)
    found = {}
    for name, (low, high) in SPANS.items():
        middle = np.clip(DEFAULTS[name], low, high)
        shape = (steps, ROWS) if name in PER_STEP else ROWS
        found[name] = middle + width * (rng.uniform(low, high, shape) - middle)
    return found, rng


@pytest.mark.parametrize("width", [0.1, 0.5, 1.0])
@pytest.mark.parametrize("share", [None, 0.0, 1.0])
def test_no_run_lies_outside(width, share):
    arguments, rng = drawn(17, width)
    arguments["burn_rate"][0] = 0.0  # standing unlit
    arguments["valve_opening"] = np.where(
        rng.random((4, ROWS)) < 0.2, 0.0, arguments["valve_opening"]
    )
    if share is not None:  # the ends of the valve's law, where its flow fades as it falls or not
        arguments["valve_viscous_share"] = share
    found, bounds = feed_cycle(**arguments), feed_cycle_bounds(**arguments)
    answered = np.isfinite(np.stack(found)).all(axis=0)
    assert not np.any(bounds.answered & ~answered)
    for name in BOUNDED:
        (low, high), value = getattr(bounds, name), getattr(found, name)
        assert not np.any(answered & ((value < low) | (value > high))), name


def test_a_run_that_is_never_short_is_told_to_last_and_to_spill_nothing():
    steady = {"duration": np.array([4.0, 3.0]), "burn_rate": np.array([0.0, 3.0])}
    found, bounds = feed_cycle(**steady), feed_cycle_bounds(**steady)
    assert bounds.answered
    assert bounds.minutes_to_wick_out == (7.0, 7.0) == (found.minutes_to_wick_out,) * 2
    assert bounds.spilled_volume == (0.0, 0.0)
    # The first filling's overshoot is met, but that the tank has by then given some of its fuel.
    assert 0.0 <= found.run_flood_margin - bounds.run_flood_margin[0] < 0.05


def test_fuel_that_cannot_last_puts_the_wick_out_in_time():
    """60 - 20 ml of tank and what the sump holds, at 6 ml/min: out by (40 + 4)/6 minutes."""
    short = {"duration": np.full(4, 5.0), "burn_rate": np.array([0.0, 6.0, 6.0, 6.0])}
    found, bounds = feed_cycle(**short), feed_cycle_bounds(**short)
    low, high = bounds.minutes_to_wick_out
    sump = 0.4 * 13.0  # ml, no fuller than to the mouth
    assert low <= found.minutes_to_wick_out <= high < 5.0 + (40.0 + sump) / 6.0


def test_shapes_of_parts_and_moments_are_kept():
    heights, rates = np.linspace(12.0, 14.0, 5)[:, None], np.linspace(1.0, 4.0, 3)[None, :]
    crossed = feed_cycle_bounds(breather_height=heights, burn_rate=rates[None])
    flat = feed_cycle_bounds(
        breather_height=np.repeat(heights[:, 0], 3), burn_rate=np.tile(rates[0], 5)[None]
    )
    assert np.array_equal(np.ravel(crossed.run_flood_margin[0]), flat.run_flood_margin[0])
    assert np.shape(crossed.answered) == (5, 3)


def test_a_burner_that_makes_no_sense_is_not_said_to_have_an_answer():
    bounds = feed_cycle_bounds(pipe_bore=np.array([3.2, -1.0, np.nan]), duration=5.0)
    assert list(bounds.answered) == [True, False, False]


def test_the_engine_finds_them_beside_the_model():
    assert companion(installed_model("feed_cycle"), "bound") is feed_cycle_bounds


def test_it_takes_the_arguments_of_the_model():
    with pytest.raises(TypeError):
        feed_cycle_bounds(no_such_argument=1.0)
    assert set(BOUNDED) <= set(inspect.signature(feed_cycle).return_annotation._fields)
