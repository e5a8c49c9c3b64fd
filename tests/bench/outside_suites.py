"""Two collections of benchmark problems, each driven through a study and a model file.

    python3 -m venv suites && suites/bin/pip install -q -e . otbenchmark uqtestfuns
    suites/bin/python tests/bench/outside_suites.py

(An environment of its own: one of the two asks for an older numpy, and pip says so.) Prints every
problem that loads: what is wanted, what came out, its interval, and whether they agree; then the
problems that do not load, and how many missed. A chance agrees if the reference lies inside the
interval, or within what was printed of it; an index if it is not farther off than the two intervals
together, or than the digits printed. With 95 % intervals, one in twenty is expected to miss.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from pathlib import Path
from typing import NamedTuple

import numpy as np
from outside_problems import Problem, reliability_problems, sensitivity_problems
from scipy.stats import t as student

import sensitivity as sl

HERE = Path(__file__).resolve().parent

MODEL = '''
import sys
from typing import Annotated, NamedTuple

import numpy as np

sys.path.insert(0, {here!r})
from outside_problems import problem_of


class Answer(NamedTuple):
    value: Annotated[object, "", "what the collection's function gives"]


def problem({arguments}) -> Answer:
    """A problem of an outside collection."""
    flat = [np.ravel(x) for x in np.broadcast_arrays({names})]
    shape = np.broadcast_shapes({shapes})
    return Answer(problem_of({name!r}).function(np.stack(flat, axis=1)).reshape(shape))
'''

# The collection's value, and the one that is right: quadrature, or the closed form named.
CORRECTED = {
    "ReliabilityProblem107": (2.866515719e-7, "Phi(-5); listed by sampling"),
    "ReliabilityProblem111": (8.03508596e-7, "quadrature; listed by sampling, 5 % low"),
    "ReliabilityProblem54": (9.906030725e-4, "gamma distribution of 20; listed by sampling"),
    "ReliabilityProblem57": (2.8237398e-2, "quadrature; listed by sampling"),
    "ReliabilityProblem60": (4.48397e-2, "quadrature; listed by sampling as .0456"),
    "ReliabilityProblem63": (3.76943612e-4, "chi-square of 99 and one integral; listed .000379"),
    "ReliabilityProblem77": (2.69084395e-7, "quadrature; listed by sampling, 7 % high"),
    "ReliabilityProblem8": (7.858e-4, "quadrature, +-3e-6; listed by sampling"),
    "ReliabilityProblem89": (5.471280529e-3, "quadrature; listed by sampling"),
}


class Compared(NamedTuple):
    """One figure: what is wanted and how sure, what came out and its interval."""

    what: str
    wanted: float
    sure: float
    got: float
    low: float
    high: float
    note: str = ""

    @property
    def agrees(self) -> bool:
        """Tell whether what is wanted lies in the interval, by as much as it is sure itself."""
        return self.low - self.sure <= self.wanted <= self.high + self.sure


def answered(problem: Problem, folder: Path, *, limited: bool, points: int) -> sl.run:
    """Write a study and a model file for a problem, and run it as any other."""
    names = [f"x{i + 1}" for i in range(problem.inputs)]
    arguments = ", ".join(f'{name}: Annotated[object, "", "normal"] = 0.0' for name in names)
    model = folder / f"{problem.name.lower()}.py"
    model.write_text(
        MODEL.format(
            here=str(HERE),
            arguments=arguments,
            names=", ".join(names),
            shapes=", ".join(f"np.shape({name})" for name in names),
            name=problem.name,
        )
    )
    lines = [f'title = "{problem.name}"', 'models = ["problem"]']
    for name in names:
        lines += [f"[inputs.{name}]", "nominal = 0.0", "standard_deviation = 1.0"]
    if limited:
        lines += ["[limits.value]", "at_least = 0.0"]
    study = folder / f"{problem.name.lower()}.toml"
    study.write_text("\n".join(lines) + "\n")
    return sl.run(
        sl.read_study(study, [str(model)]), options=sl.RunOptions(seed=1, points=points, workers=1)
    )


def of_failure(problem: Problem, folder: Path, points: int) -> list[Compared]:
    """Compare the chance of failure with what is listed, or with plain sampling here."""
    if problem.name in CORRECTED:
        wanted, note = CORRECTED[problem.name]
        sure = 0.005 * wanted if "+-" in note else 1e-6 * wanted
    elif problem.chance is not None:
        wanted, note = problem.chance, "listed"
        sure = 0.5 * 10.0 ** np.floor(np.log10(wanted) - digits_of(wanted) + 1)
    else:
        wanted, sure = plainly(problem)
        note = "plain sampling here"
    run = answered(problem, folder, limited=True, points=points)
    document = run.to_dict()
    rare = document["rare_failures"]
    if rare is not None:
        got, (low, high) = rare["estimate"], rare["interval"]
        note += f"; {rare['method']}"
        if rare["within_factor"]:
            low, high = got / rare["within_factor"], got * rare["within_factor"]
    else:
        share = document["yield"]
        got, (high, low) = 1.0 - share["estimate"], (1.0 - end for end in share["interval"])
    return [Compared("chance of failure", wanted, float(sure), got, low, high, note)]


def plainly(problem: Problem, rows: int = 2_000_000) -> tuple[float, float]:
    """Chance of a value below nought by plain sampling, and the half-width of its interval."""
    generator, failed, block = np.random.default_rng(7), 0, 100_000
    for _ in range(rows // block):
        failed += int(
            np.sum(problem.function(generator.standard_normal((block, problem.inputs))) < 0)
        )
    share = failed / rows
    return share, 1.96 * float(np.sqrt(max(share, 1.0 / rows) / rows))


def of_indices(problem: Problem, folder: Path, points: int) -> list[Compared]:
    """Compare first-order and total indices with what is listed, and with SciPy's."""
    run = answered(problem, folder, limited=False, points=points)
    document = run.to_dict()
    table = document["sensitivity"].get("value")
    if table is None:
        raise sl.SpiritlevelError(str(document["no_indices"].get("value", "no indices")))
    if problem.first is not None and problem.total is not None:
        wanted = {"first": problem.first, "total": problem.total}
        places = max(decimals_of(value) for value in (*problem.first, *problem.total))
        sure = {"first": [0.51 * 10.0**-places] * problem.inputs}
        sure["total"] = sure["first"]
        note = "listed"
    else:
        wanted, sure = by_scipy(problem)
        note = "SciPy"
    return [
        Compared(
            f"{kind} of x{i + 1}",
            wanted[kind][i],
            sure[kind][i],
            table[f"x{i + 1}"][kind]["estimate"],
            *table[f"x{i + 1}"][kind]["interval"],
            note,
        )
        for kind in ("first", "total")
        for i in range(problem.inputs)
    ]


def by_scipy(problem: Problem, runs: int = 8) -> tuple[dict[str, list[float]], ...]:
    """Indices by ``scipy.stats.sobol_indices``, the mean of some runs, and their half-widths."""
    from scipy.stats import norm, sobol_indices

    firsts, totals = [], []
    for seed in range(runs):
        found = sobol_indices(
            func=lambda x: problem.function(x.T),
            n=1 << 13,
            dists=[norm()] * problem.inputs,
            rng=np.random.default_rng(seed),
        )
        firsts.append(np.ravel(found.first_order))
        totals.append(np.ravel(found.total_order))
    wide = float(student.ppf(0.975, runs - 1)) / np.sqrt(runs)
    both = {"first": np.array(firsts), "total": np.array(totals)}
    return (
        {kind: [float(x) for x in each.mean(axis=0)] for kind, each in both.items()},
        {kind: [float(x) for x in wide * each.std(axis=0, ddof=1)] for kind, each in both.items()},
    )


def digits_of(value: float) -> int:
    """Significant digits that a listed value was printed with."""
    return len(f"{value:.15g}".replace(".", "").lstrip("0").split("e")[0].rstrip("0")) or 1


def decimals_of(value: float) -> int:
    """Decimals that a listed value was printed with."""
    text = f"{value:.15f}".rstrip("0")
    return len(text.split(".")[1])


def told(problem: Problem, compared: list[Compared], seconds: float) -> int:
    """Print one problem's lines: a chance, or the index farthest off; count the misses."""
    missed = [item for item in compared if not item.agrees]
    shown = missed or compared[:1]
    for item in shown:
        mark = "" if item.agrees else "  MISSED"
        print(
            f"{problem.suite:12} {problem.name:24} {problem.inputs:4}  {item.what:18} "
            f"{item.wanted:12.6g}  {item.got:12.6g} ({item.low:.6g} to {item.high:.6g})  "
            f"{item.note}{mark}",
            flush=True,
        )
    if len(compared) > 1:
        print(
            f"{'':12} {'':24}       {len(compared) - len(missed)} of {len(compared)} indices agree"
            f", {seconds:.1f} s",
            flush=True,
        )
    return len(missed)


def main() -> int:
    """Run all problems, or those whose name holds a word."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--only", default="", help="a part of a problem's name")
    parser.add_argument("--suite", choices=("chances", "indices"), help="one of the two alone")
    parser.add_argument("--points", type=int, default=4096)
    asked = parser.parse_args()
    figures = misses = 0
    lost: dict[str, str] = {}
    with tempfile.TemporaryDirectory() as place:
        for suite, problems, compare in (
            ("chances", reliability_problems(), of_failure),
            ("indices", sensitivity_problems(), of_indices),
        ):
            if asked.suite not in (None, suite):
                continue
            lost |= problems[1]
            for name, problem in problems[0].items():
                if asked.only.lower() not in name.lower():
                    continue
                started = time.perf_counter()
                try:
                    found = compare(problem, Path(place), asked.points)
                except sl.SpiritlevelError as refused:
                    lost[name] = f"refused: {refused}"
                    continue
                figures += len(found)
                misses += told(problem, found, time.perf_counter() - started)
    for name, why in lost.items():
        print(f"not answered: {name}: {why}")
    print(f"{figures} figures, {misses} missed; {len(lost)} problems not answered")
    return 0


if __name__ == "__main__":
    sys.exit(main())
