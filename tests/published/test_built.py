"""Is the part good, and how does the burner stand: against the standards' examples, closed forms.

JCGM 106:2012, *The role of measurement uncertainty in conformity assessment*, and ISO
14253-1:2017, by statistics-sources 4 (its figures from memory, each recomputed there).
"""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy import integrate, optimize, stats

from sensitivity.answers.built.conformity import conformance_probability, conformity, guard_band
from sensitivity.answers.built.find import find_built
from sensitivity.answers.built.readings import heard_in_call, read_measured
from sensitivity.answers.built.words import built_verdict
from sensitivity.answers.levels import sampled
from sensitivity.engine.options import RunOptions
from sensitivity.spreads.spread import bounded, normal
from sensitivity.study.file import read_study

ONE = RunOptions(workers=1)

MODELS = str(Path(__file__).with_name("measuring_models.py"))
PHI = stats.norm.cdf
INF = float("inf")


@pytest.mark.parametrize(
    ("tolerance", "read", "u", "printed", "exact"),
    [
        # Breakdown voltage of a Zener diode, at most -5.40 V.
        ((-INF, -5.40), -5.47, 0.05, 0.92, 0.919243341),
        # Burst pressure of a container, at least 490 kPa.
        ((490.0, INF), 509.7, 8.6, 0.99, 0.989009547),
        # Kinematic viscosity of an SAE 40 oil, 12.5 to 16.3 mm2/s.
        ((12.5, 16.3), 13.6, 1.8, 0.66, 0.662629786),
    ],
    ids=["zener", "burst", "oil"],
)
def test_conformance_probability_of_jcgm_106_clause_7(tolerance, read, u, printed, exact):
    found = conformance_probability(tolerance, normal(read, u))
    assert found == pytest.approx(exact, abs=1e-9)
    assert round(found, 2) == printed
    expected = "good" if printed >= 0.95 else "too close to say"
    assert conformity(tolerance, read, normal(read, u)).verdict == expected


@pytest.mark.parametrize(
    ("proved", "printed"), [(0.80, 0.84), (0.90, 1.28), (0.95, 1.64), (0.99, 2.33), (0.999, 3.09)]
)
def test_guard_band_of_jcgm_106_table_1(proved, printed):
    """Two digits behind the point as printed: 1.645 stands there as 1.64."""
    found = guard_band(0.0, normal(0.0, 1.0), proved)
    assert found == pytest.approx(printed, abs=0.0051)
    assert found == pytest.approx(stats.norm.ppf(proved), abs=1e-12)


def test_guard_band_of_twice_the_uncertainty_proves_97_7_percent():
    """ISO 14253-1:1998 and 2013: the guard band is U with k = 2, which leaves 2.3 %."""
    u, limit = 0.008, 12.1
    probability = conformance_probability((-INF, limit), normal(limit - 2.0 * u, u))
    assert round(probability, 3) == 0.977
    assert guard_band(0.0, normal(0.0, u), 0.977249868) == pytest.approx(2.0 * u, rel=1e-6)


@pytest.mark.parametrize(
    ("size", "band"),
    [(normal(0.0, 0.01), 1.644854), (bounded("rectangular", -0.03, 0.03), 0.9 * np.sqrt(3.0))],
    ids=["normal", "rectangular"],
)
def test_default_rule_of_iso_14253_1_2017(size, band):
    """A part is proved good a guard band inside a limit, and proved bad one outside it."""
    u = 0.01 if size.shape == "normal" else 0.03 / np.sqrt(3.0)
    tolerance = (0.0, 5.0)

    def verdict(reading):
        from sensitivity.spreads.altered import moved

        return conformity(tolerance, reading, moved(size, reading)).verdict

    w, hair = band * u, 1e-6
    for limit, inwards in ((0.0, 1.0), (5.0, -1.0)):
        assert verdict(limit + inwards * (w + hair)) == "good"
        assert verdict(limit + inwards * (w - hair)) == "too close to say"
        assert verdict(limit) == "too close to say"
        assert verdict(limit - inwards * (w - hair)) == "too close to say"
        assert verdict(limit - inwards * (w + hair)) == "not good"


def test_a_coarse_instrument_condemns_nothing():
    """5 +- 0.01 read as 5 within +-0.25: within by 4 of 100, beyond either end by 48 of 100.

    Neither is proved. It is beyond an end with 95 % where the reading is a guard band of
    0.9 * 0.25 = 0.225 beyond it.
    """
    tolerance, rule = (4.99, 5.01), 0.25

    def read(value):
        return conformity(tolerance, value, bounded("rectangular", value - rule, value + rule))

    assert read(5.0).probability == pytest.approx(0.02 / 0.5)
    assert read(5.0).verdict == "too close to say"
    assert read(5.01 + 0.225 - 1e-6).verdict == "too close to say"
    assert read(5.01 + 0.225 + 1e-6).verdict == "not good"
    assert read(4.99 - 0.225 - 1e-6).verdict == "not good"


def test_two_limits_close_together_count_both():
    """A tolerance of 3.3 u: the middle has 90 %, so no reading proves a part good."""
    u, tolerance = 0.01, (0.0, 0.033)
    middle = conformity(tolerance, 0.0165, normal(0.0165, u))
    assert middle.probability == pytest.approx(2.0 * PHI(1.65) - 1.0, abs=1e-12)
    assert middle.verdict == "too close to say"


@pytest.mark.parametrize(
    ("factor", "consumer", "producer"),
    [
        (0.0, 0.018942207, 0.037207800),
        (1.0, 0.004334072, 0.114656578),
        (1.64, 0.001145288, 0.193561865),
        (2.0, 0.000468634, 0.247669640),
    ],
)
def test_global_risks_of_a_guard_band(factor, consumer, producer):
    """Process N(0, 0.12), tolerance 0.2 each way, u = 0.04: risks by quadrature (section 4).

    The acceptance limits are those at which our conformance probability is Phi(factor), found by
    bisection; the tolerance is ten u wide, so the other limit does not count.
    """
    u, limit = 0.04, 0.2
    low, high = 0.0, 0.4
    for _ in range(60):
        middle = 0.5 * (low + high)
        inside = conformance_probability((-limit, limit), normal(middle, u)) >= PHI(factor)
        low, high = (middle, high) if inside else (low, middle)

    def risk(size):
        accepted = PHI((low - size) / u) - PHI((-low - size) / u)
        good = abs(size) <= limit
        return stats.norm.pdf(size, scale=0.12) * (1.0 - accepted if good else accepted)

    beyond = 2.0 * integrate.quad(risk, limit + 1e-12, 1.0, epsabs=1e-12)[0]
    within = 2.0 * integrate.quad(risk, 0.0, limit, epsabs=1e-12)[0]
    assert beyond == pytest.approx(consumer, abs=2e-8)
    assert within == pytest.approx(producer, abs=2e-8)


SIGMA, SHIM_SIGMA, T, U = 0.02, 0.015, 0.08, 0.025 / 3.0


def linear_study(folder):
    text = 'models = ["shimmed_gap"]\n'
    for name in ("x1", "x2", "x3"):
        text += f'[inputs.{name}]\nnominal = "0 mm"\nstandard_deviation = "{SIGMA} mm"\n'
    text += (
        f'[inputs.shim]\nnominal = "0 mm"\nstandard_deviation = "{SHIM_SIGMA} mm"\n'
        'adjust = ["-0.4 mm", "0.4 mm"]\n'
        f'[limits.gap]\nat_least = "{-T} mm"\nat_most = "{T} mm"\n'
        "[sampling]\nseed = 2\npoints = 1024\n"
    )
    path = folder / "study.toml"
    path.write_text(text, encoding="utf-8")
    return read_study(path, (MODELS,))


def test_yield_of_a_linear_gap_with_two_parts_read(tmp_path):
    """Gap shim + 3 x1 - 2 x2 + x3, x1 and x2 read as y1 and y2 with normal errors of u.

    What is stated counts with what was read: each is then normal about k y with variance k u^2,
    k = sigma^2 / (sigma^2 + u^2), and the gap about k (3 y1 - 2 y2) with variance
    13 k u^2 + sigma^2 + sigma_s^2; the best shim takes the mean away, and leaves 2 Phi(T/w) - 1.
    """
    study = linear_study(tmp_path)
    heard = heard_in_call(
        ["x1=0.03 mm", "x2=-0.01 mm"],
        [f"{name}=small_hole_gauge_and_micrometer" for name in ("x1", "x2")],
    )
    found = find_built(study, read_measured(study, heard), options=ONE)
    k = SIGMA**2 / (SIGMA**2 + U**2)
    mean, w = 0.11 * k, np.sqrt(13.0 * k * U**2 + SIGMA**2 + SHIM_SIGMA**2)
    whole = np.sqrt(14.0 * SIGMA**2 + SHIM_SIGMA**2)
    drawn = 2.0 * PHI(T / whole) - 1.0
    now = PHI((T - mean) / w) - PHI((-T - mean) / w)
    assert found.now.one_level == "no running inputs"
    assert found.now.works == found.now.share
    assert found.drawn.value == pytest.approx(drawn, abs=0.004)
    assert found.now.value == pytest.approx(now, abs=0.004)
    assert found.change.low <= now - drawn + 0.002
    assert found.change.high >= now - drawn - 0.002
    assert found.best.at["shim"] == pytest.approx(-mean, abs=0.026)
    s = found.best.at["shim"]
    best = PHI((T - mean - s) / w) - PHI((-T - mean - s) / w)
    assert found.best.overall.value == pytest.approx(best, abs=0.004)
    assert abs(found.best.gain.value - (best - now)) < 1.5 * found.best.gain.half_width + 0.001
    assert best > 2.0 * PHI(T / w) - 1.0 - 0.01


RUNNING, DOUBT = 0.02, 0.02


def test_parts_that_work_of_a_linear_gap_with_two_parts_read(tmp_path):
    """As above, with x3 of the moment: a part works if it keeps at 99 of 100 moments.

    Its chance at a moment, Phi((T - b)/s) - Phi((-T - b)/s), falls with |b|; it works up to b*
    where that is 0.99. What a part is off by, b, is normal about k (3 y1 - 2 y2) + shim with
    variance 13 k u^2 + sigma_s^2, and 0.02 mm of what the models do not know moves it, m: the share
    that works has the 5 and 95 % quantiles over m that
    W(m) = Phi((b* - b - m)/w) - Phi((-b* - b - m)/w) has.
    """
    study = linear_study(tmp_path)
    text = study.text.replace(
        f'[inputs.x3]\nnominal = "0 mm"\nstandard_deviation = "{SIGMA} mm"\n',
        f'[inputs.x3]\nnominal = "0 mm"\nstandard_deviation = "{RUNNING} mm"\nkind = "running"\n'
        f'[inputs.nominal_gap]\nnominal = "0 mm"\nstandard_deviation = "{DOUBT} mm"\n'
        'kind = "model"\n',
    )
    path = tmp_path / "moments.toml"
    path.write_text(text, encoding="utf-8")
    study = read_study(path, (MODELS,))
    heard = heard_in_call(
        ["x1=0.01 mm", "x2=0 mm"],
        [f"{name}=small_hole_gauge_and_micrometer" for name in ("x1", "x2")],
    )
    found = find_built(study, read_measured(study, heard), options=ONE)

    def kept(b):
        return PHI((T - b) / RUNNING) - PHI((-T - b) / RUNNING)

    verge = optimize.brentq(lambda b: kept(b) - 0.99, 0.0, T)
    k = SIGMA**2 / (SIGMA**2 + U**2)
    mean, own = 0.03 * k, np.sqrt(13.0 * k * U**2 + SHIM_SIGMA**2)

    def works(off, w):
        return PHI((verge - off) / w) - PHI((-verge - off) / w)

    whole = np.hypot(own, DOUBT)
    now = works(mean, whole)
    drawn = works(0.0, np.sqrt(13.0 * SIGMA**2 + SHIM_SIGMA**2 + DOUBT**2))
    at_a_moment = PHI((T - mean) / np.hypot(whole, RUNNING)) - PHI(
        (-T - mean) / np.hypot(whole, RUNNING)
    )
    assert now == pytest.approx(found.now.value, abs=1.5 * found.now.half_width)
    assert found.drawn.value == pytest.approx(drawn, abs=1.5 * found.drawn.half_width)
    share = found.now.share
    assert share.value == pytest.approx(at_a_moment, abs=1.5 * share.half_width)
    assert share.half_width < 0.01
    assert at_a_moment > now + 0.2
    assert abs(found.change.value - (now - drawn)) < 1.5 * found.change.half_width
    assert found.best.at["shim"] == pytest.approx(-mean, abs=0.021)
    best = works(mean + found.best.at["shim"], whole)
    assert found.best.overall.value == pytest.approx(best, abs=1.5 * found.best.overall.half_width)
    assert found.there.works == found.best.overall
    # W(m) as measured falls with m from -verge on; set well it falls with |m|.
    ends = works(mean + DOUBT * np.array([1.644854, -1.644854]), own)
    for band, exact in zip((found.now.band.low, found.now.band.high), ends, strict=True):
        assert band.low - 0.03 <= exact <= band.high + 0.03
    assert f"does, {sampled(found.now.works)} keep" in built_verdict(found)
    assert "99 of 100 moments of running" in built_verdict(found)
    assert "as the physics may turn out" in built_verdict(found)


def test_a_coarse_reading_is_set_to_by_half(tmp_path):
    """x1 read with an error as wide as its own spread: the best shim takes half of it away.

    x1 ~ N(0, sigma) read y +- sigma is y/2 +- sigma/sqrt(2); the gap shim + 3 x1 - 2 x2 + x3 is
    then normal about 3 y/2 with variance 4.5 sigma^2 + 5 sigma^2 + sigma_s^2. To set the whole
    of 3 y away would leave the mean out by 3 y/2 the other way: no better than not to have read.
    """
    study = linear_study(tmp_path)
    heard = heard_in_call(["x1=0.04 mm"], ["x1=small_hole_gauge_and_micrometer"])
    (one,) = read_measured(study, heard)
    coarse = replace(one, size=normal(0.04, SIGMA))
    found = find_built(study, [coarse], options=ONE)
    w = np.sqrt(9.5 * SIGMA**2 + SHIM_SIGMA**2)

    def works(shim):
        return PHI((T - 0.06 - shim) / w) - PHI((-T - 0.06 - shim) / w)

    assert found.best.at["shim"] == pytest.approx(-0.06, abs=0.021)
    exact = works(found.best.at["shim"])
    assert found.best.overall.value == pytest.approx(exact, abs=1.5 * found.best.overall.half_width)
    assert found.now.value == pytest.approx(works(0.0), abs=1.5 * found.now.half_width)
    assert works(-0.12) == pytest.approx(works(0.0))


def test_a_reading_of_the_gap_itself(tmp_path):
    """The gap with no shim read 0.1 +- u: S = 3 x1 - 2 x2 + x3 is normal about k y, k u^2.

    With V = 14 sigma^2, k = V/(V + u^2); each part then lies about its share of k y, such as
    3 sigma^2/V of it for x1. A shim of -k y leaves 2 Phi(T/w) - 1, w^2 = k u^2 + sigma_s^2: one
    reading in the place of three, and better than all three read with the same instrument.
    """
    study = linear_study(tmp_path)
    text = study.text.replace(
        "[sampling]",
        '[readings.gap]\ninstrument = "small_hole_gauge_and_micrometer"\n'
        'at = { shim = "0 mm" }\n[sampling]',
    )
    path = tmp_path / "gauged.toml"
    path.write_text(text, encoding="utf-8")
    study = read_study(path, (MODELS,))
    # The study says with what it is read.
    found = find_built(study, read_measured(study, heard_in_call(["gap=0.1 mm"], [])), options=ONE)
    whole = 14.0 * SIGMA**2
    k = whole / (whole + U**2)
    assert found.known.method == "solved"
    told = {one.item.name: one.after for one in found.told}
    for name, coefficient in (("x1", 3.0), ("x2", -2.0), ("x3", 1.0)):
        mean, deviation = told[name]
        exact = SIGMA * np.sqrt(1.0 - k * coefficient**2 * SIGMA**2 / whole)
        assert mean == pytest.approx(coefficient * SIGMA**2 / whole * k * 0.1, abs=2e-4)
        assert deviation == pytest.approx(exact, rel=0.02)
    assert found.best.at["shim"] == pytest.approx(-0.1 * k, abs=0.021)
    w = np.sqrt(k * U**2 + SHIM_SIGMA**2)
    off = 0.1 * k + found.best.at["shim"]
    best = PHI((T - off) / w) - PHI((-T - off) / w)
    assert found.best.overall.value == pytest.approx(best, abs=0.002)
    assert 2.0 * PHI(T / w) - 1.0 > 2.0 * PHI(T / np.sqrt(14.0 * U**2 + SHIM_SIGMA**2)) - 1.0
