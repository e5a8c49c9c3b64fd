"""Sobol' indices against closed forms, and against two other libraries.

Closed forms (statistics-sources 2.1, where each is computed anew):

- Ishigami: Ishigami and Homma 1990, with a = 7, b = 0.1; indices in Sobol' and Levitan 1999.
- g-function: Saltelli and Sobol' 1995. V_i = 1/(3 (1 + a_i)^2), V = prod (1 + V_i) - 1,
  first V_i/V, total V_i prod_{j != i} (1 + V_j)/V, pair V_i V_j/V.
- Bratley: Bratley, Fox and Niederreiter 1992; moments of uniform variables, worked out here.
- linear with unequal variances, and the product of two normals: elementary.

An exact index must lie within twice the half-width of its interval, and of all the intervals
about as many must hold theirs as their confidence says: the central 99 % of a binomial.
"""

from pathlib import Path

import numpy as np
import pytest
from scipy import integrate, stats

from sensitivity.engine.monte_carlo import run_replicates
from sensitivity.engine.plan import plan_run
from sensitivity.engine.result import PASS_FAIL, assemble
from sensitivity.study.file import read_study

MODELS = str(Path(__file__).with_name("statistics_models.py"))
ROOT_3 = 3.0**0.5


def run(folder, text, *, pairs=False):
    """Run a study, as the command does but for the results folder."""
    path = folder / "study.toml"
    path.write_text(text + "[sampling]\nseed = 1\npoints = 4096\n", encoding="utf-8")
    study = read_study(path, (MODELS,))
    plan = plan_run(study, pairs=pairs)
    return assemble(study, plan, run_replicates(plan, workers=1))


def study_of(model, **inputs):
    text = f'models = ["{model}"]\n'
    return text + "".join(f"[inputs.{name}]\n{stated}\n" for name, stated in inputs.items())


def uniform(count):
    return {f"x{number}": "nominal = 0.5\nplus_minus = 0.5" for number in range(1, count + 1)}


def near(estimate, exact):
    """Assert that an exact value lies within twice the half-width."""
    assert estimate.low <= estimate.value <= estimate.high
    assert abs(estimate.value - exact) <= 2.0 * estimate.half_width, (estimate, exact)


def covers(estimate, exact):
    return estimate.low <= exact <= estimate.high


def as_many_as_promised(held, confidence=0.95):
    """Assert that the count of intervals that hold their value is in the binomial's 99 %."""
    low, high = stats.binom.interval(0.99, len(held), confidence)
    assert low <= sum(held) <= high, f"{sum(held)} of {len(held)}; {low:g} to {high:g} expected"


# Closed forms


def ishigami():
    a, b, pi = 7.0, 0.1, np.pi
    one = 0.5 * (1.0 + b * pi**4 / 5.0) ** 2
    two = a**2 / 8.0
    one_three = b**2 * pi**8 * (1.0 / 18.0 - 1.0 / 50.0)
    variance = one + two + one_three
    first = np.array([one, two, 0.0]) / variance
    return first, first + np.array([one_three, 0.0, one_three]) / variance


def partial_variances(a):
    return 1.0 / (3.0 * (1.0 + np.asarray(a)) ** 2)


def g_function(a):
    part = partial_variances(a)
    whole = np.prod(1.0 + part)
    return part / (whole - 1.0), part * whole / (1.0 + part) / (whole - 1.0)


def bratley(count=6):
    """First and total indices from the first two moments of products of uniform variables.

    f = sum_k (-1)^k P_k with P_k = x_1 ... x_k. Given a set u of inputs, E[f | x_u]^2 has
    the mean sum_{k, l} (-1)^(k + l) prod_i m_i, where m_i is 1/3 for i <= min(k, l) in u, 1/4
    for such i not in u, and 1/2 for those between k and l. First of i: u = {i}; total: u all
    but i.
    """

    def second_moment(known):
        total = 0.0
        for k in range(1, count + 1):
            for m in range(1, count + 1):
                shared = [1.0 / 3.0 if i in known else 0.25 for i in range(min(k, m))]
                total += (-1.0) ** (k + m) * np.prod(shared) * 0.5 ** abs(k - m)
        return total

    everything = frozenset(range(count))
    square = second_moment(frozenset())
    variance = second_moment(everything) - square
    first = [(second_moment(frozenset({i})) - square) / variance for i in range(count)]
    total = [1.0 - (second_moment(everything - {i}) - square) / variance for i in range(count)]
    return np.array(first), np.array(total)


LINEAR = {"weights": (1.0, 2.0, 3.0, 0.5), "deviations": (0.02, 0.01, 0.005, 0.04)}


def linear():
    share = (np.array(LINEAR["weights"]) * np.array(LINEAR["deviations"])) ** 2
    return share / share.sum(), share / share.sum()


def product_of_two(mean=(1.0, 2.0), deviation=(0.5, 1.5)):
    """V_1 = m2^2 s1^2, V_2 = m1^2 s2^2, V_12 = s1^2 s2^2."""
    (m1, m2), (s1, s2) = mean, deviation
    one, two, both = (m2 * s1) ** 2, (m1 * s2) ** 2, (s1 * s2) ** 2
    variance = one + two + both
    return np.array([one, two]) / variance, np.array([one + both, two + both]) / variance


G_EIGHT, G_THREE = (0.0, 1.0, 4.5, 9.0, 99.0, 99.0, 99.0, 99.0), (0.0, 0.0, 0.0)
CASES = {
    "ishigami": (
        study_of("ishigami", **{f"x{i}": f"plus_minus = {np.pi}" for i in (1, 2, 3)}),
        ishigami(),
    ),
    "g-function of eight": (study_of("g_function", **uniform(8)), g_function(G_EIGHT)),
    "g-function of three": (
        study_of(
            "g_function",
            **uniform(3),
            **{f"a{number}": "nominal = 0" for number in (1, 2, 3)},
        ),
        g_function(G_THREE),
    ),
    "bratley": (study_of("bratley", **uniform(6)), bratley()),
    "linear": (
        study_of(
            "weighted_sum",
            **{f"x{i}": f"standard_deviation = {s}" for i, s in enumerate(LINEAR["deviations"], 1)},
            **{f"c{i}": f"nominal = {c}" for i, c in enumerate(LINEAR["weights"], 1)},
        ),
        linear(),
    ),
    "product": (
        study_of(
            "product_of_two",
            x1="nominal = 1\nstandard_deviation = 0.5",
            x2="nominal = 2\nstandard_deviation = 1.5",
        ),
        product_of_two(),
    ),
}


@pytest.mark.parametrize(
    ("case", "printed_first", "printed_total"),
    [
        # Saltelli and others 2008, *Global Sensitivity Analysis: The Primer* (from memory)
        ("ishigami", (0.3139, 0.4424, 0.0), (0.5576, 0.4424, 0.2437)),
        ("g-function of eight", (0.7162, 0.1790, 0.0237, 0.0072), (0.7871, 0.2422, 0.0343, 0.0105)),
        # statistics-sources 2.1: recomputed, by exact rational arithmetic for the third
        ("g-function of three", (0.2432,) * 3, (0.4324,) * 3),
        (
            "bratley",
            (0.6529, 0.1791, 0.0370, 0.0133, 0.0015, 0.0015),
            (0.7396, 0.2659, 0.0764, 0.0343, 0.0062, 0.0062),
        ),
        ("linear", (0.2807, 0.2807, 0.1579, 0.2807), (0.2807, 0.2807, 0.1579, 0.2807)),
        ("product", (0.2623, 0.5902), (0.4098, 0.7377)),
    ],
)
def test_closed_forms_agree_with_the_sources(case, printed_first, printed_total):
    first, total = CASES[case][1]
    assert first[: len(printed_first)] == pytest.approx(printed_first, abs=5.1e-5)
    assert total[: len(printed_total)] == pytest.approx(printed_total, abs=5.1e-5)


@pytest.fixture(scope="module")
def results(tmp_path_factory):
    """One run of every case: name to table of input to `Index`."""
    found = {}
    for name, (text, _) in CASES.items():
        result = run(tmp_path_factory.mktemp("sobol"), text)
        (found[name],) = result.sensitivity.values()
    return found


@pytest.mark.parametrize("case", CASES)
def test_indices(case, results):
    first, total = CASES[case][1]
    for index, *exact in zip(results[case].values(), first, total, strict=True):
        near(index.first, exact[0])
        near(index.total, exact[1])
        # and near enough to be of use
        assert index.first.half_width < 0.02
        assert index.total.half_width < 0.02


def test_intervals_of_all_indices_hold_as_often_as_they_say(results):
    held = []
    for case, (_, (first, total)) in CASES.items():
        for index, *exact in zip(results[case].values(), first, total, strict=True):
            held += [covers(index.first, exact[0]), covers(index.total, exact[1])]
    assert len(held) == 52
    as_many_as_promised(held)


# Second order


def test_second_order_of_ishigami(tmp_path):
    result = run(tmp_path, CASES["ishigami"][0], pairs=True)
    found = result.pairs["value"]
    assert list(found) == [("x1", "x2"), ("x1", "x3"), ("x2", "x3")]
    near(found["x1", "x3"], 0.243683664062148)
    near(found["x1", "x2"], 0.0)
    near(found["x2", "x3"], 0.0)
    assert found["x1", "x3"].half_width < 0.02


def test_second_order_of_g_function(tmp_path):
    part = partial_variances(G_EIGHT)
    variance = np.prod(1.0 + part) - 1.0
    result = run(tmp_path, CASES["g-function of eight"][0], pairs=True)
    held = []
    for (one, other), estimate in result.pairs["value"].items():
        exact = part[int(one[1]) - 1] * part[int(other[1]) - 1] / variance
        near(estimate, exact)
        held.append(covers(estimate, exact))
    assert len(held) == 28
    as_many_as_promised(held)
    assert result.pairs["value"]["x1", "x2"].low > 0.0


def test_pairs_of_a_sum_do_not_act_together(tmp_path):
    result = run(tmp_path, CASES["linear"][0], pairs=True)
    for estimate in result.pairs["y"].values():
        near(estimate, 0.0)


# Peers, on the g-function of eight


def test_scipy_agrees_on_g_function(results):
    # scipy.stats.sobol_indices, Saltelli and others 2010; it gives no interval, so ten runs do
    def peer(x):
        a = np.array(G_EIGHT)[:, None]
        return np.prod((np.abs(4.0 * x - 2.0) + a) / (1.0 + a), axis=0)

    runs = [
        stats.sobol_indices(
            func=peer, n=2048, dists=[stats.uniform()] * 8, rng=np.random.default_rng(seed)
        )
        for seed in range(10)
    ]
    for place, index in enumerate(results["g-function of eight"].values()):
        for ours, theirs in (
            (index.first, [run.first_order[place] for run in runs]),
            (index.total, [run.total_order[place] for run in runs]),
        ):
            half = stats.t.ppf(0.975, 9) * stats.sem(theirs)
            difference = abs(ours.value - np.mean(theirs))
            assert difference <= 2.0 * np.hypot(half, ours.half_width)


def test_openturns_agrees_on_g_function(results):
    import openturns as ot

    names = [f"x{number}" for number in range(1, 9)]
    factors = [f"((abs(4*{x} - 2) + {a})/(1 + {a}))" for x, a in zip(names, G_EIGHT, strict=True)]
    ot.RandomGenerator.SetSeed(7)
    distribution = ot.JointDistribution([ot.Uniform(0.0, 1.0)] * 8)
    peer = ot.SymbolicFunction(names, ["*".join(factors)])
    algorithm = ot.JansenSensitivityAlgorithm(distribution, 16_384, peer, False)
    algorithm.setUseAsymptoticDistribution(True)
    total = algorithm.getTotalOrderIndices()
    first = algorithm.getFirstOrderIndices()
    wide = algorithm.getTotalOrderIndicesInterval(), algorithm.getFirstOrderIndicesInterval()
    for number, index in enumerate(results["g-function of eight"].values()):
        for ours, theirs, interval in zip(
            (index.total, index.first), (total[number], first[number]), wide, strict=True
        ):
            half = 0.5 * (interval.getUpperBound()[number] - interval.getLowerBound()[number])
            assert abs(ours.value - theirs) <= 2.0 * np.hypot(half, ours.half_width)


# The pass/fail result of a linear normal sum


def failure_shares(beta, squares):
    """First and total indices of ``Y > beta``, Y = sum of a_i X_i, sum of a_i^2 = 1.

    X_i are independent standard normal, p = P(Y > beta) = Phi(-beta), Z the indicator of
    failure with variance p (1 - p); pass and fail have the same indices, for 1 - Z has the
    variance and the conditional variances of Z.

    Let Y' be Y with X_i kept and all others drawn anew. Given X_i the two are independent
    and alike, so E[E[Z | X_i]^2] = P(Y > beta, Y' > beta), and Var E[Z | X_i] is that less
    p^2. Y and Y' are standard normal with correlation a_i^2. So

        first_i = (Phi2(-beta, -beta; a_i^2) - p^2)/(p (1 - p)).

    With all but X_i kept the correlation is 1 - a_i^2, and total_i is 1 less the share of
    Var E[Z | all but X_i]. By Plackett's identity d Phi2/d rho is the bivariate density at
    (-beta, -beta), ``exp(-beta^2/(1 + rho))/(2 pi sqrt(1 - rho^2))``; with rho = sin t

        Phi2(-beta, -beta; r) - p^2 = int_0^asin(r) exp(-beta^2/(1 + sin t)) dt/(2 pi).
    """
    p = stats.norm.cdf(-beta)

    def excess(rho):
        integrand = integrate.quad(
            lambda t: np.exp(-(beta**2) / (1.0 + np.sin(t))), 0.0, np.arcsin(rho), epsabs=1e-13
        )
        return integrand[0] / (2.0 * np.pi) / (p * (1.0 - p))

    first = np.array([excess(square) for square in squares])
    total = np.array([1.0 - excess(1.0 - square) for square in squares])
    return first, total


def pass_fail_study(beta, squares):
    return (
        study_of(
            "weighted_sum",
            **{
                f"x{i}": f"standard_deviation = {square**0.5}"
                for i, square in enumerate(squares, 1)
                if square
            },
        )
        + f"[limits.y]\nat_most = {beta}\n"
    )


PASS_FAIL_CASES = [
    # beta, a_i^2, first and total of statistics-sources 2.3 (closed form and 8e6 draws there)
    (1.0, (0.64, 0.36), (0.387557, 0.187715), (0.812285, 0.612443)),
    (2.0, (0.64, 0.36), (0.255017, 0.091035), (0.908965, 0.744983)),
    (
        2.0,
        (0.5, 0.3, 0.15, 0.05),
        (0.159018, 0.068535, 0.026245, 0.007236),
        (0.840982, 0.692163, 0.510379, 0.302513),
    ),
]


@pytest.mark.parametrize(("beta", "squares", "first", "total"), PASS_FAIL_CASES)
def test_pass_fail_indices_of_a_linear_normal_sum(beta, squares, first, total, tmp_path):
    exact = failure_shares(beta, squares)
    assert exact[0] == pytest.approx(first, abs=1e-6)
    assert exact[1] == pytest.approx(total, abs=1e-6)
    # Phi2 by SciPy's own quadrature
    both = stats.multivariate_normal([0.0, 0.0], [[1.0, squares[0]], [squares[0], 1.0]])
    p = stats.norm.cdf(-beta)
    share = (both.cdf([-beta, -beta]) - p**2) / (p * (1.0 - p))
    assert exact[0][0] == pytest.approx(share, abs=1e-6)

    result = run(tmp_path, pass_fail_study(beta, squares))
    found = result.sensitivity[PASS_FAIL].values()
    for index, one, all_told in zip(found, *exact, strict=True):
        near(index.first, one)
        near(index.total, all_told)
        assert index.total.half_width < 0.05
    assert not result.distances


def distance_among_failures(beta, square):
    """Kolmogorov distance of X_1 among failures from X_1, for Y > beta of `failure_shares`.

    With a = a_1 and b = sqrt(1 - a^2), P(Y > beta | x) = Phi((a x - beta)/b), so among
    failures X_1 has the density phi(x) Phi((a x - beta)/b)/p. The two distribution functions are
    furthest apart where the densities cross: Phi((a x - beta)/b) = p = Phi(-beta), at
    x = beta (1 - b)/a. The distance there is Phi(x) less the integral of the density up to x.
    """
    a, b = square**0.5, (1.0 - square) ** 0.5
    p = stats.norm.cdf(-beta)
    crossing = beta * (1.0 - b) / a
    below, _ = integrate.quad(
        lambda x: stats.norm.pdf(x) * stats.norm.cdf((a * x - beta) / b) / p,
        -np.inf,
        crossing,
        epsabs=1e-12,
    )
    return stats.norm.cdf(crossing) - below


def test_rare_failures_have_distances_instead_of_indices(tmp_path):
    beta, squares = 3.0, (0.64, 0.30, 0.06)
    # x4 does nothing: its weight is none.
    text = (
        pass_fail_study(beta, squares)
        + study_of("x", x4="standard_deviation = 1", c4="nominal = 0").split("\n", 1)[1]
    )
    result = run(tmp_path, text)
    assert PASS_FAIL not in result.sensitivity
    assert "fail" in result.no_indices[PASS_FAIL]
    assert "mean nothing" in result.no_indices[PASS_FAIL]
    # Why, in closed form for two inputs (statistics-sources 2.3): alone hardly anything, and
    # with the other nearly everything, for both.
    first, total = failure_shares(beta, (0.64, 0.36))
    assert first == pytest.approx((0.125542, 0.025011), abs=1e-6)
    assert total == pytest.approx((0.974989, 0.874458), abs=1e-6)
    # The output itself varies plainly and keeps its indices.
    for index, square in zip(result.sensitivity["y"].values(), (*squares, 0.0), strict=True):
        near(index.first, square)

    assert list(result.distances) == ["x1", "x2", "x3", "x4"]
    exact = [distance_among_failures(beta, square) for square in squares]
    assert exact == sorted(exact, reverse=True)
    assert exact[0] > 0.5
    for estimate, distance in zip(result.distances.values(), [*exact, 0.0], strict=True):
        assert covers(estimate, distance), (estimate, distance)
        assert estimate.half_width < 0.15
    assert result.distances["x4"].low == 0.0
    assert result.distances["x1"].low > result.distances["x3"].high


# Correlated inputs

RHO = 0.5
CORRELATED = {"deviations": (1.0, 2.0, 1.5)}


def correlated_study(*, grouped):
    """x1 and x2 with Pearson's correlation `RHO`, x3 on its own."""
    group = '\ngroup = "setting"' if grouped else ""
    one, two, three = (f"standard_deviation = {s}" for s in CORRELATED["deviations"])
    text = study_of("weighted_sum", x1=one + group, x2=two + group, x3=three)
    # The rank correlation of two normals with Pearson's rho (Pearson 1907, from memory)
    rank = 6.0 / np.pi * np.arcsin(0.5 * RHO)
    return text + f'[[correlations]]\ninputs = ["x1", "x2"]\nrank = {rank}\n'


def test_correlated_inputs_apart_have_no_indices(tmp_path):
    limit = "[limits.y]\nat_most = 3\n"
    result = run(tmp_path, correlated_study(grouped=False) + limit)
    assert result.sensitivity == {}
    for name in ("y", PASS_FAIL):
        assert "x1 and x2 are correlated" in result.no_indices[name]
        assert "same group" in result.no_indices[name]
        assert "shared cause plus independent parts" in result.no_indices[name]
    # The yield and the spread stand, with the correlation in them.
    s1, s2, s3 = CORRELATED["deviations"]
    deviation = (s1**2 + s2**2 + 2.0 * RHO * s1 * s2 + s3**2) ** 0.5
    near(result.output("y").standard_deviation, deviation)
    assert result.overall is not None
    error = abs(result.overall.value - stats.norm.cdf(3.0 / deviation))
    assert error <= 2.0 * result.overall.half_width


def test_grouped_correlated_inputs(tmp_path):
    # Var(x1 + x2) = s1^2 + s2^2 + 2 rho s1 s2, independent of x3: first = total = its share.
    s1, s2, s3 = CORRELATED["deviations"]
    pair = s1**2 + s2**2 + 2.0 * RHO * s1 * s2
    result = run(tmp_path, correlated_study(grouped=True), pairs=True)
    table = result.sensitivity["y"]
    assert list(table) == ["setting", "x3"]
    for name, variance in (("setting", pair), ("x3", s3**2)):
        near(table[name].first, variance / (pair + s3**2))
        near(table[name].total, variance / (pair + s3**2))
    near(result.pairs["y"]["setting", "x3"], 0.0)
    # Without the correlation in the samples the share would be another, well outside.
    apart = (s1**2 + s2**2) / (s1**2 + s2**2 + s3**2)
    assert not covers(table["setting"].total, apart)


# No variance, no variation


@pytest.mark.parametrize(
    "divisor",
    [
        # E[1/x^2] is infinite wherever x has a density at zero
        "nominal = 0.5\nplus_minus = 0.5",
        "nominal = 0.2\nplus_minus = 1",
        "nominal = 1\nstandard_deviation = 0.5",
        'nominal = 1\nplus_minus = 1\nshape = "normal"',
        'nominal = 1\nplus_minus = 1\nshape = "arcsine"',
    ],
)
def test_reciprocal_with_density_at_zero_has_no_indices(divisor, tmp_path):
    result = run(tmp_path, study_of("reciprocal", x=divisor))
    assert "value" not in result.sensitivity
    reason = result.no_indices["value"]
    assert "variance" in reason
    assert "reaches zero" in reason


def test_reciprocal_away_from_zero_has_indices(tmp_path):
    # 1/x of x in 0.5..1.5 has every moment.
    result = run(tmp_path, study_of("reciprocal", x="nominal = 1\nplus_minus = 0.5"))
    near(result.sensitivity["value"]["x"].total, 1.0)


def test_lognormal_of_half_has_indices(tmp_path):
    # sigma of ln 0.5: skew 1.75, kurtosis 9, yet every moment is there. Beside a normal of the
    # same variance each has half.
    relative = float(np.sqrt(np.expm1(0.25)))
    deviation = float(np.exp(0.125) * relative)
    text = study_of(
        "weighted_sum",
        x1=f"nominal = 1\nlognormal = {relative}",
        x2=f"standard_deviation = {deviation}",
    )
    result = run(tmp_path, text)
    assert not result.no_indices
    for index in result.sensitivity["y"].values():
        near(index.first, 0.5)
        near(index.total, 0.5)


def test_constant_result_does_not_vary(tmp_path):
    result = run(tmp_path, study_of("line_and_constant", x="nominal = 1\nplus_minus = 0.1"))
    assert "constant" not in result.sensitivity
    assert "does not vary" in result.no_indices["constant"]
    near(result.sensitivity["line"]["x"].first, 1.0)


@pytest.mark.parametrize("offset", [0.0, 1e6])
def test_estimators_are_those_of_salib(offset):
    """SALib 1.5, ``SALib.analyze.sobol``: the same numbers from the same three columns."""
    from SALib.analyze import sobol

    from sensitivity.engine.indices import first_and_total, scale, step_sums

    drawn = np.random.default_rng(7).normal(size=(2, 4096, 3))
    swapped = drawn[0].copy()
    swapped[:, 0] = drawn[1][:, 0]
    a, b, ab = (offset + x[:, 0] + 0.5 * x[:, 1] * x[:, 2] for x in (drawn[0], drawn[1], swapped))
    scaling = scale(a, b)
    columns = [(values - offset)[:, None] for values in (a, ab, b)]
    mean = np.concatenate([a, b]).mean() - offset
    centred = [values - mean for values in columns]
    wanted = [float(f(*centred)[0]) for f in (sobol.first_order, sobol.total_order)]
    square, cross, whole, _ = step_sums(scaling, a, b, ab[None])
    found = [float(each[0]) for each in first_and_total(scaling, square, cross, whole)]
    assert found == pytest.approx(wanted, abs=1e-9)
