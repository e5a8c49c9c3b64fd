"""The trade's words for what these models compute, brought to an engine that knows only parts."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

VOCABULARY: Mapping[str, str] = MappingProxyType(
    {
        "one": "burner",
        "many": "burners",
        "use": "light",
        "used": "lit",
        "unused": "unlit",
        "cautions": (
            "Spirit burns with a flame that is hard to see in daylight. Fill cold and away from "
            "flame; a flooding burner spreads fire under the engine; keep a wet cloth and an "
            "extinguisher at hand; never leave it alight alone. A boiler is a pressure vessel: its "
            "design, test and certificates are for the rules of the land, the club and the "
            "insurer, and a competent inspector. These results are estimates from stated "
            "assumptions, not a proof of safety."
        ),
    }
)
"""What the engine prints of one and of many, how one is put to use, and the usual cautions."""
