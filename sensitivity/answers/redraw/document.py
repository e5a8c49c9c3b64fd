"""Which nominals to draw elsewhere, as plain values."""

from __future__ import annotations

from typing import Any

from sensitivity.answers.finalists import works_value
from sensitivity.answers.levels import levels_value
from sensitivity.answers.redraw.find import Redrawn
from sensitivity.presentation.json_values import estimate_value, proportion_value


def redraw_body(found: Redrawn) -> dict[str, Any]:
    """Lay the answer out as plain values."""
    keeps = found.study.keeps
    return {
        "fresh_seed": found.fresh_seed,
        "yield_as_drawn": proportion_value(found.stated.share),
        "works_as_drawn": levels_value(found.stated),
        "yield": proportion_value(found.there.share),
        "works": levels_value(found.there),
        "works_gain": None if found.more is None else estimate_value(found.more),
        "gain": None if found.gained is None else estimate_value(found.gained),
        "promised": found.promised,
        "halvings": found.halvings,
        "moves": [
            {
                "input": move.nominal.name,
                "unit": move.nominal.item.unit,
                "nominal": move.nominal.item.nominal,
                "draw_at": move.to,
                "works_undone": works_value(move.undone, keeps),
                "lost": None if move.lost is None else estimate_value(move.lost),
                "level": list(move.level),
                "open_end": move.open_end,
            }
            for move in found.moves
        ],
        "bought": [
            {
                "input": one.nominal.name,
                "unit": one.nominal.item.unit,
                "draw_at": one.size,
                "wanted": one.wanted,
                "cost": estimate_value(one.cost),
            }
            for one in found.bought
        ],
        "nominals": [
            {
                "input": slope.nominal.name,
                "unit": slope.nominal.item.unit,
                "nominal": slope.nominal.item.nominal,
                "move": slope.nominal.move,
                "gain": estimate_value(slope.gain),
                "gain_per_unit": estimate_value(slope.per_unit),
                "mostly_by": slope.limit,
                "range": [slope.nominal.settings[0], slope.nominal.settings[-1]]
                if slope.nominal.settings
                else None,
            }
            for slope in found.slopes
        ],
    }
