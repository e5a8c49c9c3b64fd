"""Two collections of benchmark problems, each driven through a study and a model file.

    python3 -m venv suites && suites/bin/pip install -q -e . otbenchmark uqtestfuns
    suites/bin/python tests/bench/outside_suites.py

(An environment of its own: one of the two asks for an older numpy, and pip says so.) Prints two
tables of every problem that loads, chances of failure and indices: what is wanted
(``outside_chances``, ``outside_indices``; what the collection lists, where that is wrong), what
came out with its 95 % interval, how many evaluations, and whether they agree, which is that they
differ by no more than both may be off, in quadrature. Of indices the one farthest off is shown. One
in twenty is expected to miss: what misses is repeated with twenty other seeds, of which about one
misses again where it was chance.
"""

from __future__ import annotations

import argparse
import platform
import sys
import tempfile
import time
from datetime import date
from pathlib import Path
from typing import NamedTuple

import numpy as np
from outside_chances import chance
from outside_indices import indices
from outside_problems import Problem, Reference, reliability_problems, sensitivity_problems

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

OTHER_SEEDS = 20

REFUSED = {
    "FloodingSensitivity": "rightly: Ks reaches 0, where the -6/5th power has no mean",
    "GenzCornerPeak": "rightly: its kurtosis is 1.1e8, so that a million points do not find it",
    "GenzDiscontinuous": "rightly: its kurtosis is 17,000, and a replicate has 8,192 rows",
    "LinkletterInert": "rightly: it is constant",
}
"""Why a problem can have no indices: by hand, from the formula."""


class Compared(NamedTuple):
    """One figure: what is wanted and how sure, what came out and its interval."""

    what: str
    wanted: float
    sure: float
    got: float
    low: float
    high: float

    @property
    def off(self) -> float:
        """How far apart they are, as a share of what both may be off; above 1 it is a miss."""
        side = self.high - self.got if self.wanted > self.got else self.got - self.low
        apart, allowed = abs(self.wanted - self.got), float(np.hypot(side, self.sure))
        return 0.0 if apart == 0.0 else apart / allowed if allowed else np.inf


def study_of(problem: Problem, folder: Path, *, limited: bool) -> object:
    """Write a study and a model file for a problem, and read them as any other."""
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
    return sl.read_study(study, [str(model)])


def answered(study: object, seed: int, points: int) -> dict[str, object]:
    """Run a study, and give what its ``result.json`` holds."""
    return sl.run(study, options=sl.RunOptions(seed=seed, points=points, workers=1)).to_dict()


def of_chance(document: dict[str, object], wanted: Reference) -> list[Compared]:
    """Compare the chance of failure."""
    rare = document["rare_failures"]
    if rare is not None:
        got, (low, high) = rare["estimate"], rare["interval"]
        if rare["within_factor"]:
            low, high = got / rare["within_factor"], got * rare["within_factor"]
    else:
        share = document["yield"]
        got, (high, low) = 1.0 - share["estimate"], (1.0 - end for end in share["interval"])
    return [Compared("P", float(wanted.values[0]), float(wanted.sure[0]), got, low, high)]


def of_indices(document: dict[str, object], wanted: Reference) -> list[Compared]:
    """Compare indices of first order and total."""
    table = document["sensitivity"]["value"]
    return [
        Compared(
            f"{'ST'[row]}{i + 1}",
            float(wanted.values[row, i]),
            float(wanted.sure[row, i]),
            table[f"x{i + 1}"][kind]["estimate"],
            *table[f"x{i + 1}"][kind]["interval"],
        )
        for row, kind in enumerate(("first", "total"))
        for i in range(wanted.values.shape[1])
    ]


def evaluations(document: dict[str, object]) -> int:
    """Evaluations of the model that sampling took, those for rare failures included."""
    rare = document["rare_failures"]
    return int(document["evaluations"]) + (int(rare["evaluations"]) if rare else 0)


def listed_wrong(problem: Problem, wanted: Reference) -> tuple[int, str]:
    """Count what the collection lists and does not stand, and say it."""
    if problem.chance is not None:
        value = problem.chance
        digit = 10.0 ** (np.floor(np.log10(value)) - digits_of(value) + 1)
        wrong = abs(value - wanted.values[0]) > 0.5 * digit + wanted.sure[0]
        return int(wrong), f" (listed {value:.4g})" if wrong else ""
    if problem.first is None or problem.total is None:
        return 0, ""
    listed = np.array([problem.first, problem.total])
    digit = 10.0 ** -max(decimals_of(value) for value in listed.ravel())
    off = np.abs(listed - wanted.values)
    wrong = off > 0.5 * digit + wanted.sure
    count = int(wrong.sum())
    if not count:
        return 0, ""
    return count, f" ({count} of {wrong.size} listed are off, by up to {off[wrong].max():.2g})"


def digits_of(value: float) -> int:
    """Significant digits that a listed value was printed with."""
    return len(f"{value:.15g}".replace(".", "").lstrip("0").split("e")[0].rstrip("0")) or 1


def decimals_of(value: float) -> int:
    """Decimals that a listed value was printed with."""
    return len(f"{value:.15f}".rstrip("0").split(".")[1])


class Tally:
    """What one table came to."""

    def __init__(self) -> None:
        self.problems = self.figures = self.missed = self.listed = 0
        self.refused: list[str] = []
        self.again: list[str] = []


def tabled(problem: Problem, place: Path, points: int, tally: Tally, *, limited: bool) -> str:
    """Give one problem's row, and count it."""
    study = study_of(problem, place, limited=limited)
    document = answered(study, 1, points)
    refused = None if limited else document["no_indices"].get("value")
    head = f"| {problem.name} | {problem.inputs} |"
    if refused:
        why = REFUSED.get(problem.name, "without a known reason")
        tally.refused.append(problem.name)
        return f"{head} - | - | {evaluations(document):,} | refused {why} |"
    compare = of_chance if limited else of_indices
    wanted = (chance if limited else indices)(problem)
    found = compare(document, wanted)
    missed = [item for item in found if item.off > 1.0]
    shown = max(found, key=lambda item: item.off)
    wrong, said = listed_wrong(problem, wanted)
    tally.problems += 1
    tally.figures += len(found)
    tally.missed += len(missed)
    tally.listed += wrong
    verdict = "agrees" if limited else f"{len(found) - len(missed)} of {len(found)} agree"
    if missed:
        others = [
            compare(answered(study, seed, points), wanted) for seed in range(2, 2 + OTHER_SEEDS)
        ]
        for item in missed:
            count = sum(each.what == item.what and each.off > 1.0 for run in others for each in run)
            tally.again.append(f"{problem.name} {item.what}: {count} of {OTHER_SEEDS} other seeds")
        verdict = "missed" if limited else verdict
    name = "" if limited else f"{shown.what} "
    return (
        f"{head} {name}{shown.wanted:.5g}, {wanted.way}{said} | {shown.got:.5g} "
        f"({shown.low:.4g} to {shown.high:.4g}) | {evaluations(document):,} | {verdict} |"
    )


def shown_table(
    title: str,
    listing: tuple[dict[str, Problem], dict[str, str]],
    asked: argparse.Namespace,
    place: Path,
    *,
    limited: bool,
) -> None:
    """Print one table and what it came to."""
    problems, lost = listing
    tally, started = Tally(), time.process_time()
    print(f"\n### {title}\n\n| problem | inputs | reference | ours | evaluations | verdict |")
    print("| --- | --- | --- | --- | --- | --- |")
    for problem in problems.values():
        if asked.only.lower() in problem.name.lower():
            print(tabled(problem, place, asked.points, tally, limited=limited), flush=True)
    print(
        f"\n{tally.problems} problems, {tally.figures} figures, {tally.missed} missed "
        f"({0.05 * tally.figures:.1f} expected); {tally.listed} listed values are wrong; refused: "
        f"{', '.join(tally.refused) or 'none'}. {time.process_time() - started:.0f} s of one core."
    )
    if tally.again:
        print("What missed, misses again with: " + "; ".join(tally.again) + ".")
    for name, why in lost.items():
        print(f"Does not load: {name}: {why}")


def formulas_told(problems: list[Problem]) -> None:
    """Print how far the formulas are from the collections' own functions, at 16 points."""
    generator = np.random.default_rng(3)
    for problem in problems:
        if problem.own is None:
            continue
        z = generator.standard_normal((16, problem.inputs))
        try:
            apart = np.max(np.abs(problem.own(z) - problem.function(z)) / np.abs(problem.own(z)))
            said = f"within {apart:.0e} of the collection's"
        except TypeError as why:
            said = f"the collection's is not read: {str(why).splitlines()[0]}"
        print(f"Formula of {problem.name}: {said}")


def main() -> int:
    """Print both tables, of all problems or of those whose name holds a word."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--only", default="", help="a part of a problem's name")
    parser.add_argument("--suite", choices=("chances", "indices"), help="one of the two alone")
    parser.add_argument("--points", type=int, default=4096)
    asked = parser.parse_args()
    print(f"{date.today()}, {platform.machine()}, Python {platform.python_version()}")
    listings = {"chances": reliability_problems(), "indices": sensitivity_problems()}
    with tempfile.TemporaryDirectory() as place:
        for suite, title in (("chances", "Chances of failure"), ("indices", "Indices")):
            if asked.suite in (None, suite):
                shown_table(title, listings[suite], asked, Path(place), limited=suite == "chances")
    formulas_told([each for ready, _ in listings.values() for each in ready.values()])
    return 0


if __name__ == "__main__":
    sys.exit(main())
