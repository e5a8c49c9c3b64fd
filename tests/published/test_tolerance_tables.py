"""Tolerances: ISO tables through the study file, process capability, worst case over the box.

The ISO tables are as seen in secondary print, two independent reprints of ISO 286-1 and
several of ISO 2768-1 that agree (neither standard itself was at hand; angles from memory).
Capability: closed form in the terms of ISO 22514-2. Worst case: closed forms, and SciPy's
``differential_evolution`` and brute force over a fine grid.
"""

from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from scipy import optimize, stats

from sensitivity.engine.monte_carlo import run_replicates
from sensitivity.engine.plan import plan_run
from sensitivity.engine.result import assemble
from sensitivity.engine.worst_case import stack_up
from sensitivity.spreads.tolerances import iso_286, iso_2768_angular, iso_2768_linear
from sensitivity.study.file import read_study
from sensitivity.system.catalogue import models_in_file

MODELS = str(Path(__file__).with_name("statistics_models.py"))


def read(folder, text):
    path = folder / "study.toml"
    path.write_text(text, encoding="utf-8")
    return read_study(path, (MODELS,))


def study_of(model, **inputs):
    text = f'models = ["{model}"]\n'
    return text + "".join(f"[inputs.{name}]\n{stated}\n" for name, stated in inputs.items())


# ISO 286-1

SIZES = (0, 3, 6, 10, 18, 30, 50, 80, 120, 180, 250)
STANDARD_TOLERANCES = {
    # over and up to mm: IT6 to IT14, um
    (0, 3): (6, 10, 14, 25, 40, 60, 100, 140, 250),
    (3, 6): (8, 12, 18, 30, 48, 75, 120, 180, 300),
    (6, 10): (9, 15, 22, 36, 58, 90, 150, 220, 360),
    (10, 18): (11, 18, 27, 43, 70, 110, 180, 270, 430),
    (18, 30): (13, 21, 33, 52, 84, 130, 210, 330, 520),
    (30, 50): (16, 25, 39, 62, 100, 160, 250, 390, 620),
    (50, 80): (19, 30, 46, 74, 120, 190, 300, 460, 740),
    (80, 120): (22, 35, 54, 87, 140, 220, 350, 540, 870),
    (120, 180): (25, 40, 63, 100, 160, 250, 400, 630, 1000),
    (180, 250): (29, 46, 72, 115, 185, 290, 460, 720, 1150),
}
UNITS = (10, 16, 25, 40, 64, 100, 160, 250, 400)  # IT6 to IT14 in units i


@pytest.mark.parametrize(("over", "to"), STANDARD_TOLERANCES)
def test_standard_tolerances(over, to):
    for grade, printed in enumerate(STANDARD_TOLERANCES[over, to], 6):
        width = printed / 1000.0
        for size in (over + 1e-6, 0.5 * (over + to), float(to)):  # "over 3, up to and with 6"
            assert iso_286(size, f"H{grade}") == pytest.approx((0.0, width), abs=1e-12)
            assert iso_286(size, f"h{grade}") == pytest.approx((-width, 0.0), abs=1e-12)
            for letters in ("JS", "js"):
                expected = (-0.5 * width, 0.5 * width)
                assert iso_286(size, f"{letters}{grade}") == pytest.approx(expected, abs=1e-12)


@pytest.mark.parametrize(("over", "to"), list(pairwise(SIZES))[1:])
def test_standard_tolerances_by_their_formula(over, to):
    # i = 0.45 D^(1/3) + 0.001 D um, D the geometric mean of the range in mm (ISO 286-1, annex,
    # from memory). The standard rounds by rules of its own. Up to 3 mm it departs from the
    # formula by up to 15 %, in every print seen.
    size = (over * to) ** 0.5
    unit = 0.45 * size ** (1.0 / 3.0) + 0.001 * size
    for grade, factor in enumerate(UNITS, 6):
        assert 1000.0 * iso_286(float(to), f"H{grade}")[1] == pytest.approx(factor * unit, rel=0.10)


@pytest.mark.parametrize(
    ("nominal", "stated", "low", "high"),
    [
        # 3/8 in is 9.525 mm: over 6 to 10, IT9 36 um. 5/32 in is 3.96875 mm: IT7 12 um.
        ('"3/8 in"', 'iso286 = "h9"', 9.525 - 0.036, 9.525),
        ("'5/32\"'", 'iso286 = "H7"', 3.96875, 3.96875 + 0.012),
        ('"10 mm"', 'iso286 = "JS8"', 10.0 - 0.011, 10.0 + 0.011),
        ('"6 mm"', 'iso2768 = "m"', 5.9, 6.1),
        ('"6.001 mm"', 'iso2768 = "m"', 5.801, 6.201),
        ('"1 1/4 in"', 'iso2768 = "c"', 31.75 - 0.8, 31.75 + 0.8),
    ],
)
def test_tolerance_class_through_the_study(nominal, stated, low, high, tmp_path):
    text = study_of("length", bar=f"nominal = {nominal}\n{stated}")
    bar = read(tmp_path, text).varying[0]
    assert bar.spread.shape == "rectangular"
    assert (bar.spread.low, bar.spread.high) == pytest.approx((low, high), abs=1e-12)
    # The worst case is the ends of the class.
    worst = stack_up(read(tmp_path, text)).worst[0]
    assert tuple(worst) == pytest.approx((low, high), abs=1e-12)


def test_tolerance_class_of_a_model_in_metres(tmp_path):
    # 25 mm IT11 is 130 um, whatever the unit of the model.
    text = study_of("length_in_metres", bar='nominal = "25 mm"\niso286 = "H11"')
    spread = read(tmp_path, text).varying[0].spread
    assert (spread.low, spread.high) == pytest.approx((0.025, 0.02513), abs=1e-15)


# ISO 2768-1

GENERAL = {
    # class: 0.5-3, 3-6, 6-30, 30-120, 120-400 mm, each way in mm
    "f": (0.05, 0.05, 0.1, 0.15, 0.2),
    "m": (0.1, 0.1, 0.2, 0.3, 0.5),
    "c": (0.2, 0.3, 0.5, 0.8, 1.2),
    "v": (None, 0.5, 1.0, 1.5, 2.5),
}
GENERAL_SIZES = (0.5, 3.0, 6.0, 30.0, 120.0, 400.0)
ANGLES = {
    # class: shorter leg up to 10, 50, 120, 400 mm, each way in minutes (from memory)
    "f": (60, 30, 20, 10),
    "m": (60, 30, 20, 10),
    "c": (90, 60, 30, 15),
    "v": (180, 120, 60, 30),
}


@pytest.mark.parametrize("tolerance_class", GENERAL)
def test_general_tolerances(tolerance_class):
    for (over, to), printed in zip(pairwise(GENERAL_SIZES), GENERAL[tolerance_class], strict=True):
        if printed is not None:
            first = over if over == 0.5 else over + 1e-6
            for size in (first, 0.5 * (over + to), to):
                assert iso_2768_linear(size, tolerance_class) == printed


@pytest.mark.parametrize("tolerance_class", ANGLES)
def test_general_tolerances_of_angles(tolerance_class):
    legs = (1e-6, 10.0, 50.0, 120.0, 400.0)
    for (over, to), minutes in zip(pairwise(legs), ANGLES[tolerance_class], strict=True):
        for leg in (over + 1e-6, to):
            assert iso_2768_angular(tolerance_class, leg) == pytest.approx(minutes / 60.0)


# Capability: parts per million outside the limits of a normal process


def outside(cp, shift=0.0):
    """Share outside of Cp with the mean ``shift`` standard deviations off the middle.

    Phi(-3 Cpk) + Phi(-3 (2 Cp - Cpk)), 3 Cpk = 3 Cp - shift (ISO 22514-2; Montgomery,
    *Introduction to Statistical Quality Control*, both from memory).
    """
    return stats.norm.cdf(shift - 3.0 * cp) + stats.norm.cdf(-shift - 3.0 * cp)


@pytest.mark.parametrize(
    ("cp", "shift", "ppm"),
    [
        # Handbook tables of process capability; statistics-sources 5
        (0.33, 0.0, 322_174),
        (0.50, 0.0, 133_614),
        (2 / 3, 0.0, 45_500.3),
        (0.80, 0.0, 16_395.1),
        (1.00, 0.0, 2699.80),
        (1.10, 0.0, 966.848),
        (1.33, 0.0, 66.0733),
        (0.50, 1.5, 501_350),
        (1.00, 1.5, 66_810.6),
        (1.33, 1.5, 6387.17),
        (1.50, 1.5, 1349.90),
    ],
)
def test_capability(cp, shift, ppm, tmp_path):
    assert 1e6 * outside(cp, shift) == pytest.approx(ppm, rel=2e-5)
    text = study_of("weighted_sum", x1=f"nominal = {shift}\nstandard_deviation = 1")
    text += f"[limits.y]\nat_least = {-3 * cp}\nat_most = {3 * cp}\n"
    text += "[sampling]\nseed = 1\npoints = 8192\n"
    study = read(tmp_path, text)
    plan = plan_run(study, indices=False)
    overall = assemble(study, plan, run_replicates(plan, workers=1)).overall
    assert abs(1.0 - overall.value - outside(cp, shift)) <= 1.5 * overall.half_width
    assert overall.low < overall.value < overall.high < 1.0


def test_capability_of_one_limit(tmp_path):
    # Cpk 1.0 with the other side far off: half of 2699.8 ppm.
    text = study_of("weighted_sum", x1="standard_deviation = 1")
    text += "[limits.y]\nat_most = 3\n[sampling]\nseed = 1\n"
    study = read(tmp_path, text)
    plan = plan_run(study, indices=False)
    overall = assemble(study, plan, run_replicates(plan, workers=1)).overall
    assert abs(1.0 - overall.value - 1349.898e-6) <= 1.5 * overall.half_width


# Worst case over the tolerance box


def worst(folder, text, output="value"):
    study = read(folder, text)
    row = [quantity.name for quantity in study.system.results].index(output)
    stacked = stack_up(study)
    return stacked.worst[row], stacked.at[row]


def peer(model, box):
    """Extremes of a model over a box by SciPy's differential evolution, polished."""
    function = models_in_file(MODELS)[model].function

    def extreme(sign):
        found = optimize.differential_evolution(
            lambda x: sign * float(function(*x)[0]), box, seed=5, popsize=40, tol=1e-10
        )
        return sign * found.fun

    return extreme(1.0), extreme(-1.0)


UNIT_BOX = {"x1": "plus_minus = 1", "x2": "plus_minus = 1"}


def test_monotone_model_has_its_extremes_at_corners(tmp_path):
    text = study_of(
        "weighted_sum",
        x1="nominal = 1\nplus_minus = 0.1",
        x2="nominal = 2\nbetween = [1.8, 2.3]",
        x3='nominal = 3\nplus_minus = 0.3\nshape = "triangular"',
        c2="nominal = -2",
    )
    (low, high), at = worst(tmp_path, text, "y")
    assert (low, high) == pytest.approx((0.9 - 4.6 + 2.7, 1.1 - 3.6 + 3.3), abs=1e-12)
    assert at == pytest.approx(np.array([[0.9, 2.3, 2.7], [1.1, 1.8, 3.3]]), abs=1e-12)


def test_box_of_a_normal_input_is_its_half_width(tmp_path):
    # Stated as a half-width it is that, at any coverage factor; as a standard deviation, three.
    text = study_of(
        "weighted_sum",
        x1='plus_minus = 0.3\nshape = "normal"',
        x2='plus_minus = 0.2\nshape = "normal"\ncoverage_factor = 2',
        x3="standard_deviation = 0.1",
    )
    (low, high), _ = worst(tmp_path, text, "y")
    assert (low, high) == pytest.approx((-0.8, 0.8), abs=1e-12)
    # and its standard deviations 0.1 each: 1.96 sqrt 3 x 0.1
    spread = stack_up(read(tmp_path, text)).root_sum_square[0]
    assert spread == pytest.approx([-0.339476, 0.339476], abs=1e-6)


def test_peak_inside_the_box(tmp_path):
    (low, high), at = worst(tmp_path, study_of("hill", **UNIT_BOX))
    # Top 1 at (0.3, -0.2); the foot at the far corner (-1, 1): 1 - 1.69 - 2.88
    assert high == pytest.approx(1.0, abs=1e-6)
    assert low == pytest.approx(-3.57, abs=1e-12)
    assert at[1] == pytest.approx([0.3, -0.2], abs=1e-3)
    assert (low, high) == pytest.approx(peer("hill", [(-1, 1)] * 2), abs=1e-6)
    # No corner of the box comes near the top: 1 - 0.49 - 1.28
    assert high > -0.77


def test_peak_at_the_nominal(tmp_path):
    # x^2 at 0: every central difference is nothing there.
    (low, high), _ = worst(tmp_path, study_of("comparison_loss", **UNIT_BOX), "loss")
    assert low == pytest.approx(0.0, abs=1e-6)
    assert high == pytest.approx(2.0, abs=1e-12)


def test_several_periods(tmp_path):
    (low, high), _ = worst(tmp_path, study_of("waves", **UNIT_BOX))
    function = models_in_file(MODELS)["waves"].function
    grid = np.linspace(-1.0, 1.0, 2001)
    heights = function(grid[:, None], grid[None, :])[0]
    # A grid is never beyond the extreme; its step leaves 169 (0.0005)^2 or so.
    assert low == pytest.approx(heights.min(), abs=1e-4)
    assert high == pytest.approx(heights.max(), abs=1e-4)
    assert low <= heights.min() + 1e-6
    assert high >= heights.max() - 1e-6


def test_ishigami_over_its_box(tmp_path):
    text = study_of("ishigami", **{f"x{i}": f"plus_minus = {np.pi}" for i in (1, 2, 3)})
    (low, high), _ = worst(tmp_path, text)
    # sin x1 = -+1, sin^2 x2 = 0 or 1, x3 = pi: -(1 + 0.1 pi^4) and 7 + 1 + 0.1 pi^4
    end = 1.0 + 0.1 * np.pi**4
    assert (low, high) == pytest.approx((-end, 7.0 + end), abs=1e-5)


def test_ridge_across_the_axes(tmp_path):
    # Moves along the axes leave a narrow ridge at once; the extreme is 0, the range 400.
    (low, high), _ = worst(tmp_path, study_of("ridge", **UNIT_BOX))
    assert (low, high) == pytest.approx(peer("ridge", [(-1, 1)] * 2), abs=1e-3)


def test_result_holds_the_sampled_extremes(tmp_path):
    # What the box holds is never beyond the worst case that the result states.
    text = study_of("waves", **UNIT_BOX) + "[sampling]\nseed = 1\npoints = 1024\n"
    study = read(tmp_path, text)
    plan = plan_run(study, keep_samples=True)
    result = assemble(study, plan, run_replicates(plan, workers=1))
    low, high = result.output("value").worst_case
    assert low <= result.sample["value"].min()
    assert high >= result.sample["value"].max()
