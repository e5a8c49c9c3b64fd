"""Tolerance classes of ISO 286-1 (H, h, JS, js) and ISO 2768-1, as deviations in mm or degrees.

The tables were read in secondary print and agree with the formulas of the standards; angles of
ISO 2768-1 are from memory. Sheets headed "DIN ISO 2768-1" that print 0.15 and 0.2 mm for class
c below 6 mm show the superseded DIN 7168, and are not followed.
"""

from __future__ import annotations

import re
from typing import TypeVar

from sensitivity.errors import QuantityError

Row = TypeVar("Row")

# Upper end of each range of nominal sizes, mm; the lower end is the one before, excluded.
ISO_286_SIZES = (3.0, 6.0, 10.0, 18.0, 30.0, 50.0, 80.0, 120.0, 180.0, 250.0)

# ISO 286-1:2010, Table 1: standard tolerance, micrometres, by grade and range.
ISO_286_GRADES: dict[int, tuple[int, ...]] = {
    6: (6, 8, 9, 11, 13, 16, 19, 22, 25, 29),
    7: (10, 12, 15, 18, 21, 25, 30, 35, 40, 46),
    8: (14, 18, 22, 27, 33, 39, 46, 54, 63, 72),
    9: (25, 30, 36, 43, 52, 62, 74, 87, 100, 115),
    10: (40, 48, 58, 70, 84, 100, 120, 140, 160, 185),
    11: (60, 75, 90, 110, 130, 160, 190, 220, 250, 290),
    12: (100, 120, 150, 180, 210, 250, 300, 350, 400, 460),
    13: (140, 180, 220, 270, 330, 390, 460, 540, 630, 720),
    14: (250, 300, 360, 430, 520, 620, 740, 870, 1000, 1150),
}

# ISO 2768-1:1989, Table 1: plus and minus, mm. The first range begins at 0.5 mm.
ISO_2768_SIZES = (3.0, 6.0, 30.0, 120.0, 400.0)
ISO_2768_LINEAR: dict[str, tuple[float | None, ...]] = {
    "f": (0.05, 0.05, 0.1, 0.15, 0.2),
    "m": (0.1, 0.1, 0.2, 0.3, 0.5),
    "c": (0.2, 0.3, 0.5, 0.8, 1.2),
    "v": (None, 0.5, 1.0, 1.5, 2.5),
}

# ISO 2768-1:1989, Table 3: plus and minus, minutes of arc, by the shorter leg in mm.
ISO_2768_LEGS = (10.0, 50.0, 120.0, 400.0)
ISO_2768_ANGULAR: dict[str, tuple[int, ...]] = {
    "f": (60, 30, 20, 10),
    "m": (60, 30, 20, 10),
    "c": (90, 60, 30, 15),
    "v": (180, 120, 60, 30),
}


def _range(size: float, ends: tuple[float, ...]) -> int | None:
    return next((index for index, end in enumerate(ends) if size <= end), None)


def iso_286(size: float, tolerance_class: str) -> tuple[float, float]:
    """Lower and upper deviation, mm, of a nominal size in mm for a class such as ``"H11"``.

    Letters H and h (one-sided from the nominal) and JS and js (symmetric), grades 6 to 14,
    sizes above 0 to 250 mm; anything else raises QuantityError.

    Parameters
    ----------
    size : float
        Nominal size, mm.
    tolerance_class : str
        Letter and grade.

    Raises
    ------
    QuantityError
        For a class or a size that the tables here do not have.
    """
    match = re.fullmatch(r"(H|h|JS|js)(\d{1,2})", tolerance_class.strip())
    if match is None:
        raise QuantityError(
            f'tolerance class "{tolerance_class}" is not supported; H, h, JS and js are, '
            'with a grade from 6 to 14: "H11", "h9", "js7"'
        )
    letter, grade = match.group(1), int(match.group(2))
    if grade not in ISO_286_GRADES:
        raise QuantityError(f'grade {grade} of "{tolerance_class}" is not supported; 6 to 14 are')
    column = _range(size, ISO_286_SIZES)
    if size <= 0 or column is None:
        raise QuantityError(f"ISO 286 sizes here go from above 0 to 250 mm; {size:g} mm does not")
    width = ISO_286_GRADES[grade][column] / 1000.0
    return {
        "H": (0.0, width),
        "h": (-width, 0.0),
        "JS": (-width / 2, width / 2),
        "js": (-width / 2, width / 2),
    }[letter]


def iso_2768_linear(size: float, tolerance_class: str) -> float:
    """Half-width, mm, of ISO 2768-1 for a linear size in mm and a class f, m, c or v.

    Parameters
    ----------
    size : float
        Nominal size, mm.
    tolerance_class : str
        f, m, c or v.

    Raises
    ------
    QuantityError
        For a class or a size that the table does not have.
    """
    row = _class_row(tolerance_class, ISO_2768_LINEAR)
    column = _range(size, ISO_2768_SIZES)
    if size < 0.5 or column is None:
        raise QuantityError(
            f"ISO 2768-1 sizes here go from 0.5 to 400 mm; {size:g} mm does not: state the spread"
        )
    width = row[column]
    if width is None:
        raise QuantityError(f'ISO 2768-1 has no class "{tolerance_class}" below 3 mm; f, m, c have')
    return width


def iso_2768_angular(tolerance_class: str, leg: float) -> float:
    """Half-width, degrees, of ISO 2768-1 for an angle whose shorter leg is ``leg`` mm long.

    Parameters
    ----------
    tolerance_class : str
        f, m, c or v.
    leg : float
        Shorter leg of the angle, mm.

    Raises
    ------
    QuantityError
        For a class or a leg that the table does not have.
    """
    row = _class_row(tolerance_class, ISO_2768_ANGULAR)
    column = _range(leg, ISO_2768_LEGS)
    if leg <= 0 or column is None:
        raise QuantityError(f"legs here go from above 0 to 400 mm; {leg:g} mm does not")
    return row[column] / 60.0


def _class_row(tolerance_class: str, table: dict[str, Row]) -> Row:
    if tolerance_class not in table:
        raise QuantityError(
            f'ISO 2768-1 class "{tolerance_class}" does not exist; write "f", "m", "c" or "v"'
        )
    return table[tolerance_class]
