"""Burners of the demo made up with one blunder: is it among the first two suspects?

Burners with just one dimension made wrong (anywhere within five stated half-widths) are run level
and standing, and sorted by which limits they break. For each pattern that is met often enough the
answer of ``learn`` to such a burner is asked once, for all that break the same say the same. What
is printed is the chance that the answer gives to its first two suspects, if just one dimension
slipped, and the share of the made-up burners of which it was one of these. Nothing is asserted
here; the tests do the same on a small model (tests/published/test_suspects.py).
"""

from collections import Counter
from pathlib import Path

import numpy as np

import sensitivity as sl
from sensitivity.engine.plan import plan_run
from sensitivity.learning.evaluation import events_of, results_of
from sensitivity.learning.observations import EventSeen, Trial
from sensitivity.learning.posterior import posterior
from sensitivity.learning.suspects import suspects, symptom_of, with_slips, without_symptom
from sensitivity.spreads.derived import without_slip
from sensitivity.spreads.spread import quantile

STUDY = Path(__file__).parents[2] / "studies" / "bramble" / "stepped_pipe.toml"
HELD = {"grade": 0.0, "acceleration": 0.0, "cant": 0.0, "slosh_amplitude": 0.3}
FEWEST = 200


def made_up(plan, slips, count=8192):
    """Rows (16, count) with one slip each, and which dimension it is of."""
    prior = posterior(plan, [], rows=count)
    names, generator = list(slips), np.random.default_rng(7)
    which = generator.integers(0, len(names), prior.weights.shape)
    values = dict(prior.values)
    for place, name in enumerate(names):
        spread = slips[name]
        own = quantile(without_slip(spread), generator.uniform(1e-9, 1.0, which.shape))
        wrong = generator.uniform(spread.low, spread.high, which.shape)
        values[name] = np.where(which == place, wrong, own)
    return prior, values, which, names


def main():
    study = sl.RunOptions(seed=1).asked_of(sl.read_study(STUDY))
    plan, slips = plan_run(study, indices=False), with_slips(study)
    limits = [limit.result for limit in study.limits]
    seen = tuple(EventSeen(name, broken=True) for name in limits)
    prior, values, which, names = made_up(plan, slips)
    trial = Trial("made up", "", HELD, seen)
    found = results_of(plan, values, prior.z, trial)
    broken = np.stack([~limit.met(found[limit.result]) for limit in study.limits], axis=-1)
    patterns = Counter(map(tuple, broken.reshape(-1, len(limits)).tolist()))
    right = total = expected = 0.0
    for pattern, count in patterns.most_common():
        if count < FEWEST or not any(pattern):
            continue
        told = tuple(EventSeen(n, b) for n, b in zip(limits, pattern, strict=True))
        trial = Trial("made up", "", HELD, told)
        before = posterior(plan, without_symptom([trial]), marginals=slips, believe=True)
        after = posterior(plan, [trial], marginals=slips, believe=True)
        (symptom,) = symptom_of([trial])
        conditions = before.conditions.get(trial.identifier)
        results = results_of(plan, before.values, before.z, symptom, conditions)
        flags = events_of(plan, results, symptom, before.weights)
        ranked = [
            one for one in suspects(plan, before, after, flags, slips) if one.item.name in names
        ]
        first = [one.item.name for one in ranked[:2]]
        said = sum(one.if_one for one in ranked[:2])
        alike = (broken == np.array(pattern)).all(axis=-1)
        share = np.isin(which[alike], [names.index(name) for name in first]).mean()
        right, total, expected = right + share * count, total + count, expected + said * count
        words = ", ".join(n for n, b in zip(limits, pattern, strict=True) if b)
        print(f"{count:6d} {words}: {' and '.join(first)}: said {said:.2f}, so of {share:.2f}")
    print(f"of all: said {expected / total:.3f}, so of {right / total:.3f}")


if __name__ == "__main__":
    main()
