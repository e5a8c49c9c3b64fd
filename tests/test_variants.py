"""Variants of a design answer the same together as each alone, whatever they change."""

import numpy as np
import pytest

from sensitivity.engine.options import RunOptions
from sensitivity.engine.plan import plan_run
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
