"""Facts of the trade, `trade.toml`: what builders see, and what shows it in the models.

A table ``[[fact]]`` says the fact and calls models in turn, joined by name as a study joins them:
a result feeds the inputs of its name. ``field`` of the last one must keep what is stated of it:
``least`` and ``most`` (a number, or one for each value), ``order`` along the list of inputs, or
``within``, the greatest less the least. With the inputs of ``but_not`` in their place it must not.
"""

import importlib
import inspect
import tomllib
from pathlib import Path

import numpy as np
import pytest

SOURCE = "common practice, no source"
FACTS = tomllib.loads(Path(__file__).with_name("trade.toml").read_text(encoding="utf-8"))["fact"]
STATEMENTS = {"least", "most", "order", "within"}
KEYS = {"says", "source", "calls", "inputs", "field", "but_not"} | STATEMENTS


def shown(fact, **changed):
    """The field, one value for each of the fact's inputs, with some inputs changed."""
    values = {
        name: np.asarray(value) if isinstance(value, list) else value
        for name, value in (fact["inputs"] | changed).items()
    }
    for call in fact["calls"]:
        module, _, name = call.partition(":")
        model = getattr(importlib.import_module(module), name)
        wanted = inspect.signature(model).parameters
        answer = model(**{name: value for name, value in values.items() if name in wanted})
        values |= answer._asdict()
    return np.atleast_1d(values[fact["field"]])


def holds(fact, result):
    """Whether the result is all that the fact says of it."""
    steps = {"rising": np.diff(result), "falling": -np.diff(result)}.get(fact.get("order"))
    return bool(
        np.isfinite(result).all()
        and (result >= fact.get("least", -np.inf)).all()
        and (result <= fact.get("most", np.inf)).all()
        and (steps is None or (len(steps) > 0 and (steps > 0.0).all()))
        and np.ptp(result) <= fact.get("within", np.inf)
    )


@pytest.mark.parametrize("fact", FACTS, ids=[fact["says"] for fact in FACTS])
def test_fact_of_the_trade(fact):
    assert set(fact) <= KEYS
    assert set(fact) & STATEMENTS
    assert fact["source"] == SOURCE
    assert holds(fact, shown(fact)), shown(fact)


WITHOUT = [fact for fact in FACTS if "but_not" in fact]


@pytest.mark.parametrize("fact", WITHOUT, ids=[fact["says"] for fact in WITHOUT])
def test_fact_hangs_on_what_is_said_to_make_it(fact):
    assert not holds(fact, shown(fact, **fact["but_not"])), shown(fact, **fact["but_not"])


def test_a_fact_that_is_not_so_is_found():
    fact = {"order": "rising", "least": [0.0, 1.0]}
    assert holds(fact, np.array([0.0, 1.0]))
    for wrong in ([0.0, 0.5], [1.0, 1.0], [0.0, np.nan], [2.0, 1.5], [1.0]):
        assert not holds(fact, np.array(wrong))
    assert not holds({"within": 0.1}, np.array([0.0, 0.2]))
    assert not holds({"order": "falling"}, np.array([0.0, 0.2]))
