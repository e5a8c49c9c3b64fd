"""The main job: replicates of a study gathered into its result, and its inputs ranked."""

from __future__ import annotations

import time
from dataclasses import dataclass

from sensitivity.engine.monte_carlo import run_replicates
from sensitivity.engine.options import DEFAULTS, RunOptions
from sensitivity.engine.plan import Plan, plan_run
from sensitivity.engine.result import Result, assemble
from sensitivity.pricing.ranking import Ranking, rank
from sensitivity.study.study import Study


@dataclass(frozen=True)
class Ran:
    """The result of a run, its inputs ranked by what they do to pass or fail, and its time in s."""

    result: Result
    ranking: Ranking
    seconds: float

    @property
    def study(self) -> Study:
        """The study."""
        return self.result.study

    @property
    def plan(self) -> Plan:
        """What was run."""
        return self.result.plan


def find_result(
    study: Study,
    *,
    pairs: bool = False,
    keep_samples: bool = False,
    options: RunOptions = DEFAULTS,
) -> Ran:
    """Run a study's replicates and gather them; arguments as of ``run``."""
    start = time.monotonic()
    plan = plan_run(study, pairs=pairs, keep_samples=keep_samples)
    summaries = run_replicates(
        plan,
        workers=options.workers,
        executor=options.executor,
        progress=options.progress(),
    )
    result = assemble(study, plan, summaries)
    return Ran(result, rank(result), time.monotonic() - start)
