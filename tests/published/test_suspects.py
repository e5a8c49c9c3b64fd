"""What a failure says of each input, against closed forms, quadrature and made-up burners.

Normal inputs x1, x2 ~ N(0, 1), failure F: 0.8 x1 + 0.6 x2 > 1.5. The sum is N(0, 1), so
P(F) = 1 - Phi(1.5) = 0.0668072; with lambda = phi(1.5)/P(F), E[x1|F] = 0.8 lambda = 1.5509417 and
var = 1 - 0.64 lambda (lambda - 1.5) = 0.4557098 (the mean of a truncated normal, and x1 given the
sum). P(F|x1) = Phi((0.8 x1 - 1.5)/0.6), from which the mutual information
H(P(F)) - E[H(P(F|x1))] = 0.1025491 for x1, 0.0524252 for x2, by quadrature below.
"""

from itertools import pairwise
from typing import Annotated, NamedTuple

import numpy as np
import pytest
from scipy import integrate, stats

import sensitivity as sl
from sensitivity.engine.plan import plan_run
from sensitivity.learning.evaluation import events_of, results_of
from sensitivity.learning.observations import EventSeen, Trial
from sensitivity.learning.posterior import posterior
from sensitivity.learning.suspects import (
    EDGES,
    information,
    only_one,
    slip_chances,
    suspects,
    symptom_of,
    with_slips,
    without_symptom,
)

Z = stats.norm
FAILED = Trial("a", "", {}, (EventSeen("total", broken=True),))
KEPT = Trial("a", "", {}, (EventSeen("total", broken=False),))


class Total(NamedTuple):
    total: Annotated[float, "mm", "sum"]


def weighed(
    x1: Annotated[float, "mm", "first"] = 0.0, x2: Annotated[float, "mm", "second"] = 0.0
) -> Total:
    """Two parts of a sum, the first the larger."""
    return Total(0.8 * x1 + 0.6 * x2)


def summed(
    x1: Annotated[float, "mm", "first"] = 0.0, x2: Annotated[float, "mm", "second"] = 0.0
) -> Total:
    """Two parts of a sum."""
    return Total(x1 + x2)


def study_of(model, inputs, limit, blunder=0.0):
    return sl.Study(
        models=[model],
        inputs=inputs,
        limits=[limit],
        blunder=blunder,
        sampling={"seed": 1, "replicates": 16, "points": 1024},
    )


def normals(blunder=0.0):
    one = {"standard_deviation": "1 mm"}
    inputs = {"x1": sl.normal("0 mm", **one), "x2": sl.normal("0 mm", **one)}
    return study_of(weighed, inputs, sl.limit("total", at_most="1.5 mm"), blunder)


def asked(study, trial):
    """Rows before and after, which of the former fail, and the suspects."""
    plan, slips = plan_run(study, indices=False), with_slips(study)
    before = posterior(plan, without_symptom([trial]), marginals=slips)
    after = posterior(plan, [trial], marginals=slips, believe=True)
    (symptom,) = symptom_of([trial]) or (trial,)
    found = results_of(plan, before.values, before.z, symptom)
    flags = events_of(plan, found, symptom, before.weights)
    return before, after, flags, suspects(plan, before, after, flags, slips)


def exact_information(share, edges=None):
    """Mutual information from P(F|x1) = Phi((a x1 - 1.5)/b), whole or by bins of x1."""
    rest = np.sqrt(1.0 - share**2)
    p = Z.sf(1.5)

    def entropy(q):
        q = np.clip(q, 1e-300, 1.0 - 1e-16)
        return -(q * np.log(q) + (1.0 - q) * np.log1p(-q))

    def chance(x):
        return Z.cdf((share * x - 1.5) / rest)

    if edges is None:
        spent = integrate.quad(lambda x: Z.pdf(x) * entropy(chance(x)), -9.0, 9.0, limit=400)[0]
        return entropy(p) - spent
    ends = np.concatenate([[-9.0], Z.ppf(edges), [9.0]])
    masses = np.diff(np.concatenate([[0.0], edges, [1.0]]))
    inside = [
        integrate.quad(lambda x: Z.pdf(x) * chance(x), low, high)[0] for low, high in pairwise(ends)
    ]
    return entropy(p) - float(masses @ entropy(np.array(inside) / masses))


def test_quadrature_gives_the_printed_information():
    assert exact_information(0.8) == pytest.approx(0.1025491, abs=5e-8)
    assert exact_information(0.6) == pytest.approx(0.0524252, abs=5e-8)
    # Sixteen equal bins lose 4 % of it, those used here half of one in a hundred.
    sixteen = np.arange(1, 16) / 16
    assert exact_information(0.8, sixteen) == pytest.approx(0.0980344, abs=5e-8)
    assert 0.994 * 0.1025491 < exact_information(0.8, EDGES) < 0.1025491


def test_failure_seen():
    before, after, flags, found = asked(normals(), FAILED)
    assert float((before.weights * flags).sum()) == pytest.approx(0.0668072, abs=1e-3)
    by_name = {one.item.name: one for one in found}
    first, second = by_name["x1"], by_name["x2"]
    assert [one.item.name for one in found] == ["x1", "x2"]
    assert first.mean[1] == pytest.approx(1.5509417, abs=0.03)
    assert first.deviation[1] ** 2 == pytest.approx(0.4557098, abs=0.03)
    x1, x2 = after.values["x1"], after.values["x2"]
    for share, exact in (
        ((x1 > 1.0), 0.7926160),
        ((abs(x1) > 2.0), 0.2470681),
        ((abs(x2) > 2.0), 0.1573135),
    ):
        assert float((after.weights * share).sum()) == pytest.approx(exact, abs=0.03)
    for one, share in ((first, 0.8), (second, 0.6)):
        exact = exact_information(share, EDGES)
        assert one.information.low < exact < one.information.high
        assert one.information.value == pytest.approx(exact, rel=0.05)
        assert one.named


def test_nothing_failed():
    """E[x1 | kept] = -0.8 phi(1.5)/Phi(1.5) = -0.1110318; P(x1 > 1 | kept) = 0.1132700."""
    plan = plan_run(normals(), indices=False)
    known = posterior(plan, [KEPT])
    x1 = known.values["x1"]
    assert float((known.weights * x1).sum()) == pytest.approx(-0.1110318, abs=0.01)
    assert float((known.weights * (x1 > 1.0)).sum()) == pytest.approx(0.1132700, abs=0.005)


def test_failure_of_rectangular_inputs():
    """U(0, 1) twice, sum > 1.5: a triangle, P(x1 > 0.9 | F) = 0.36 and E[x1 | F] = 5/6."""
    inputs = {name: sl.between("0 mm", "1 mm") for name in ("x1", "x2")}
    study = study_of(summed, inputs, sl.limit("total", at_most="1.5 mm"))
    _, after, _, _ = asked(study, FAILED)
    x1 = after.values["x1"]
    assert float((after.weights * (x1 > 0.9)).sum()) == pytest.approx(0.36, abs=0.02)
    assert float((after.weights * x1).sum()) == pytest.approx(5.0 / 6.0, abs=0.01)


def test_what_a_failure_says_nothing_of_is_not_named():
    """Of 40 inputs that have no part in it, none is named: the intervals hold together."""
    generator = np.random.default_rng(5)
    values = generator.random((40, 16, 1024))
    failed = generator.random((16, 1024)) < 0.1
    weights = np.full((16, 1024), 1.0 / (16 * 1024))
    found = [information(each, failed, weights, 1.0 - 0.05 / 40) for each in values]
    assert not [one for one in found if one.low > 0.0]
    assert abs(np.mean([one.value for one in found])) < 3e-4


def test_interval_of_the_information_covers():
    """Of 50 seeds, the interval at 95 % holds what is exact of the bins 44 times or more."""
    exact, held = exact_information(0.8, EDGES), 0
    for seed in range(50):
        generator = np.random.default_rng(seed)
        x1, x2 = generator.standard_normal((2, 16, 1024))
        weights = np.full(x1.shape, 1.0 / x1.size)
        found = information(x1, 0.8 * x1 + 0.6 * x2 > 1.5, weights, 0.95)
        held += found.low <= exact <= found.high
    assert held >= 44


# --- slips ---------------------------------------------------------------------------------------

HALF = 1.0
"""Stated half-width of both dimensions; their deviation is a third of it."""


def slipping(at_most, chance=0.02):
    one = {"plus_minus": f"{HALF} mm"}
    inputs = {"x1": sl.normal("0 mm", **one), "x2": sl.normal("0 mm", **one)}
    return study_of(summed, inputs, sl.limit("total", at_most=f"{at_most} mm"), chance)


def test_far_failure_is_a_slip():
    """Sum over 4: 8.5 deviations of an honest sum, so one of the two slipped, by symmetry either.

    P(F) is 2 c (1 - c) P(U + N > 4) + c^2 P(U + U' > 4), with U ~ U(-5, 5) and N ~ N(0, 1/3):
    by quadrature.
    """
    chance, limit = 0.02, 4.0
    _, _, flags, found = asked(slipping(limit, chance), FAILED)
    one = integrate.quad(lambda n: Z.pdf(n, scale=1 / 3) * (1.0 + n) / 10.0, -1.0, 2.0)[0]
    both = integrate.quad(lambda u: np.clip(1.0 + u, 0.0, 10.0) / 10.0, -1.0, 5.0)[0] / 10.0
    exact = 2 * chance * (1 - chance) * one + chance**2 * both
    weights = np.full(flags.shape, 1.0 / flags.size)
    assert float((weights * flags).sum()) == pytest.approx(exact, rel=0.1)
    slipped_twice = chance**2 * both / exact
    for suspect in found:
        assert suspect.named
        assert suspect.out[0] == pytest.approx(chance * 0.8 + 0.98 * 0.0027, abs=0.003)
        assert suspect.slip[1] == pytest.approx(0.5 + 0.5 * slipped_twice, abs=0.05)
        assert suspect.if_one == pytest.approx(0.5, abs=0.05)


def test_near_failure_is_no_slip():
    """Sum over 1: about two deviations of an honest sum, which is far commoner than a slip."""
    _, _, _, found = asked(slipping(1.0), FAILED)
    honest = 0.98**2 * Z.sf(1.0, scale=np.sqrt(2) / 3)
    one = (
        0.02
        * 0.98
        * integrate.quad(lambda n: Z.pdf(n, scale=1 / 3) * (4.0 + n) / 10.0, -2.0, 2.0)[0]
    )
    slip = one / (honest + 2 * one)  # but for both at once, a fiftieth of this
    for suspect in found:
        assert suspect.slip[1] == pytest.approx(slip, abs=0.02)


def test_chance_that_one_alone_slipped():
    """Two dimensions, slips certain of one or of the other, or of both half the time."""
    first, second = np.array([[1.0, 0.0, 1.0]]), np.array([[0.0, 1.0, 1.0]])
    weights = np.array([[0.3, 0.2, 0.5]])
    found = only_one({"a": first, "b": second}, weights)
    assert found["a"] == pytest.approx(0.6)
    assert found["b"] == pytest.approx(0.4)


def test_slip_chances_are_bayes():
    study = slipping(1.0)
    spread = with_slips(study)["x1"]
    x = np.array([[0.0, 0.9, 3.0]])
    own = 0.98 * Z.pdf(x, scale=1 / 3)
    wide = 0.02 / 10.0
    assert slip_chances(spread, x) == pytest.approx(wide / (wide + own), rel=1e-9)


# --- burners made up with one blunder -------------------------------------------------------------


class Margins(NamedTuple):
    near: Annotated[float, "mm", "first margin"]
    far: Annotated[float, "mm", "second margin"]


def levers(
    a: Annotated[float, "mm", "a"] = 0.0,
    b: Annotated[float, "mm", "b"] = 0.0,
    c: Annotated[float, "mm", "c"] = 0.0,
    d: Annotated[float, "mm", "d"] = 0.0,
    e: Annotated[float, "mm", "e"] = 0.0,
    f: Annotated[float, "mm", "f"] = 0.0,
) -> Margins:
    """Six dimensions with levers of their own on two margins."""
    return Margins(
        2.4 - (1.5 * a - 1.0 * b + 0.6 * c + 0.3 * d), 2.4 - (0.4 * a + 1.1 * d + 0.8 * e - 0.5 * f)
    )


LEVERS = np.array([[1.5, -1.0, 0.6, 0.3, 0.0, 0.0], [0.4, 0.0, 0.0, 1.1, 0.8, -0.5]])
PATTERNS = [(True, False), (False, True), (True, True)]


@pytest.mark.parametrize("pattern", PATTERNS, ids=["near", "far", "both"])
def test_blunder_is_among_the_first_two_suspects_as_often_as_said(pattern, capsys):
    """Burners made up with just one slip, which fail in this pattern: the share of which the slip
    is that of one of the first two suspects agrees with the chance that the answer gave.
    """
    names = tuple("abcdef")
    study = sl.Study(
        models=[levers],
        inputs={name: sl.normal("0 mm", plus_minus="1 mm") for name in names},
        limits=[sl.limit("near", at_least="0 mm"), sl.limit("far", at_least="0 mm")],
        sampling={"seed": 3, "replicates": 16, "points": 1024},
    )
    seen = tuple(
        EventSeen(name, broken) for name, broken in zip(("near", "far"), pattern, strict=True)
    )
    _, _, _, found = asked(study, Trial("a", "", {}, seen))
    first_two = [one.item.name for one in found[:2]]
    said = sum(one.if_one for one in found[:2])
    generator = np.random.default_rng(11)
    count = 400_000
    x = generator.normal(0.0, 1 / 3, (count, 6))
    which = generator.integers(0, 6, count)
    x[np.arange(count), which] = generator.uniform(-5.0, 5.0, count)
    broken = 2.4 - x @ LEVERS.T < 0.0
    alike = (broken == np.array(pattern)).all(axis=1)
    share = float(np.isin(which[alike], [names.index(name) for name in first_two]).mean())
    with capsys.disabled():
        print(f"\nfirst suspects {first_two}: said {said:.3f}, so of {share:.3f} made up")
    assert said == pytest.approx(share, abs=0.05)
    # What is named must be worth naming: better than two of six by chance.
    assert share > 0.5
