"""How fast the engine is beside its peers and beside its models, all measured in one run.

First the g-function of 12 inputs on 65,536 base points: the engine's replicates (8 of 8,192) with
their intervals, beside SALib with 100 resamples, OpenTURNS with asymptotic intervals, and SciPy,
which gives no intervals. All run on one core and take turns; the least processor time of each
counts, so that other work on the machine tells little. The engine's whole result holds more than
indices (worst case, quantiles, what has no variance); it is counted whole, and apart.

Then the demo's level study: one replicate beside its models called alone in cache-sized blocks,
on as many rows, and what the engine's own part of it goes to.

    pip install -e .[dev]
    python tests/bench/replicate.py [TURNS]
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from pathlib import Path

import numpy as np

STUDY = Path(__file__).parents[2] / "studies" / "bramble" / "stepped_pipe.toml"
TURNS = 5

INPUTS, POINTS, REPLICATES = 12, 65_536, 8
A = np.array([0, 1, 4.5, 9, *[99] * 8], dtype=float)

MODEL = """
from typing import Annotated, NamedTuple
import numpy as np
class Y(NamedTuple):
    y: Annotated[np.ndarray, "", "result"]
def g({arguments}) -> Y:
    result = 1.0
    for x, a in zip(({names}), {a}):
        result = result * (np.abs(4.0 * x - 2.0) + a) / (1.0 + a)
    return Y(result)
"""


def spent(task: Callable[[], object]) -> float:
    """Processor time of one call."""
    start = time.process_time()
    task()
    return time.process_time() - start


def least(tasks: dict[str, Callable[[], object]], turns: int) -> dict[str, float]:
    """Call tasks in turn; the least processor time of each."""
    best = dict.fromkeys(tasks, float("inf"))
    for _ in range(turns):
        for name, task in tasks.items():
            best[name] = min(best[name], spent(task))
    return best


def engine(folder: Path) -> tuple[Callable[[], object], Callable[[], object]]:
    """Read the study; give its whole result, and its indices with their intervals alone."""
    from sensitivity.engine.intervals import student
    from sensitivity.engine.monte_carlo import run_replicates
    from sensitivity.engine.plan import plan_run
    from sensitivity.engine.result import assemble
    from sensitivity.study.file import read_study

    names = [f"x{i}" for i in range(INPUTS)]
    (folder / "g.py").write_text(
        MODEL.format(
            arguments=", ".join(f'{n}: Annotated[np.ndarray, "", "x"]' for n in names),
            names=", ".join(names),
            a=A.tolist(),
        )
    )
    lines = ['models = ["g"]', f"sampling = {{seed = 1, replicates = {REPLICATES}, points = 8192}}"]
    lines += [f"inputs.{n} = {{nominal = 0.5, plus_minus = 0.5}}" for n in names]
    (folder / "g.toml").write_text("\n".join(lines))
    study = read_study(folder / "g.toml", [str(folder / "g.py")])
    plan = plan_run(study)

    def whole():
        return assemble(study, plan, run_replicates(plan, workers=1))

    def indices():
        replicates = run_replicates(plan, workers=1)
        found = np.array([[each.first[0], each.total[0]] for each in replicates])
        return student(found, plan.sampling.confidence)

    return whole, indices


def g_rows(x):
    """Evaluate the g-function over rows (n, d), as the peers hand them over."""
    return np.prod((np.abs(4.0 * x - 2.0) + A) / (1.0 + A), axis=1)


def bare():
    """Evaluate the g-function alone on as many rows, in blocks of columns that fit the cache."""
    block = np.random.default_rng(0).random((INPUTS, 4096))

    def task():
        for _ in range(POINTS * (INPUTS + 2) // block.shape[1]):
            result = 1.0
            for x, a in zip(block, A.tolist(), strict=True):
                result = result * (np.abs(4.0 * x - 2.0) + a) / (1.0 + a)

    return task


def salib():
    """Sample, evaluate and analyse with SALib, intervals by 100 resamples."""
    from SALib.analyze import sobol as analyse
    from SALib.sample import sobol as sample

    problem = {
        "num_vars": INPUTS,
        "names": [f"x{i}" for i in range(INPUTS)],
        "bounds": [[0.0, 1.0]] * INPUTS,
    }

    def task():
        rows = sample.sample(dict(problem), POINTS, calc_second_order=False, seed=1)
        analyse.analyze(problem, g_rows(rows), calc_second_order=False, num_resamples=100, seed=1)

    return task


def scipy():
    """Analyse with SciPy, which gives no intervals unless asked to resample."""
    from scipy.stats import sobol_indices, uniform

    return lambda: sobol_indices(
        func=lambda x: g_rows(x.T), n=POINTS, dists=[uniform()] * INPUTS, rng=1
    )


def openturns():
    """Analyse with OpenTURNS, asymptotic intervals."""
    import openturns as ot

    def task():
        inputs = ot.JointDistribution([ot.Uniform(0.0, 1.0)] * INPUTS)
        design = ot.SobolIndicesExperiment(inputs, POINTS).generate()
        results = ot.Sample(g_rows(np.asarray(design))[:, None])
        algorithm = ot.SaltelliSensitivityAlgorithm(design, results, POINTS)
        algorithm.setUseAsymptoticDistribution(True)
        algorithm.getFirstOrderIndicesInterval()
        algorithm.getTotalOrderIndicesInterval()

    return task


def peers(turns: int) -> None:
    """Measure all by turns, and print how much longer each peer takes than the engine."""
    with tempfile.TemporaryDirectory() as folder:
        whole, indices = engine(Path(folder))
    tasks = {"whole": whole, "indices": indices, "bare": bare(), "scipy": scipy()}
    found = least(tasks | {"openturns": openturns()}, turns)
    found |= least({"salib": salib()}, 2)  # takes more than all others together
    print("g-function, 12 inputs, 65,536 base points; processor time on one core")
    for name, what in (
        ("whole", "spiritlevel, its whole result"),
        ("indices", "  of it indices, Student intervals"),
        ("bare", "the function alone, in blocks"),
        ("scipy", "SciPy, no intervals"),
        ("openturns", "OpenTURNS, asymptotic intervals"),
        ("salib", "SALib, 100 resamples"),
    ):
        took = found[name]
        print(
            f"{what:36} {took:7.3f} s {took / found['whole']:6.1f} {took / found['indices']:6.1f}"
        )
    print("last columns: times the whole result's, and times the indices'")


def level(turns: int) -> None:
    """Measure a replicate of the level study beside its models alone, and where the rest goes."""
    from sensitivity.engine import column_swaps
    from sensitivity.engine import replicate as module
    from sensitivity.engine.moments import crossing_plan
    from sensitivity.engine.plan import plan_run
    from sensitivity.engine.sampling import draw, replicate_uniforms
    from sensitivity.study.file import read_study

    study = read_study(STUDY, [])
    study = replace(study, sampling=replace(study.sampling, seed=1, replicates=8, points=8192))
    plan = crossing_plan(plan_run(study))
    times = len(plan.groups) + 2
    parts: dict[str, float] = {}

    def counted(name, function):
        def call(*arguments, **named):
            start = time.process_time()
            try:
                return function(*arguments, **named)
            finally:
                parts[name] = parts.get(name, 0.0) + time.process_time() - start

        call.__name__ = getattr(function, "__name__", name)
        return call

    values = draw(plan, replicate_uniforms(plan, 1)[0])

    def alone():
        for _ in range(times):
            known = dict(values)
            with np.errstate(all="ignore"):
                for model in plan.system.models:
                    answer = model.function(**plan.system.arguments(model, known))
                    known |= {each.name: getattr(answer, each.name) for each in model.results}

    watched = replace(
        plan.system,
        models=tuple(
            replace(model, function=counted("models", model.function))
            for model in plan.system.models
        ),
    )
    places = (
        (module, "replicate_uniforms", "Sobol' points"),
        (module, "draw", "quantiles of the spreads"),
        (module, "inside_range", "ranges of the inputs"),
        (module, "kept_moments", "moments and quantiles of the results"),
        (module, "_positions", "places of the failing rows"),
        (column_swaps, "step_sums", "sums for the indices"),
        (column_swaps, "_add_passes", "limits of the swapped rows"),
        (column_swaps, "_swapped", "columns laid out"),
    )
    best = least({"replicate": lambda: module.one_replicate(plan, 1), "alone": alone}, turns)
    for owner, name, said in places:
        setattr(owner, name, counted(said, getattr(owner, name)))
    rows: dict[str, float] = {}
    for _ in range(turns):
        parts.clear()
        took = spent(lambda: module.one_replicate(replace(plan, system=watched), 1))
        if took < rows.get("all", float("inf")):
            rows = {"all": took, **parts}
    print(f"level study, a replicate of 8,192 points, {times} times all rows; processor time")
    print(f"{'the models alone, all rows in blocks':40} {best['alone']:.3f} s")
    print(
        f"{'the replicate':40} {best['replicate']:.3f} s "
        f"{best['replicate'] / best['alone']:.2f} times that"
    )
    inside = rows.pop("models")
    took = rows.pop("all")
    print(f"of it in the models it calls again       {100 * inside / took:5.1f} %")
    rows["calls of models, their results checked, else"] = took - inside - sum(rows.values())
    for said, part in sorted(rows.items(), key=lambda row: -row[1]):
        print(f"  {said:44} {100 * part / took:5.1f} %")


def main() -> None:
    """Measure both on one core."""
    with suppress(AttributeError):  # where a system has no such call, on all cores
        os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})
    turns = int(sys.argv[1]) if len(sys.argv) > 1 else TURNS
    peers(turns)
    print()
    level(turns)


if __name__ == "__main__":
    main()
