"""Whether a spread rests on a source that somebody could look up, or on nobody's figure."""

from __future__ import annotations

from sensitivity.spreads.statement import Origin
from sensitivity.spreads.workshop import workshop_table

WITHOUT_SOURCE = ("no source", "from memory", "judgement", "guess", "estimate")
"""Words of a ``basis`` by which a study owns that a figure has no source."""


def has_source(origin: Origin, basis: str, process: str = "", instrument: str = "") -> bool:
    """Tell whether a stated spread has a source.

    Parameters
    ----------
    origin : Origin
        How the spread is stated; what is held has no spread to doubt.
    basis : str
        On whose word, as the study says; one of ``WITHOUT_SOURCE`` in it means without.
    process, instrument : str
        Of the workshop table, whose entry may be marked as without a source.

    Returns
    -------
    bool
        Measured values and tolerance classes of a standard are their own source, unless the basis
        says otherwise; anything else without a basis has none.
    """
    if origin == "held":
        return True
    if _owns_it(basis):
        return False
    for entry in (
        workshop_table("process").get(process),
        workshop_table("instrument").get(instrument),
    ):
        if entry is not None:
            return not _owns_it(entry.source)
    return bool(basis) or origin in ("samples", "iso286", "iso2768")


def _owns_it(text: str) -> bool:
    return any(words in text.casefold() for words in WITHOUT_SOURCE)
