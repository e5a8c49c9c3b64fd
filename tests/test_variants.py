"""Variants of a design answer the same together as each alone, whatever they change."""

from dataclasses import replace
from functools import partial

import numpy as np
import pytest

from sensitivity.engine.kept import (
    FEWEST_MOMENTS,
    count,
    hardest_first,
    lattice,
    moments_for,
)
from sensitivity.engine.options import RunOptions
from sensitivity.engine.pilot import asked_often, tried
from sensitivity.engine.plan import plan_run
from sensitivity.engine.two_levels import LevelSizes, two_levels
from sensitivity.pricing.allocation_search import Search
from sensitivity.pricing.closer_work import dimensions_of
from sensitivity.pricing.finalists import priced_in_parts
from sensitivity.pricing.variants import run_variants
from sensitivity.spreads.spread import bounded, normal
from tests.strategies import GOOD

ONE = RunOptions(workers=1)

VARIANTS = [
    {},
    {"pin": 5.0},
    {"pin": 5.0},
    {"hole": normal(5.1, 0.01), "pin": 4.99},
    {"pin": bounded("rectangular", 4.98, 5.02)},
    {"hole": 5.2},
]


@pytest.fixture
def plan(read):
    study = read(GOOD)
    names = {item.name for item in study.varying}
    assert {"hole", "pin"} <= names
    return plan_run(RunOptions(seed=1, replicates=8, points=64).asked_of(study))


def test_at_random_moments(plan):
    together = run_variants(plan, VARIANTS, options=ONE)
    for place, variant in enumerate(VARIANTS, 1):
        alone = run_variants(plan, [variant], options=ONE)
        np.testing.assert_array_equal(together.together[:, place], alone.together[:, 1])
    assert together.overall(1) == together.overall(0)


def test_in_parts_that_work(plan):
    together = priced_in_parts(plan, VARIANTS, keeps=0.95, parts=64, options=ONE)
    orders = together.orders
    for place, variant in enumerate(VARIANTS, 1):
        alone = priced_in_parts(plan, [variant], keeps=0.95, parts=64, orders=orders, options=ONE)
        np.testing.assert_array_equal(together.shares[:, place], alone.shares[:, 1])
    assert priced_in_parts(plan, [], keeps=0.95, parts=64, options=ONE).shares.shape == (8, 1)


def test_choices_are_counted_at_half_the_moments_or_at_those_of_known_orders(plan):
    found = priced_in_parts(plan, [VARIANTS[1]], keeps=0.99, parts=64, options=ONE)
    assert {each.moments.size for each in found.orders} == {moments_for(0.99) // 2}
    whole = two_levels(plan, keeps=0.99, sizes=LevelSizes(parts=64), options=ONE)
    assert {each.moments.size for each in whole.orders} == {moments_for(0.99)}
    known = priced_in_parts(
        plan, [VARIANTS[1]], keeps=0.99, parts=64, orders=whole.orders, options=ONE
    )
    np.testing.assert_array_equal(known.shares[:, 0], whole.shares)
    few = priced_in_parts(plan, [], keeps=0.9, parts=64, options=ONE)
    assert {each.moments.size for each in few.orders} == {FEWEST_MOMENTS}


def failing(margins, places, moments):
    return margins[np.ix_(places, moments)] < 0.0


@pytest.fixture
def margins():
    """Of 400 parts at 1024 moments: they add, so the number of failing moments is exact."""
    draw = np.random.default_rng(8)
    return 2.5 + draw.normal(0.0, 1.2, (400, 1)) + draw.normal(0.0, 1.0, (1, 1024))


def test_a_hopeless_pilot_is_not_tried_at_all_moments(margins):
    asked = []

    def fails(places, moments):
        asked.append(places.size * moments.size)
        return failing(margins, places, moments)

    step = lattice(0.99, 1024)
    found, evaluations = tried(fails, np.arange(400), 1024, step)
    whole = margins < 0.0
    telling = whole.sum(axis=1) < 256
    assert np.count_nonzero(~telling) > 0
    np.testing.assert_array_equal(found[telling], whole[telling])
    # What is left out is taken to fail, and does at a quarter of the moments or more.
    assert found[~telling].sum(axis=1).min() >= 256
    assert evaluations == sum(asked) < whole.size
    # Where a part may fail at half of the moments, one that fails at fewer is counted whole.
    lenient = lattice(0.5, 1024)
    found, _ = tried(fails, np.arange(400), 1024, lenient)
    verdicts = [lenient.verdict(np.count_nonzero(each, axis=1)) for each in (found, whole)]
    np.testing.assert_array_equal(*verdicts)


def test_parts_asked_about_more_often_come_to_the_same(margins):
    step = lattice(0.99, 1024)
    plain = hardest_first(margins[:64] < 0.0, step)
    often = asked_often(plain, margins[:64] < 0.0, step)
    assert set(plain.ends) < set(often.ends)
    np.testing.assert_array_equal(often.left[np.isin(often.ends, plain.ends)], plain.left)
    new = ~np.isin(often.ends, plain.ends) & (np.asarray(often.ends) < plain.ends[1])
    assert new.any()
    assert np.all(np.isinf(often.left[new]))
    fails = partial(failing, margins)
    verdicts, evaluations = zip(
        *(
            (found.verdicts, found.evaluations)
            for found in (count(fails, 400, order, step) for order in (plain, often))
        ),
        strict=True,
    )
    # Of margins that add, all parts fail in one order of moments: none is dropped wrongly.
    expected = step.verdict(np.count_nonzero(margins < 0.0, axis=1))
    for found in verdicts:
        np.testing.assert_array_equal(found, expected)
    assert evaluations[1] < evaluations[0]
    # Without an audit parts are dropped as good at the ends that the order had, and there alone.
    sparing = asked_often(plain, margins[:64] < 0.0, step, audited=False)
    assert sparing.ends == often.ends
    assert np.all(np.isinf(sparing.left[~np.isin(sparing.ends, plain.ends)]))


def test_an_audit_that_ever_fewer_go_on_with_is_unbiased(margins):
    """Dropped after the easiest moments, at which hardly any part fails: the audit alone tells.

    Each of the parts drawn stands for several, and for more the longer the chunks of moments: their
    mean over many draws is what counting all at all moments gives.
    """
    step = lattice(0.99, 1024)
    order = hardest_first(margins[:64] < 0.0, step)
    blind = replace(order, moments=order.moments[::-1], left=np.zeros(len(order.ends)))
    exact = step.verdict(np.count_nonzero(margins < 0.0, axis=1)).mean()
    draw = np.random.default_rng(5)
    found = [
        count(partial(failing, margins), 400, blind, step, audit=draw.random(400))
        for _ in range(200)
    ]
    shares = np.array([each.share for each in found])
    assert found[0].verdicts.mean() > exact + 0.1  # blind it is
    assert abs(shares.mean() - exact) < 3 * shares.std() / np.sqrt(shares.size)
    np.testing.assert_allclose([each.weighted.mean() for each in found], shares, atol=1e-12)
    # All of the audited at all of the moments would be dearer by far.
    audited = max(each.evaluations - 400 * blind.ends[0] for each in found)
    assert audited < 0.7 * min(each.audited.size for each in found) * (1024 - blind.ends[0])


def test_a_set_is_tried_once(read, monkeypatch):
    study = read(GOOD)
    plan = plan_run(RunOptions(seed=1, replicates=8, points=64).asked_of(study))
    dimensions = tuple(each for each in dimensions_of(study) if each.choices)
    search = Search(plan, dimensions, 0.9, ONE, 0.95)
    closest, drawn = search.closest, tuple(0 for _ in dimensions)
    first = search.run([closest])
    monkeypatch.setattr("sensitivity.pricing.allocation_search.run_variants", None)
    again = search.run([drawn, closest, closest])
    np.testing.assert_array_equal(again.together[:, [0, 2]], first.together)
    np.testing.assert_array_equal(again.each[:, 3], first.each[:, 1])
    assert again.gain(3) == first.gain(1)
    assert again.gain(1).value == 0.0
