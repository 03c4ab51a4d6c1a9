"""How figures look: quiet, readable without colour, the same bytes everywhere."""

from __future__ import annotations

import io
import re
import warnings
from html import escape
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from matplotlib.figure import Figure

INK = "#1d1d1b"
GREY = "#6b6a66"
PALE = "#e4e2dc"
FAINT = "#c9c6bd"
PRESENT = "#2c5a7d"  # the colour and the dashed line of the present gas
NEW = "#a2401a"  # the colour and the solid line of the new gas

RC: dict[str, Any] = {
    "svg.hashsalt": "burnerlab",  # ids follow from the drawing, not from a random number
    "svg.fonttype": "path",  # the same letters on every machine
    "font.family": "sans-serif",
    "font.sans-serif": ["DejaVu Sans"],  # shipped with matplotlib
    "font.size": 8.0,
    "axes.edgecolor": GREY,
    "axes.labelcolor": INK,
    "axes.linewidth": 0.6,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.axisbelow": True,
    "xtick.color": GREY,
    "ytick.color": GREY,
    "xtick.labelcolor": INK,
    "ytick.labelcolor": INK,
    "xtick.major.width": 0.6,
    "ytick.major.width": 0.6,
    "xtick.minor.width": 0.4,
    "ytick.minor.width": 0.4,
    "text.color": INK,
    "axes.unicode_minus": True,
    "text.usetex": False,
    "text.parse_math": False,  # a dollar sign in a name is a dollar sign
    "path.simplify": True,
    "figure.facecolor": "white",
    "savefig.facecolor": "white",
}


def svg_of(figure: Figure, key: str, title: str, description: str) -> str:
    """A figure as an SVG element for a page: its own ids, a title, a description, no outside address."""
    stream = io.BytesIO()
    bare = dict.fromkeys(("Date", "Creator", "Type", "Format"))
    with warnings.catch_warnings():
        # a letter the font lacks is drawn as a box; the tables of the sheet spell the name in full
        warnings.filterwarnings("ignore", message="Glyph .* missing from", category=UserWarning)
        figure.savefig(stream, format="svg", metadata=bare)
    text = stream.getvalue().decode("utf-8")
    text = text[text.index("<svg") :]
    text = re.sub(r"\s*<metadata>.*?</metadata>", "", text, flags=re.DOTALL)
    text = text.replace("xlink:href", "href").replace(' xmlns:xlink="http://www.w3.org/1999/xlink"', "")
    text = re.sub(r'\bid="([^"]+)"', rf'id="{key}-\1"', text)
    text = re.sub(r'href="#([^"]+)"', rf'href="#{key}-\1"', text)
    text = re.sub(r"url\(#([^)]+)\)", rf"url(#{key}-\1)", text)
    head, rest = text.split(">", 1)
    label = f'role="img" aria-labelledby="{key}-title {key}-desc"'
    words = (
        f'<title id="{key}-title">{escape(title)}</title><desc id="{key}-desc">{escape(description)}</desc>'
    )
    return f"{head} {label}>{words}{rest}".strip() + "\n"
