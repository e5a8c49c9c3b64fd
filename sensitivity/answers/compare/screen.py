"""What a terminal shows of a comparison: designs side by side, and why they differ."""

from __future__ import annotations

from sensitivity.answers.compare.find import Comparison
from sensitivity.answers.compare.tables import (
    causes_tables,
    contest_tables,
    reasons_tables,
    works_table,
    yields_table,
)
from sensitivity.answers.compare.words import verdicts
from sensitivity.presentation.blocks import Block, Items, Words


def comparison_screen(found: Comparison) -> list[Block]:
    """Tell of designs side by side, each against the first."""
    plan = found.plans[0]
    return [
        works_table(found),
        yields_table(found),
        Words(
            f"Common random numbers: {plan.sampling.replicates} replicates of "
            f"{plan.sampling.points} points, seed {plan.seed}, as the first design asks. An input "
            "of the same name draws the same numbers in each.",
            quiet=True,
        ),
        *(table for table in reasons_tables(found) if table.rows_on_terminal),
        *causes_tables(found),
        *contest_tables(found),
        Items([("", verdict) for verdict in verdicts(found)]),
    ]
