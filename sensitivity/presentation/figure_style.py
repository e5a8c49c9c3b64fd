"""The one style of all figures, and how a figure becomes SVG text.

Colours are from Okabe and Ito's set for colour-blind readers (from memory); what a colour says
is also said by a label or a hatch.
"""

from __future__ import annotations

import io
import logging
import os
import re
import sys
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import ModuleType
from typing import TYPE_CHECKING, Any

from sensitivity.presentation.texts import shown
from sensitivity.presentation.units_said import factor_said, unit_said
from sensitivity.study.study import Units

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

BAD_TEXT = "#a84200"
"""For words in the colour of what fails: 6.1 to 1 on white, where the colour itself is 3.9."""

GOOD, BAD, NEUTRAL, INK = "#0072B2", "#D55E00", "#8a8f98", "#22262b"
KIND_STYLE = {"build": (GOOD, ""), "running": (NEUTRAL, "///"), "model": ("#CC9A00", "xx")}
KIND_WORDS = {"build": "build", "running": "running condition", "model": "model doubt"}

STYLE: dict[str, Any] = {
    "font.family": "sans-serif",
    "font.size": 9,
    "axes.edgecolor": INK,
    "axes.labelcolor": INK,
    "axes.titlesize": 10,
    "axes.titleweight": "bold",
    "axes.titlelocation": "left",
    "axes.spines.top": False,
    "axes.spines.right": False,
    "legend.frameon": False,
    "svg.fonttype": "none",
    "text.parse_math": False,  # a dollar in a name is a dollar
    "text.usetex": False,
    "svg.hashsalt": "spiritlevel",
}


@contextmanager
def figure_style() -> Iterator[None]:
    """Draw in the house's style inside this, whatever settings of matplotlib's lie about."""
    mpl = _matplotlib()
    with mpl.rc_context(), warnings.catch_warnings():
        mpl.rcdefaults()
        mpl.rcParams.update(STYLE)
        # The SVG keeps its text as text: the reader's fonts draw it, not ours.
        warnings.filterwarnings("ignore", message="Glyph .* missing from font")
        # Long names leave little room in a small figure; it is drawn all the same.
        warnings.filterwarnings("ignore", message="constrained_layout not applied")
        yield


def load_drawing() -> None:
    """Import what draws ahead of its use, with the care that ``figure_style`` takes."""
    _matplotlib()
    import matplotlib.backends.backend_svg
    import matplotlib.figure  # noqa: F401  imported for their being imported


def _matplotlib() -> ModuleType:
    """Import matplotlib, which reads settings from the current folder as it is imported.

    A study's folder may be anybody's; its ``matplotlibrc`` could start other programs (LaTeX), and
    a backend named in the surroundings that does not exist would end the import. We stand
    elsewhere for that moment, and keep to ourselves what matplotlib logs of the machine.
    """
    if "matplotlib" not in sys.modules:
        backend = os.environ.pop("MPLBACKEND", None)
        quiet = logging.getLogger("matplotlib")
        level = quiet.level
        quiet.setLevel(logging.ERROR)
        try:
            with _standing_here():
                import matplotlib as mpl
        finally:
            quiet.setLevel(level)
            if backend is not None:
                os.environ["MPLBACKEND"] = backend
        return mpl
    return sys.modules["matplotlib"]


@contextmanager
def _standing_here() -> Iterator[None]:
    """Stand in this module's own folder for a while."""
    try:
        before = os.open(os.curdir, os.O_RDONLY)
    except OSError:  # gone, or not ours to list: we could not come back to it
        yield
        return
    try:
        os.chdir(Path(__file__).parent)
        yield
    finally:
        os.fchdir(before)
        os.close(before)


def new_figure(width: float, height: float) -> Figure:
    """Start a figure of a size in inches, its axes laid out by what their texts take."""
    from matplotlib.figure import Figure

    return Figure(figsize=(width, height), layout="constrained")


def grid_of_axes(lines: int, columns: int, width: float, height: float) -> tuple[Figure, Any]:
    """Start a figure of alike axes (lines, columns), each in a place of a size in inches.

    Room for a title, a line under the axis and percentages beside it is known beforehand; having
    the texts measured to find as much would take as long as all the drawing.
    """
    from matplotlib.figure import Figure

    left, right, top, bottom = 0.62, 0.1, 0.32, 0.52
    figure = Figure(figsize=(columns * width, lines * height))
    figure.subplots_adjust(
        left=left / (columns * width),
        right=1.0 - right / (columns * width),
        top=1.0 - top / (lines * height),
        bottom=bottom / (lines * height),
        wspace=(left + right) / (width - left - right),
        hspace=(top + bottom) / (height - top - bottom),
    )
    return figure, figure.subplots(lines, columns, squeeze=False)


_UNIT_ON_AN_AXIS = re.compile(r"(?<=, )[^\s,]+")


def in_units(axes: Axes, units: Units) -> None:
    """Mark both axes in a study's units, where what is drawn is in the models'.

    A label names its unit behind its first comma: ``gap over the deflector, mm``.
    """
    from matplotlib.ticker import FuncFormatter, MaxNLocator

    class Rounded(MaxNLocator):
        """Ticks at round values of the unit that is said."""

        def __init__(self, factor: float) -> None:
            super().__init__("auto", steps=[1, 2, 2.5, 5, 10])
            self.factor = factor

        def tick_values(self, vmin: float, vmax: float) -> Any:
            ticks = super().tick_values(vmin * self.factor, vmax * self.factor)
            return [tick / self.factor for tick in ticks]

    for axis in (axes.xaxis, axes.yaxis):
        label = axis.get_label_text()
        named = _UNIT_ON_AN_AXIS.search(label)
        if named is None or unit_said(named[0], units) == named[0]:
            continue
        factor = factor_said(named[0], units)
        axis.set_label_text(_UNIT_ON_AN_AXIS.sub(unit_said(named[0], units), label, count=1))
        axis.set_major_locator(Rounded(factor))
        axis.set_major_formatter(
            FuncFormatter(lambda value, _, by=factor: f"{value * by:.6g}".replace("-", "−"))
        )


def to_svg(figure: Figure, name: str = "") -> str:
    """Write a figure as SVG text, the same for the same figure.

    Identifiers inside begin with ``name``, so that several figures can stand in one page.
    """
    stream = io.StringIO()
    figure.savefig(stream, format="svg", metadata={"Date": None, "Creator": "spiritlevel"})

    def tidied(tag: re.Match[str]) -> str:
        # A hundredth of a point is finer than any screen; the rest only makes the file larger.
        text = re.sub(r"\d+\.\d{3,}", lambda number: f"{float(number[0]):.2f}", tag[0])
        return re.sub(r'(\bid="|url\(#|href="#)', rf"\g<1>{name}-", text) if name else text

    # In the tags alone: what a reader sees between them stays as it is.
    return shown(re.sub(r"<[^<>]*>", tidied, stream.getvalue()))
