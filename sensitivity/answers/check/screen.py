"""What ``check`` prints: the drawing and its two classical stack-ups."""

from __future__ import annotations

from sensitivity.engine.worst_case import StackUp
from sensitivity.presentation import wording
from sensitivity.presentation.cautions import CAUTIONS
from sensitivity.presentation.terminal import console, new_table
from sensitivity.study.study import Study


def show_check(study: Study, stacked: StackUp) -> None:
    """Print nominal results, worst case and root-sum-square against the limits."""
    out = console()
    out.print(study.title, style="bold")
    out.print()
    limits = {limit.result: limit for limit in study.limits}
    table = new_table(
        "Without sampling: the drawing and its two classical stack-ups",
        "result",
        "must be",
        "as drawn",
        "root-sum-square, 95 %",
        "worst case",
        right=(2,),
    )
    broken = []
    for row, quantity in enumerate(study.system.results):
        if limits and quantity.name not in limits:
            continue
        low, high = (float(end) for end in stacked.root_sum_square[row])
        worst_low, worst_high = (float(end) for end in stacked.worst[row])
        scale = (high - low) / 4 or abs(float(stacked.nominal[row])) / 100
        limit = limits.get(quantity.name)
        nominal = wording.number(float(stacked.nominal[row]), wording.decimals_for(scale))
        table.add_row(
            wording.in_words(quantity.name),
            wording.limit(limit) if limit else "",
            wording.with_unit(nominal, quantity.unit),
            wording.value_range(low, high, "", scale),
            wording.value_range(worst_low, worst_high, "", scale),
        )
        if limit is not None and not (
            (limit.at_least is None or stacked.nominal[row] >= limit.at_least)
            and (limit.at_most is None or stacked.nominal[row] <= limit.at_most)
        ):
            broken.append(wording.in_words(quantity.name))
    out.print(table)
    if broken:
        out.print(f"As drawn it breaks: {', '.join(broken)}. Move a nominal first.")
    elif limits:
        out.print(
            'As drawn it keeps every limit; "spiritlevel run" says how likely one built does.'
        )
    if stacked.no_answer:
        out.print(f"The models have no answer in {100 * stacked.no_answer:.2g} % of the box.")
    out.print()
    out.print(CAUTIONS, style="dim")
