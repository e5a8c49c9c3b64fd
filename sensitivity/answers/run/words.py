"""What a run found, in shop words."""

from __future__ import annotations

from sensitivity.engine.result import Output, Result
from sensitivity.presentation import wording


def run_verdict(result: Result) -> str:
    """Say in one or two sentences what the run found."""
    overall, many = result.overall, result.study.vocabulary.many
    if overall is None:
        return "No limits are stated, so nothing can pass or fail; the results are below."
    if overall.failures == 0:
        return (
            f"Not one of {overall.rows} {many} built as stated broke a limit; at "
            f"{100 * result.plan.sampling.confidence:g} % confidence at least "
            f"{wording.lower_bound(100 * overall.low)} in 100 keep within all of them (exact "
            "binomial bound)."
        )
    head = (
        f"Of 100 {many} built as stated, about "
        f"{wording.share_of_a_hundred(overall)} keep within every limit."
    )
    return f"{head} {_weakest(result)}".rstrip()


def _weakest(result: Result) -> str:
    """Say which limit is broken most often, and why it matters."""
    held = [output for output in result.limited if output.proportion is not None]
    worst: Output = min(held, key=lambda output: output.proportion.value)  # type: ignore[union-attr]
    assert worst.proportion is not None
    assert worst.limit is not None
    share = 1.0 - worst.proportion.value
    if share == 0.0:
        return ""
    because = f": {worst.limit.because}" if worst.limit.because else ""
    return (
        f"Broken most often: {wording.in_words(worst.name)} should be "
        f"{wording.limit(worst.limit)} and is not in {wording.out_of_a_hundred(share)}{because}."
    )


def result_notes(result: Result) -> list[str]:
    """Say what a reader of the results must know beside the figures."""
    notes = []
    shares = [output.proportion for output in result.outputs if output.proportion]
    if any(share.method == "clopper-pearson" for share in shares):
        notes.append(
            "* or a bound: exact binomial (Clopper-Pearson) on the pooled counts, where failures "
            "are too few for the spread between replicates."
        )
    if result.invalid:
        notes.append(
            f"The models have no answer for {result.invalid:,} of {result.evaluations:,} "
            f"{result.study.vocabulary.many}; "
            "these count as failing every limit."
        )
    for name, count in result.outside.items():
        stated = next(q.range.stated for q in result.plan.system.inputs if q.name == name)
        notes.append(
            f"{wording.in_words(name)}: {count:,} drawn values are physically impossible (it is "
            f"{stated}) and count as failing; look at its spread."
        )
    return notes
