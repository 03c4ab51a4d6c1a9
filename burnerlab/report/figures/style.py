"""How figures look: quiet, readable without colour, labels that do not lie on each other."""

from __future__ import annotations

import io
import re
import warnings
from collections.abc import Sequence
from html import escape
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from matplotlib.figure import Figure
    from numpy.typing import ArrayLike

# How figures look: quiet, readable without colour, the same bytes everywhere.

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
WIDTH_in = 7.2  # of a page


def new_figure(height_in: float) -> Any:
    """An empty figure of the width of a page, without window or global state."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(WIDTH_in, height_in), dpi=144)
    FigureCanvasAgg(figure)
    return figure


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


# Texts that a translation made longer.

SMALLEST_pt, SMALLER, MOST_PASSES = 5.0, 0.88, 6
MARK_em = 2.6  # of the mark before a text of a legend
Meetings = set[tuple[int, int]]


def meetings(figure: Figure, texts: Sequence[Any]) -> Meetings:
    """Pairs of texts, by their places, that lie on each other; one that leaves the figure meets itself."""
    from matplotlib.legend import Legend

    figure.draw_without_rendering()
    renderer: Any = figure.canvas.get_renderer()  # type: ignore[attr-defined]
    in_legend = {id(text) for legend in figure.findobj(Legend) for text in legend.get_texts()}
    boxes = np.array([_box(text, renderer, has_mark=id(text) in in_legend) for text in texts]).reshape(-1, 4)
    x0, y0, x1, y1 = boxes.T
    width, height = figure.bbox.width, figure.bbox.height
    is_shown = (x1 > x0) & (y1 > y0)
    across = (x0[:, None] < x1[None, :]) & (x0[None, :] < x1[:, None])
    upward = (y0[:, None] < y1[None, :]) & (y0[None, :] < y1[:, None])
    meets = np.triu(across & upward & is_shown[:, None] & is_shown[None, :], 1)
    leaves = np.flatnonzero(is_shown & ((x0 < 0) | (y0 < 0) | (x1 > width) | (y1 > height)))
    pairs = {(int(i), int(j)) for i, j in zip(*np.nonzero(meets), strict=True)}
    return pairs | {(int(i), int(i)) for i in leaves}


def _box(text: Any, renderer: Any, *, has_mark: bool) -> tuple[float, float, float, float]:
    """The ends of a text on the figure, of a legend with its mark before it; without extent where nothing is shown."""
    if not text.get_visible() or not text.get_text().strip():
        return 0.0, 0.0, 0.0, 0.0
    x0, y0, x1, y1 = text.get_window_extent(renderer).extents
    mark = MARK_em * text.get_fontsize() * text.figure.dpi / 72 if has_mark else 0.0
    return float(x0) - mark, float(y0), float(x1), float(y1)


def fit(figure: Figure, texts: Sequence[Any], before: Meetings) -> None:
    """Set those texts smaller that now lie on each other or beyond the figure.

    before : ``meetings`` of the same texts as they were drawn; what met then stays
    """
    for _ in range(MOST_PASSES):
        large = {
            place
            for pair in meetings(figure, texts) - before
            for place in pair
            if texts[place].get_fontsize() > SMALLEST_pt
        }
        if not large:
            return
        for place in large:
            texts[place].set_fontsize(max(SMALLER * texts[place].get_fontsize(), SMALLEST_pt))


# Labels on a figure that do not lie on each other.

OFFSETS: tuple[tuple[float, float], ...] = (
    (1.0, 1.0), (1.0, 0.1), (1.6, 1.8), (2.6, 1.0), (2.6, 2.6), (1.0, 2.8),
    (4.0, 2.0), (4.2, 0.6), (5.0, 3.4), (1.0, 4.2), (6.4, 1.2), (6.4, 4.4),
)  # fmt: skip


def spread(positions: Sequence[float], gap: float, low: float, high: float) -> list[float]:
    """Positions at least ``gap`` apart, each as near as may be to its own, kept in order.

    positions : rising
    Returns positions; when they cannot all fit between low and high the gap shrinks evenly.

    >>> spread([1.0, 1.1, 5.0], gap=1.0, low=0.0, high=10.0)
    [0.55, 1.55, 5.0]
    """
    if not positions:
        return []
    gap = min(gap, (high - low) / max(len(positions) - 1, 1))
    # blocks of touching labels, each centred on the mean of what its members want
    blocks: list[list[float]] = []
    for value in positions:
        blocks.append([value])
        while (
            len(blocks) > 1
            and _top(blocks[-2], gap, low, high) + gap > _base(blocks[-1], gap, low, high) + 1e-9
        ):
            blocks[-2:] = [blocks[-2] + blocks[-1]]
    return [_base(block, gap, low, high) + i * gap for block in blocks for i in range(len(block))]


def _base(block: list[float], gap: float, low: float, high: float) -> float:
    span = gap * (len(block) - 1)
    return max(low, min(sum(block) / len(block) - span / 2, high - span))


def _top(block: list[float], gap: float, low: float, high: float) -> float:
    return _base(block, gap, low, high) + gap * (len(block) - 1)


class Placer:
    """Puts a text beside a point where nothing lies yet; boxes are in pixels of the figure."""

    def __init__(self, axes: Any, renderer: Any) -> None:
        self._axes, self._renderer = axes, renderer
        self._boxes = np.empty((0, 4))  # left, lower, right and upper ends of what lies there already

    def block(self, x: float, y: float, radius: float) -> None:
        """Keep labels off a marker at data point (x, y)."""
        px, py = self._axes.transData.transform((x, y))
        self._add([(px - radius, py - radius, px + radius, py + radius)])

    def block_line(self, xs: Sequence[float], ys: Sequence[float], half_width: float = 2.5) -> None:
        """Keep labels off a line given by points."""
        points = self._axes.transData.transform(list(zip(xs, ys, strict=True)))
        self._add(np.hstack([points - half_width, points + half_width]))

    def keep(self, text: Any) -> None:
        """Keep labels off a text that stands already."""
        self._add([text.get_window_extent(self._renderer).extents])

    def place(self, x: float, y: float, text: str, side: int, up: int = 0, **style: Any) -> Any:
        """Write beside (x, y): left when side is -1, right when +1; above when up is 1, below when -1; a line when far.

        up : when 0, upper left or lower right
        Returns the text.
        """
        return self.place_first([(x, y)], text, side, up, **style)

    def place_first(
        self, places: Sequence[tuple[float, float]], text: str, side: int, up: int = 0, **style: Any
    ) -> Any:
        """As ``place``, beside the first of some points that has room; beside the first of all when none has."""
        step, up = style.pop("step", 5.0) * self._axes.figure.dpi / 72, up or -side
        pixels = self._axes.transData.transform(list(places))
        for px, py in pixels:
            label = self._tried(float(px), float(py), text, (side, up), step, style)
            if label is not None:
                return label
        px, py = pixels[0]
        for toward in (
            (side, up),
            (side, -up),
            (-side, -up),
            (side, up),
        ):  # within the frame rather than on a title
            label = self._text((px + toward[0] * step, py + toward[1] * step), text, toward, style)
            if self._inside(label.get_window_extent(self._renderer).padded(1.0).extents):
                break
            label.remove()
        else:
            label = self._text((px + side * step, py + up * step), text, (side, up), style)
        self._add([label.get_window_extent(self._renderer).extents])
        return label

    def centre(self, x: float, y: float, text: str, **style: Any) -> bool:
        """Write upon (x, y) if nothing lies there yet; whether it was written."""
        label = self._axes.text(x, y, text, ha="center", va="center", zorder=5.5, **style)
        box = label.get_window_extent(self._renderer).padded(2.0).extents
        if not self._has_room(box):
            label.remove()
            return False
        self._add([box])
        return True

    def _tried(
        self, px: float, py: float, text: str, toward: tuple[int, int], step: float, style: dict[str, Any]
    ) -> Any:
        side, up = toward
        label = self._text((px, py), text, toward, style)
        for dx, dy in OFFSETS:
            qx, qy = px + side * dx * step, py + up * dy * step
            label.set_position(self._axes.transData.inverted().transform((qx, qy)))
            box = label.get_window_extent(self._renderer).padded(1.0).extents
            if self._has_room(box):
                self._add([box])
                if dx + dy > 3.0:
                    self._line(px, py, qx, qy)
                return label
        label.remove()
        return None

    def _text(
        self, pixel: tuple[float, float], text: str, toward: tuple[int, int], style: dict[str, Any]
    ) -> Any:
        x, y = self._axes.transData.inverted().transform(pixel)
        across = "right" if toward[0] < 0 else "left"
        upright = "bottom" if toward[1] > 0 else "top"
        return self._axes.text(x, y, text, ha=across, va=upright, zorder=6, **style)

    def _line(self, px: float, py: float, qx: float, qy: float) -> None:
        (x0, y0), (x1, y1) = self._axes.transData.inverted().transform([(px, py), (qx, qy)])
        self._axes.plot([x0, x1], [y0, y1], color="#6b6a66", linewidth=0.4, zorder=4)

    def _add(self, boxes: ArrayLike) -> None:
        self._boxes = np.vstack([self._boxes, boxes])

    def _has_room(self, box: Any) -> bool:
        """Whether a box is within the frame and meets no other."""
        x0, y0, x1, y1 = self._boxes.T
        meets = (box[0] < x1) & (x0 < box[2]) & (box[1] < y1) & (y0 < box[3])
        return not bool(meets.any()) and self._inside(box)

    def _inside(self, box: Any) -> bool:
        x0, y0, x1, y1 = self._axes.bbox.extents
        return bool(box[0] >= x0 and box[2] <= x1 and box[1] >= y0 and box[3] <= y1)
