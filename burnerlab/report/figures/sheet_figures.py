"""The figures of the sheet: the drill chart, heat input before and after, the stability diagram."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from burnerlab import tables
from burnerlab.appliance.conversion.refusal import not_to_fit
from burnerlab.appliance.conversion.result import BurnerConversion, Conversion
from burnerlab.orifice.drill import NONE_FITS
from burnerlab.quantity import Kind, System, from_unit
from burnerlab.report.figures.stability_diagram import stability_chart
from burnerlab.report.figures.style import (
    FAINT,
    GREY,
    INK,
    NEW,
    PALE,
    PRESENT,
    RC,
    Placer,
    fit,
    meetings,
    new_figure,
    spread,
    svg_of,
)  # fmt: skip
from burnerlab.report.sheet import layout
from burnerlab.report.sheet.blocks import POWER, Picture, basis_of, digits, percent, times
from burnerlab.report.sheet.terms import EnglishText
from burnerlab.report.sheet.wording import clean, name

# What the figures draw, from the conversion alone.

Bands = tuple[tuple[tuple[str, ...], float], ...]
LONGEST_LINE = 60  # characters, of a text that was broken into lines
SAME = 0.005  # curves closer than this are one curve


@dataclass(frozen=True, slots=True, kw_only=True)
class DrillCurve:
    """Heat input on the basis of the rating over diameter squared, W/m2: at one pressure the flow follows the area."""

    gas: str
    new: bool
    per_area: float
    burners: tuple[str, ...]

    def heat_input_W(self, diameter_m: float) -> float:
        return self.per_area * diameter_m**2

    def diameter_m(self, heat_input_W: float) -> float:
        return float((heat_input_W / self.per_area) ** 0.5)


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """An orifice on a curve, and the burners that have it."""

    diameter_m: float
    heat_input_W: float
    drill: str
    burners: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """A drill that exists."""

    drill: str
    diameter_m: float
    new: bool


def _present_per_area(b: BurnerConversion) -> float | None:
    if b.from_predicted_gross_W is None or b.from_orifice_m is None:
        return None
    return b.from_predicted_gross_W / b.from_orifice_m**2


def _curves(
    c: Conversion, gas: str, new: bool, of: Callable[[BurnerConversion], float | None]
) -> list[DrillCurve]:
    rated = basis_of(c).new if new else basis_of(c).present
    found: list[tuple[float, list[str]]] = []
    for b in c.burners:
        value = of(b)
        if value is None:
            continue
        for known, names in found:
            if abs(value / known - 1) < SAME:
                names.append(name(b.name))
                break
        else:
            found.append((value, [name(b.name)]))
    return [
        DrillCurve(gas=gas, new=new, per_area=value * rated, burners=tuple(names)) for value, names in found
    ]


def curves(c: Conversion) -> tuple[DrillCurve, ...]:
    """One curve per gas, on the basis of the ratings; more when burners differ in coefficient or orifices."""
    now = _curves(c, name(c.from_gas.title), False, _present_per_area)
    new = _curves(
        c, name(c.to_gas.title), True, lambda b: b.choice.heat_input_gross_W / b.choice.diameter_m**2
    )
    return (*now, *new)


def _spots(each: Sequence[tuple[float, float, str, str]]) -> tuple[Spot, ...]:
    merged: dict[tuple[float, float, str], list[str]] = {}
    for diameter_m, heat_input_W, drill, who in each:
        merged.setdefault((round(diameter_m, 9), round(heat_input_W, 3), drill), []).append(who)
    return tuple(
        Spot(diameter_m=d, heat_input_W=q, drill=drill, burners=tuple(who))
        for (d, q, drill), who in merged.items()
    )


def present_spots(c: Conversion) -> tuple[Spot, ...]:
    return _spots(
        [
            (
                b.from_orifice_m,
                b.from_predicted_gross_W * basis_of(c).present,
                clean(b.from_drill, 12) or f"{b.from_orifice_m * 1e3:.3f} mm",
                b.name,
            )
            for b in c.burners
            if b.from_orifice_m is not None and b.from_predicted_gross_W is not None
        ]
    )


def new_spots(c: Conversion) -> tuple[Spot, ...]:
    refused = not_to_fit(c)
    return _spots(
        [
            (
                b.choice.diameter_m,
                b.predicted_gross_W * basis_of(c).new,
                NONE_FITS if b.name in refused else clean(b.choice.drill, 12),
                b.name,
            )
            for b in c.burners
        ]
    )


def bands(c: Conversion) -> Bands:
    """Each rating the orifices are sized for, and who has it: burners of one rating share a band."""
    merged: dict[float, list[str]] = {}
    for b in c.burners:
        merged.setdefault(_aim_W(c, b), []).append(name(b.name))
    return tuple((tuple(names), aim) for aim, names in sorted(merged.items()))


def _aim_W(c: Conversion, b: BurnerConversion) -> float:
    """What an orifice is sized for, on the basis of the rating: the same on either gas."""
    return round(b.aim_gross_W * basis_of(c).new, 3)


def drill_marks(c: Conversion, low_m: float, high_m: float) -> tuple[Mark, ...]:
    """The drills between two diameters: the lists this conversion names, else those it weighed."""
    refused = not_to_fit(c)
    new = {b.choice.drill for b in c.burners if b.name not in refused}
    weighed = {d.drill: d.diameter_m for b in c.burners for d in b.choices}
    if "drills" in tables.names():
        for row in tables.rows("drills"):
            if row["kind"] in c.drill_list:
                weighed.setdefault(row["size"], float(row["diameter_mm"]) / 1e3)
    inside = {drill: d for drill, d in weighed.items() if low_m <= d <= high_m}
    return tuple(
        Mark(drill=k, diameter_m=d, new=k in new) for k, d in sorted(inside.items(), key=lambda i: i[1])
    )


# The figures of the sheet: the drill chart, heat input before and after, and the stability diagram.

INCH_mm = 25.4  # definition of the international inch
MOST_TICKS = 9
Span = tuple[float, float]


def draw(
    c: Conversion,
    pictures: tuple[Picture, ...],
    system: System = "metric",
    words: Callable[[str], str] | None = None,
) -> dict[str, str]:
    """Each picture of a sheet as SVG text, by key. Raises ImportError without matplotlib.

    words : of a reader in another language, for every text in a picture
    """
    import matplotlib as mpl
    from matplotlib.text import Text

    charts: dict[str, Callable[[Conversion, System], Any]] = {
        "drill_chart": drill_chart,
        "inputs": inputs_chart,
        "stability": stability_chart,
        layout.MAP_KEY: layout.figure,
    }
    made = {}
    with mpl.rc_context():
        mpl.rcdefaults()
        mpl.rcParams.update(RC)  # type: ignore[arg-type]
        for picture in pictures:
            figure = charts[picture.key](c, system)
            if words is not None:
                texts = figure.findobj(Text)
                if any(lines_in(words, text.get_text()) != text.get_text() for text in texts):
                    before = meetings(figure, texts)
                    for text in texts:
                        text.set_text(lines_in(words, text.get_text()))
                    fit(figure, texts, before)
            made[picture.key] = svg_of(figure, picture.key, picture.title, picture.description)
    return made


def lines_in(words: Callable[[str], str], text: str) -> str:
    """The lines of a text in the words of a reader; one that was broken to fit its place is a sentence again.

    >>> lines_in({"heat input, %": "aporte, %"}.get, "heat input, %")
    'aporte, %'
    """
    if not text:
        return ""
    lines = text.split("\n")
    whole = words(" ".join(lines))
    if len(lines) > 1 and whole != " ".join(lines):
        return textwrap.fill(whole, LONGEST_LINE)
    if whole == " ".join(lines) and not isinstance(whole, EnglishText):
        return text  # a name may go on in the next line
    return "\n".join(map(words, lines))


def _ticks(low: float, high: float) -> list[float]:
    """Round values of a logarithmic axis, coarser when there would be too many."""
    for steps in (
        (1, 1.2, 1.5, 2, 2.5, 3, 4, 5, 6, 7, 8),
        (1, 1.5, 2, 3, 4, 5, 7),
        (1, 2, 3, 5),
        (1, 2, 5),
        (1,),
    ):
        found = [round(s * 10.0**e, 12) for e in range(-4, 7) for s in steps if low <= s * 10.0**e <= high]
        if len(found) <= MOST_TICKS:
            return found
    return found


def _spans(c: Conversion) -> tuple[Span, Span]:
    """Diameter in mm and heat input in kW that hold every orifice and band."""
    bores = (x for b in c.burners for x in (b.from_orifice_m, b.choice.diameter_m, b.to_orifice_m))
    d = [x * 1e3 for x in bores if x is not None]
    q = [spot.heat_input_W / 1e3 for spot in (*present_spots(c), *new_spots(c))]
    q += [_aim_W(c, b) * (1 + end) / 1e3 for b in c.burners for end in (c.tolerance_low, c.tolerance)]
    return (min(d) * 0.72, max(d) * 1.14), (min(q) * 0.47, max(q) * 1.30)


def drill_chart(c: Conversion, system: System) -> Any:
    """Heat input against diameter: both gases, the drills there are, the band of each rating."""
    (x0, x1), (y0, y1) = _spans(c)
    rated = bands(c)
    figure = new_figure(max(4.5, 1.1 + 0.15 * sum(1 + len(_band_words(who)) for who, _ in rated)))
    axes = figure.add_axes((0.085, 0.115, 0.655, 0.775))
    axes.set(xscale="log", yscale="log", xlim=(x0, x1), ylim=(y0, y1))
    _scales(axes, (x0, x1), (y0, y1), system)
    _name_heat_input(axes, basis_of(c).word, system)
    for _, aim in rated:
        left = min(b.choice.diameter_m for b in c.burners if _aim_W(c, b) == aim) * 1e3 * 0.955
        axes.fill_between(
            [left, x1],
            *(aim / 1e3 * (1 + end) for end in (c.tolerance_low, c.tolerance)),
            color=PALE,
            lw=0,
            zorder=1,
        )
        axes.plot([left, x1], [aim / 1e3] * 2, color=FAINT, linewidth=0.6, zorder=1.5)
    placer = Placer(axes, figure.canvas.get_renderer())
    _draw_curves(c, axes, placer, (x0, x1), (y0, y1))
    _draw_spots(c, axes, placer)
    _draw_rug(c, axes, (x0, x1))
    _name_bands(c, axes, rated, (y0, y1), system)
    return figure


def _name_heat_input(axes: Any, basis: str, system: System) -> None:
    unit = "kW" if system == "metric" else "kBtu/h"
    words = f"heat input of one burner, {basis}, {unit}"
    axes.text(-0.105, 1.085, words, transform=axes.transAxes, va="bottom")


def _scales(axes: Any, x: Span, y: Span, system: System) -> None:
    """Diameter below, heat input at the left, in the units of the reader."""
    from matplotlib.ticker import FixedLocator, NullFormatter, NullLocator

    size = 1.0 if system == "metric" else from_unit(1.0, Kind.POWER, "kBtu/h") / 1e3
    length, across = ("mm", 1.0) if system == "metric" else ("in", INCH_mm)
    axes.xaxis.set_major_locator(FixedLocator([t * across for t in _ticks(x[0] / across, x[1] / across)]))
    axes.yaxis.set_major_locator(FixedLocator([t * size for t in _ticks(y[0] / size, y[1] / size)]))
    axes.xaxis.set_major_formatter(lambda v, _: f"{v / across:.4g}")
    axes.yaxis.set_major_formatter(lambda v, _: f"{v / size:.4g}")
    for axis in (axes.xaxis, axes.yaxis):
        axis.set_minor_locator(NullLocator())
        axis.set_minor_formatter(NullFormatter())
    axes.set_xlabel(f"orifice diameter, {length}")


def _draw_curves(c: Conversion, axes: Any, placer: Placer, x: Span, y: Span) -> None:

    found = curves(c)
    for curve in found:
        low = max(x[0], curve.diameter_m(y[0] * 1e3) * 1e3)
        high = min(x[1], curve.diameter_m(y[1] * 1e3) * 1e3)
        d = np.geomspace(low, high, 160)
        q = curve.per_area * (d / 1e3) ** 2 / 1e3
        style = (
            {"color": NEW, "linewidth": 1.3}
            if curve.new
            else {"color": PRESENT, "linewidth": 1.1, "dashes": (5, 2.5)}
        )
        axes.plot(d, q, zorder=3, **style)
        placer.block_line(d.tolist(), q.tolist())
        more = sum(other.new == curve.new for other in found) > 1
        _name_curve(axes, curve, low, more)


def _name_curve(axes: Any, curve: DrillCurve, low_mm: float, more: bool) -> None:
    """The gas, along the lower end of its own line: above the new one, below the present one."""
    start, end = ((d, curve.heat_input_W(d / 1e3) / 1e3) for d in (low_mm, low_mm * 1.2))
    (ax, ay), (bx, by) = axes.transData.transform([start, end])
    angle = math.atan2(by - ay, bx - ax)
    along, aside = (10, 2) if curve.new else (36, -3)
    axes.annotate(
        "\n".join(_in_lines(curve.gas + (f" ({', '.join(curve.burners)})" if more else ""), 20, 2)),
        start,
        xytext=(
            along * math.cos(angle) - aside * math.sin(angle),
            along * math.sin(angle) + aside * math.cos(angle),
        ),
        textcoords="offset points",
        rotation=math.degrees(angle),
        rotation_mode="anchor",
        ha="left",
        va="bottom" if curve.new else "top",
        color=NEW if curve.new else PRESENT,
        zorder=6,
    )


def _draw_spots(c: Conversion, axes: Any, placer: Placer) -> None:
    for b in c.burners:
        if b.from_orifice_m is None or b.from_predicted_gross_W is None:
            continue
        start = (b.from_orifice_m * 1e3, b.from_predicted_gross_W * basis_of(c).present / 1e3)
        end = (b.choice.diameter_m * 1e3, b.predicted_gross_W * basis_of(c).new / 1e3)
        arrow = {
            "arrowstyle": "-|>,head_length=0.35,head_width=0.16",
            "color": GREY,
            "lw": 0.6,
            "shrinkA": 4,
            "shrinkB": 4,
        }
        axes.annotate("", end, start, arrowprops=arrow, zorder=3.5)
        steps = [i / 40 for i in range(2, 39)]
        xs, ys = ([a * (b / a) ** s for s in steps] for a, b in zip(start, end, strict=True))
        placer.block_line(xs, ys, half_width=1.5)
    now, new = present_spots(c), new_spots(c)
    for spots, face, edge in ((now, "white", PRESENT), (new, NEW, NEW)):
        xs = [s.diameter_m * 1e3 for s in spots]
        ys = [s.heat_input_W / 1e3 for s in spots]
        axes.scatter(xs, ys, s=22, facecolors=face, edgecolors=edge, linewidths=1.1, zorder=5)
        for xx, yy in zip(xs, ys, strict=True):
            placer.block(xx, yy, 7)
    for spot in new:
        placer.place(spot.diameter_m * 1e3, spot.heat_input_W / 1e3, spot.drill, -1, fontsize=7.5, color=NEW)
    for spot in now:
        placer.place(
            spot.diameter_m * 1e3, spot.heat_input_W / 1e3, spot.drill, 1, fontsize=7.5, color=PRESENT
        )


def _draw_rug(c: Conversion, axes: Any, x: Span) -> None:
    """A stroke per drill at the foot, longer for the new ones."""
    across = axes.get_xaxis_transform()
    for mark in drill_marks(c, x[0] / 1e3, x[1] / 1e3):
        d = mark.diameter_m * 1e3
        style = {"color": NEW, "linewidth": 1.2} if mark.new else {"color": GREY, "linewidth": 0.5}
        axes.plot([d, d], [0, 0.045 if mark.new else 0.025], transform=across, zorder=2, **style)


def _name_bands(c: Conversion, axes: Any, rated: Bands, y: Span, system: System) -> None:
    """Burner and rating at the right, led to its band."""
    span = math.log(y[1] / y[0])
    heights = [math.log(aim / 1e3 / y[0]) / span for _, aim in rated]
    height_pt = axes.get_position().height * axes.figure.get_figheight() * 72
    lines = [_band_words(who) for who, _ in rated]
    gap = (9.5 * max(len(each) for each in lines) + 12) / height_pt
    places = spread(heights, gap, gap / 2, 1 - gap / 2)
    for each, (_, aim), at, put in zip(lines, rated, heights, places, strict=True):
        axes.plot([1.0, 1.03], [at, put], transform=axes.transAxes, color=GREY, linewidth=0.5, clip_on=False)
        shown = POWER.show(aim, system)
        style = {"transform": axes.transAxes, "ha": "left"}
        axes.text(1.04, put, "\n".join(each), va="bottom", fontsize=7.5, linespacing=1.1, **style)
        axes.text(1.04, put, shown.text, va="top", fontsize=7, color=GREY, **style)


def _band_words(burners: tuple[str, ...]) -> list[str]:
    """The burners of one rating, a line each."""
    shown = [clean(one, 26) for one in burners[:3]]
    return [*shown[:2], f"and {len(burners) - 2} more"] if len(burners) > 3 else shown


def _in_lines(text: str, width: int, most: int) -> list[str]:
    """A text in lines that break between words; what does not fit is cut."""

    return textwrap.wrap(clean(text), width, max_lines=most, placeholder="…")


def inputs_chart(c: Conversion, system: System) -> Any:
    """Heat input before and after as a fraction of the rating, with the band and the pressure range."""
    count = len(c.burners)
    height = 1.25 + 0.36 * count
    figure = new_figure(height)
    axes = figure.add_axes((0.235, 0.50 / height, 0.50, (height - 1.05) / height))
    values = [100.0 * share for b in c.burners for share in input_shares(c, b) if share is not None]
    values += [100 * (1 + c.tolerance_low), 100 * (1 + c.tolerance)]
    band = 100 * max(c.tolerance, -c.tolerance_low)
    reach = max(1.12 * max(max(values) - 100, 100 - min(values)), 2.2 * band)
    axes.set(xlim=(100 - reach, 100 + reach), ylim=(count - 0.4, -0.6))
    axes.axvspan(100 * (1 + c.tolerance_low), 100 * (1 + c.tolerance), color=PALE, lw=0, zorder=0)
    axes.axvline(100, color=GREY, linewidth=0.6, zorder=1)
    for side in ("left", "bottom"):
        axes.spines[side].set_visible(False)
    axes.tick_params(length=0)
    axes.set_yticks(range(count), [clean(b.name, 24) for b in c.burners])
    against = "rating" if c.aim_factor == 1.0 else "aim"
    axes.set_xlabel(f"heat input, {basis_of(c).word}, % of the {against}")
    for row, b in enumerate(c.burners):
        _input_row(axes, row, input_shares(c, b))
    _columns(axes, c, system)
    return figure


def input_shares(
    c: Conversion, b: BurnerConversion
) -> tuple[float | None, float, float | None, float | None]:
    """Heat input over what it is held against [-]: present, new, and new at the ends of the supply pressure.

    Each over the rating on its own gas, after the altitude policy of its own site: net over net for a net rating.
    """
    before = 1.0 if c.job is None else c.job.old_policy.factor
    now, low, high = b.from_predicted_gross_W, b.predicted_low_gross_W, b.predicted_high_gross_W
    return (
        None if now is None else now / (b.from_rate_gross_W * before),
        b.headline.heat_input_gross_W / b.aim_gross_W,
        None if low is None else low / b.aim_gross_W,
        None if high is None else high / b.aim_gross_W,
    )


def _input_row(axes: Any, row: int, shares: tuple[float | None, float, float | None, float | None]) -> None:
    now, new, low, high = shares
    axes.axhline(row + 0.5, color=PALE, linewidth=0.5, zorder=0.5)
    if low is not None and high is not None:
        ends = [100 * low, 100 * high]
        axes.plot(ends, [row + 0.12] * 2, color=NEW, linewidth=1.0, zorder=2, solid_capstyle="butt")
        for end in ends:
            axes.plot([end] * 2, [row + 0.03, row + 0.21], color=NEW, linewidth=1.0, zorder=2)
    if now is not None:
        axes.scatter(
            [100 * now], [row - 0.16], s=24, facecolors="white", edgecolors=PRESENT, linewidths=1.1, zorder=3
        )
    axes.scatter([100 * new], [row + 0.12], s=24, facecolors=NEW, edgecolors=NEW, linewidths=1.1, zorder=3)


def _or_dash(value: float | None, scale: Any) -> str:
    return "-" if value is None else digits(scale.of(value), 3)


def _columns(axes: Any, c: Conversion, system: System) -> None:
    """The values themselves beside the rows."""
    scale, aimed = POWER.scale(system), c.aim_factor != 1.0
    basis = basis_of(c)
    places = axes.get_yaxis_transform()
    for x, head, dot, color, face in (
        (
            1.14,
            "present",
            1.158,
            PRESENT,
            "white",
        ),  # the dot behind its word, which may be long in a language
        (1.31, "new", 1.328, NEW, NEW),
    ):
        axes.text(x, -0.95, head, transform=places, ha="right", va="bottom", fontsize=7.5, color=color)
        axes.text(x, -0.62, scale.unit, transform=places, ha="right", va="bottom", fontsize=7, color=GREY)
        style = {"facecolors": face, "edgecolors": color, "linewidths": 1.1, "clip_on": False}
        axes.scatter([dot], [-1.06], transform=places, s=20, **style)
    axes.text(1.48, -0.95, "new", transform=places, ha="right", va="bottom", fontsize=7.5)
    against = "on aim" if aimed else "on rating"
    axes.text(1.48, -0.62, against, transform=places, ha="right", va="bottom", fontsize=7, color=GREY)
    for row, b in enumerate(c.burners):
        cells = (
            (1.14, _or_dash(times(b.from_predicted_gross_W, basis.present), scale), PRESENT),
            (1.31, digits(scale.of(b.headline.heat_input_gross_W * basis.new), 3), NEW),
            (1.48, percent(b.deviation).replace("-", "\u2212"), INK),
        )
        for x, text, color in cells:
            axes.text(x, row, text, transform=places, ha="right", va="center", fontsize=7.5, color=color)
