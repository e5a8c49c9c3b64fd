"""The usual cautions, shown wherever a result could be acted on."""

CAUTIONS = (
    "Spirit burns with a flame that is hard to see in daylight. Fill cold and away from flame; "
    "a flooding burner spreads fire under the engine; keep a wet cloth and an extinguisher at "
    "hand; never leave it alight alone. A boiler is a pressure vessel: its design, test and "
    "certificates are for the rules of the land, the club and the insurer, and a competent "
    "inspector. These results are estimates from stated assumptions, not a proof of safety."
)
