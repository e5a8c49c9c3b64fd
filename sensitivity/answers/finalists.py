"""What decisions say of the few choices that were priced in parts that work, in shop words."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sensitivity.answers.levels import band_ends, moments_in_words, sampled
from sensitivity.engine.intervals import Proportion
from sensitivity.engine.two_levels import TwoLevels
from sensitivity.presentation import wording
from sensitivity.presentation.json_values import proportion_value
from sensitivity.pricing.hurting import above_ceiling
from sensitivity.study.study import Study


def works_value(share: Proportion | None, keeps: float) -> dict[str, Any] | None:
    """Lay parts that work of a choice out as plain values; no band was found of it."""
    found = proportion_value(share)
    return None if found is None else {**found, "keeps": keeps, "band": None}


def of_which(levels: TwoLevels) -> str:
    """Say what working asks for: ``keep every limit in 99 of 100 moments of running``."""
    if levels.one_level is not None:
        return "keep every limit"
    return f"keep every limit in {moments_in_words(levels.keeps)}"


def physics(levels: TwoLevels, many: str) -> str:
    """Say in a sentence between which figures what was said last may lie; empty if unstated."""
    if levels.band is None:
        return ""
    low, high = band_ends(levels)
    ends = f"anywhere from {low} to {high}" if low != high else f"at {low}"
    return f" What the physics does not know puts that {ends} of 100 {many}."


def physics_in_short(levels: TwoLevels) -> str:
    """Write the band behind a figure: ``, 29 to 46 as the physics may turn out``."""
    if levels.band is None:
        return ""
    low, high = band_ends(levels)
    return f", {low if low == high else f'{low} to {high}'} as the physics may turn out"


def levels_in_words(levels: TwoLevels, many: str) -> str:
    """Say of one design how many work, the band, and how often it keeps at a moment."""
    told = f"{sampled(levels.works)} of 100 {many} work{physics_in_short(levels)}"
    if levels.one_level is not None:
        return told
    return (
        f"{told}; at a moment taken at random {wording.share_of_a_hundred(levels.share)} keep "
        "every limit"
    )


def hurts_first(
    study: Study,
    drawn: Mapping[str, Proportion],
    there: Mapping[str, Proportion],
    *,
    kept_out: bool,
    least_only: bool,
) -> list[str]:
    """Say first what limits that hurt have to do with a choice; nothing where they have nothing.

    Parameters
    ----------
    study : Study
        Whose limits they are.
    drawn, there : mapping of str to Proportion
        Share of moments at which each limit is kept, as drawn and as chosen.
    kept_out : bool
        Whether a ceiling kept something out.
    least_only : bool
        Whether all that was tried is above a ceiling.
    """
    above = [*above_ceiling(study.limits, drawn), *above_ceiling(study.limits, there)]
    found = []
    for limit in study.limits:
        if not limit.hurts or not (kept_out or limit in above):
            continue
        because = f" ({limit.because})" if limit.because else ""
        text = (
            f"This can hurt: {wording.in_words(limit.result)} may break its limit{because} at "
            f"{wording.out_of_a_hundred(limit.ceiling)} moments; as drawn it does at "
            f"{broken(drawn[limit.result])}, and as named here at {broken(there[limit.result])}. "
        )
        if least_only:
            text += "Nothing tried keeps to that; what is named here comes nearest."
        else:
            text += "What breaks it more often than it may was not taken, whatever it gains."
        found.append(text)
    return found


def broken(share: Proportion) -> str:
    """Write how often a limit is broken: ``2 of 1000``, or ``none of 65,536 tried``."""
    if share.failures == 0:
        return f"none of {share.rows:,} tried"
    return wording.out_of_a_hundred(1.0 - share.value)
