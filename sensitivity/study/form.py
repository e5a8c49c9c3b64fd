"""The form of a study file: which keys each table may have, and what may stand in them.

pydantic checks the form; what a quantity means needs the models' units and is the work of
``inputs`` and ``limits``. Faults come back in the tool's own words, with the nearest known key.
"""

from __future__ import annotations

import reprlib
from collections.abc import Mapping
from math import isfinite
from typing import Annotated, Any, Literal, TypeVar

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError

from sensitivity.errors import nearest
from sensitivity.spreads.statement import SpreadStatement
from sensitivity.study.caps import LONGEST_NAME, LONGEST_TEXT, MOST_SIZES
from sensitivity.study.study import FEWEST_REPLICATES, MOST_REPLICATES
from sensitivity.study.toml_lines import Path

POINTS = "a power of two from 64 to 1048576"


def _quantity(value: Any) -> str | float:
    if isinstance(value, float) and not isfinite(value):
        raise ValueError("should be a finite number")
    if isinstance(value, str | int | float) and not isinstance(value, bool):
        return value
    raise ValueError('should be a quantity in quotes, like "10.3 mm"')


def _two(value: Any) -> tuple[str | float, str | float]:
    if isinstance(value, list | tuple) and len(value) == 2:
        return _quantity(value[0]), _quantity(value[1])
    raise ValueError('should be two quantities, like ["8 mm", "13 mm"]')


def _several(value: Any) -> tuple[str | float, ...]:
    if isinstance(value, list | tuple) and 2 <= len(value) <= MOST_SIZES:
        return tuple(_quantity(each) for each in value)
    raise ValueError(f'should be 2 to {MOST_SIZES} quantities, like ["3 mm", "4 mm", "5 mm"]')


def _sizes(value: Any) -> str | tuple[str | float, ...]:
    return value if isinstance(value, str) else _several(value)


def _two_names(value: Any) -> tuple[str, str]:
    if isinstance(value, list | tuple) and [type(name) for name in value] == [str, str]:
        return value[0], value[1]
    raise ValueError('should name two inputs, like ["rise", "drop"]')


def _power_of_two(value: Any) -> int:
    if isinstance(value, int) and 64 <= value <= 1 << 20 and value & (value - 1) == 0:
        return value
    raise ValueError(f"should be {POINTS}, like 4096")


TextOrNumber = Annotated[str | float, BeforeValidator(_quantity)]
Pair = Annotated[tuple[str | float, str | float], BeforeValidator(_two)]
Sizes = Annotated[str | tuple[str | float, ...], BeforeValidator(_sizes)]
Text = Annotated[str, Field(max_length=LONGEST_TEXT)]
Name = Annotated[str, Field(max_length=LONGEST_NAME)]
Names = Annotated[tuple[str, str], BeforeValidator(_two_names)]


class Table(BaseModel):
    """A table of a study file; a key it does not know is a fault."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, allow_inf_nan=False)


class InputTable(Table):
    """``[inputs.NAME]``."""

    nominal: TextOrNumber | None = None
    tube: str | None = None
    plus_minus: TextOrNumber | None = None
    between: Pair | None = None
    standard_deviation: TextOrNumber | None = None
    lognormal: TextOrNumber | None = None
    iso286: str | None = None
    iso2768: str | None = None
    process: str | None = None
    samples: str | None = None
    measured: TextOrNumber | None = None
    instrument: str | None = None
    shape: (
        Literal["normal", "rectangular", "triangular", "arcsine", "trapezoidal", "log_uniform"]
        | None
    ) = None
    flat: Annotated[float, Field(ge=0, le=1)] | None = None
    coverage_factor: Annotated[float, Field(gt=0)] | None = None
    leg: TextOrNumber | None = None
    basis: Text = ""
    kind: Literal["build", "running", "model"] | None = None
    group: Name = ""
    adjust: Pair | None = None
    redraw: Pair | None = None
    redraw_step: TextOrNumber | None = None
    redraw_sizes: Sizes | None = None
    blunder: TextOrNumber | None = None

    @property
    def blank(self) -> bool:
        """Whether its nominal is left empty, to be given yet."""
        return isinstance(self.nominal, str) and not self.nominal.strip()

    def spread_statement(self) -> SpreadStatement:
        """What of it states the spread."""
        return SpreadStatement(
            plus_minus=self.plus_minus,
            between=self.between,
            standard_deviation=self.standard_deviation,
            lognormal=self.lognormal,
            iso286=self.iso286,
            iso2768=self.iso2768,
            process=self.process,
            samples=self.samples,
            measured=self.measured,
            shape=self.shape,
            flat=self.flat,
            coverage_factor=self.coverage_factor,
            leg=self.leg,
            instrument=self.instrument,
        )


class LimitTable(Table):
    """``[limits.NAME]``."""

    at_least: TextOrNumber | None = None
    at_most: TextOrNumber | None = None
    because: Text = ""
    hurts: bool = False
    ceiling: Annotated[float, Field(gt=0, lt=1)] | None = None


class ReadingTable(Table):
    """``[readings.RESULT]``."""

    instrument: str | None = None
    at: dict[str, TextOrNumber] = Field(default_factory=dict)


class CorrelationTable(Table):
    """``[[correlations]]``."""

    inputs: Names
    rank: Annotated[float, Field(gt=-1, lt=1)]
    because: Text = ""


class SamplingTable(Table):
    """``[sampling]``."""

    seed: Annotated[int, Field(ge=0)] | None = None
    replicates: Annotated[int, Field(ge=FEWEST_REPLICATES, le=MOST_REPLICATES)] = 16
    points: Annotated[int, BeforeValidator(_power_of_two)] = 2048
    confidence: Annotated[float, Field(gt=0.5, lt=1)] = 0.95
    target_half_width: Annotated[float, Field(gt=0, lt=0.5)] | None = None
    max_replicates: Annotated[int, Field(ge=FEWEST_REPLICATES, le=MOST_REPLICATES)] = 256


TOP_KEYS = (
    "title",
    "models",
    "inputs",
    "schedule",
    "limits",
    "readings",
    "correlations",
    "sampling",
    "keeps",
    "blunder",
    "units",
    "unstated",
    "doubts",
)

AnyTable = TypeVar("AnyTable", bound=Table)

_BOUNDS = {
    "greater_than": "above {gt:g}",
    "greater_than_equal": "at least {ge:g}",
    "less_than": "below {lt:g}",
    "less_than_equal": "at most {le:g}",
    "string_too_long": "at most {max_length} characters",
}
_KINDS_OF_VALUE = {
    "string_type": 'text in quotes, like "..."',
    "int_type": "a whole number",
    "float_type": "a number",
    "finite_number": "a finite number",
    "int_from_float": "a whole number",
    "model_type": "a table",
    "dict_type": "a table",
}


def read_table(
    form: type[AnyTable], content: Any, path: Path
) -> tuple[AnyTable | None, list[tuple[Path, str]]]:
    """Check one table; return it without its faulty keys, and its faults as (path, problem).

    What is left without them is read all the same, so that its other faults are found at
    once; None where nothing can be made of it.

    Parameters
    ----------
    form : type of Table
        The keys that it may have.
    content : any
        As TOML gives it.
    path : Path
        The table's own key.
    """
    faults: dict[Path, str] = {}
    while True:
        try:
            return form.model_validate(content), list(faults.items())
        except ValidationError as error:
            faulty: set[str | int] = set()
            for item in error.errors():
                location = item["loc"][:1]
                faults.setdefault((*path, *location), _in_words(dict(item), form))
                faulty.update(location)
        if not isinstance(content, dict) or not faulty & content.keys():
            return None, list(faults.items())
        content = {key: value for key, value in content.items() if key not in faulty}


def echo(value: Any) -> str:
    """Write what was found, for a message: cut short, however deep or long it is."""
    try:
        return reprlib.repr(value)
    except ValueError:  # more digits than Python writes
        return "a number of thousands of digits"


def _in_words(item: Mapping[str, Any], form: type[Table]) -> str:
    found, kind = echo(item.get("input")), item["type"]
    if kind == "extra_forbidden":
        return f"unknown key; {nearest(str(item['loc'][0]), form.model_fields)}"
    if kind == "missing":
        return "is missing"
    if kind == "value_error":
        return f"found {found}, which {item['ctx']['error']}"
    if kind == "literal_error":
        return f"found {found}; should be {item['ctx']['expected']}"
    if kind in _BOUNDS:
        return f"found {found}; should be {_BOUNDS[kind].format(**item['ctx'])}"
    return f"found {found}; should be {_KINDS_OF_VALUE.get(kind, item['msg'])}"
