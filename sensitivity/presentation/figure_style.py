"""The one style of all figures, and how a figure becomes SVG text.

Colours are from Okabe and Ito's set for colour-blind readers (from memory); what a colour says
is also said by a label or a hatch.
"""

from __future__ import annotations

import io
import re
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
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
    "svg.hashsalt": "spiritlevel",
}


@contextmanager
def figure_style() -> Iterator[None]:
    """Draw in the house's style inside this."""
    import matplotlib as mpl

    with mpl.rc_context(STYLE), warnings.catch_warnings():
        # The SVG keeps its text as text: the reader's fonts draw it, not ours.
        warnings.filterwarnings("ignore", message="Glyph .* missing from font")
        yield


def new_figure(width: float, height: float) -> Figure:
    """Start a figure of a size in inches."""
    from matplotlib.figure import Figure

    return Figure(figsize=(width, height), layout="constrained")


def to_svg(figure: Figure, name: str = "") -> str:
    """Write a figure as SVG text, the same for the same figure.

    Identifiers inside begin with ``name``, so that several figures can stand in one page.
    """
    stream = io.StringIO()
    figure.savefig(stream, format="svg", metadata={"Date": None, "Creator": "spiritlevel"})
    # A hundredth of a point is finer than any screen; the rest only makes the file larger.
    text = re.sub(r"\d+\.\d{3,}", lambda match: f"{float(match[0]):.2f}", stream.getvalue())
    return re.sub(r'(\bid="|url\(#|href="#)', rf"\g<1>{name}-", text) if name else text
