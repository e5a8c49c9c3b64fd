"""A report as plain values, and how it becomes one HTML file that opens offline.

Every report is the same sort of page: a title, the question and the answer, a box that says the
most in three lines, and sections of blocks. There is one template for all of them.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from functools import lru_cache
from typing import TYPE_CHECKING

from markupsafe import Markup, escape

from sensitivity import __version__
from sensitivity.presentation.blocks import (
    Card,
    Figure,
    Folded,
    Page,
    Section,
    Verbatim,
    View,
    Words,
)
from sensitivity.presentation.table import Table
from sensitivity.presentation.texts import shown
from sensitivity.system.vocabulary import Vocabulary

if TYPE_CHECKING:
    from jinja2 import Environment, Template

REPORT, CARD = "report.html", "card.html"
"""The write-up and the bench card, side by side in a results folder."""

REPORT_TEMPLATE, CARD_TEMPLATE = "report.html.jinja", "card.html.jinja"
BLOCKS_TEMPLATE, STYLES = "blocks.html.jinja", ("report.css", "card.css")


def render(page: Page) -> str:
    """Write a report as HTML; what cannot be seen in a text is spelt out."""
    template = _template(REPORT_TEMPLATE)
    return shown(template.render(page=page, version=__version__, card=CARD))


def render_card(card: Card) -> str:
    """Write a bench card as HTML that prints on one sheet."""
    template = _template(CARD_TEMPLATE)
    return shown(template.render(card=card, version=__version__, report=REPORT))


def fragment(verdict: str, table: Table | None) -> str:
    """Write a verdict and a table as HTML that stands in a notebook."""
    return shown(_template("fragment.html.jinja").render(verdict=verdict, table=table))


def cautions_section(words: Vocabulary) -> Section:
    """The usual cautions of the trade."""
    return Section("Cautions", [Words(words.cautions)])


def repeat_section(command: str, seed: int, studies: Mapping[str, str]) -> Section:
    """What is needed to get the same answer again: version, seed, command, the studies' text."""
    title, folded = "How to repeat this", "The command, the seed and the study"
    if not any(studies.values()):
        made = f"spiritlevel {__version__}, seed {seed}, of a study that was built in Python."
        return Section(title, [Words(made)], folded)
    files = " and ".join(f"{name}.toml" for name in studies)
    several = len(studies) > 1
    return Section(
        title,
        [
            Words(
                f"spiritlevel {__version__}, seed {seed}. Save the "
                f"{'studies' if several else 'study'} below as {files} and run"
            ),
            Verbatim(command),
            Words(
                "The same version, seed and study give the same numbers, whatever the machine's "
                "number of processors.",
                quiet=True,
            ),
            *(
                Folded(f"The study {name}" if several else "The study", [Verbatim(text)])
                for name, text in studies.items()
            ),
        ],
        folded,
    )


def _inline(figure: Figure | View) -> Markup:
    return inline_svg(figure.svg, figure.name, figure.words)


def fit_for_a_page(drawn: Iterable[Figure | View]) -> None:
    """Fit drawings for a page ahead of its being written."""
    for each in drawn:
        _inline(each)


def load_writers() -> None:
    """Load what writes a report, a card, their folder and the terminal, ahead of their use."""
    from sensitivity.presentation import results_folder, terminal  # noqa: F401

    for name in (BLOCKS_TEMPLATE, REPORT_TEMPLATE, CARD_TEMPLATE, *STYLES):
        _template(name)


def _template(name: str) -> Template:
    return _environment().get_template(name)  # which it keeps


@lru_cache(maxsize=1)
def _environment() -> Environment:
    from jinja2 import Environment, PackageLoader, StrictUndefined

    environment = Environment(
        loader=PackageLoader("sensitivity.presentation"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["unbroken"] = unbroken
    environment.filters["inline"] = _inline
    return environment


_BEFORE_A_UNIT = re.compile(r"(?<=\d) (?=(?:%|mm2?|cm2|in|thou|deg|degC|K|ml|ml/min|Pa|bar|W)\b|%)")


def unbroken(text: str) -> str:
    """Keep numbers and their units on one line."""
    found = _BEFORE_A_UNIT.sub("\N{NO-BREAK SPACE}", text)
    return Markup(found) if isinstance(text, Markup) else found


_REFERENCE = re.compile(r'(?:url\(#|href="#)([^")]+)')


@lru_cache(maxsize=64)
def inline_svg(svg: str, name: str, words: str) -> Markup:
    """Fit an SVG file's text for a page that holds several: named, and no identifier twice.

    Its own title names it, if it has one, else ``words``. What stands before the svg element and
    what nobody sees (metadata, comments, identifiers that nothing refers to) is left out.
    """
    body = svg[svg.index("<svg") :].strip()
    titled = re.search(r"<title>(.*?)</title>", body, re.S)
    named = Markup(titled[1]) if titled else escape(words)
    body = re.sub(r"<metadata>.*?</metadata>|<!--.*?-->|<title>.*?</title>", "", body, flags=re.S)
    # A style element would hold for the whole page; here it is inherited from the svg element.
    body = re.sub(r"<style[^>]*>.*?</style>", "", body, flags=re.S)
    used = set(_REFERENCE.findall(body))

    def own(identifier: str) -> str:
        return identifier if identifier.startswith(f"{name}-") else f"{name}-{identifier}"

    def kept(match: re.Match[str]) -> str:
        return f' id="{own(match[1])}"' if match[1] in used else ""

    def renamed(tag: re.Match[str]) -> str:
        text = re.sub(r'\sid="([^"]*)"', kept, tag[0])
        return re.sub(r'(url\(#|href="#)([^")]+)', lambda match: match[1] + own(match[2]), text)

    body = re.sub(r"<[^<>]*>", renamed, body)  # in the tags alone, not in what is read
    body = re.sub(r"\s*\n\s*", "\n", body)
    body = body.replace(' role="img"', "", 1)  # a labelled view's own
    head = f'<svg role="img" aria-label="{named}" stroke-linejoin="round" '
    return Markup(body.replace("<svg ", head, 1))
