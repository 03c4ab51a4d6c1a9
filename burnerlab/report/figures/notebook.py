"""Figures for a notebook: those of the sheet as figures of matplotlib, and the style they have for your own."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from importlib import import_module
from typing import TYPE_CHECKING, Any

from burnerlab.quantity import Problem, System, UserError
from burnerlab.report.figures.style import GREY, INK, NEW, PRESENT, RC

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from burnerlab.appliance.conversion.result import Conversion
    from burnerlab.layout.cooking_surface import Layout
    from burnerlab.layout.layout_study import LayoutStudy

SIZE_in, DPI = (7.2, 3.6), 144


def figure_style() -> dict[str, Any]:
    """Settings of matplotlib that give a figure the look of the sheet, lines distinguishable without colour.

    Use as ``plt.rcParams.update(bl.figure_style())``: lines differ in dash as well as in colour.

    >>> figure_style()["figure.dpi"]
    144
    """
    from cycler import cycler

    strokes = cycler(color=[INK, NEW, PRESENT, GREY], linestyle=["-", "--", "-.", ":"])
    extra = {
        "axes.prop_cycle": strokes,
        "axes.titlesize": 8.5,
        "axes.titlelocation": "left",
        "figure.dpi": DPI,
        "figure.figsize": SIZE_in,
        "figure.constrained_layout.use": True,
        "legend.frameon": False,
        "lines.linewidth": 1.3,
    }
    return {**RC, **extra}


def drill_chart(conversion: Conversion, system: System = "metric") -> Figure:
    """Heat input against orifice diameter: both gases, the drills there are, the band of each rating.

    >>> from burnerlab.appliance import convert, demonstration
    >>> job = convert(demonstration(), "propane", "11 in w.c.")
    >>> drill_chart(job).axes[0].get_xscale()
    'log'
    """
    from burnerlab.report.figures import sheet_figures

    with _sheet():
        figure: Figure = sheet_figures.drill_chart(conversion, system)
        return figure


def inputs_chart(conversion: Conversion, system: System = "metric") -> Figure:
    """Heat input before and after as a fraction of the rating, with the band and the pressure range.

    >>> from burnerlab.appliance import convert, demonstration
    >>> job = convert(demonstration(), "propane", "11 in w.c.")
    >>> len(inputs_chart(job).axes)
    1
    """
    from burnerlab.report.figures import sheet_figures

    with _sheet():
        figure: Figure = sheet_figures.inputs_chart(conversion, system)
        return figure


def stability_chart(conversion: Conversion, system: System = "metric") -> Figure:
    """Port loading against primary air of every burner, both gases, with lift, light-back and yellow tips.

    conversion : from ``evaluate_conversion``. Raises UserError where it was not evaluated or no burner has a diagram.

    >>> from burnerlab.appliance import convert, demonstration
    >>> from burnerlab.appliance.conversion.evaluation import evaluate_conversion
    >>> len(stability_chart(evaluate_conversion(convert(demonstration(), "propane", "11 in w.c."))).axes) > 1
    True
    """
    from burnerlab.report.figures import stability_diagram

    if not stability_diagram.panels(conversion):
        fix = "evaluate the conversion first, and give ports and throat of the burners in the file"
        raise UserError(Problem("has no stability diagram", value=conversion.appliance, fix=fix))
    with _sheet():
        figure: Figure = stability_diagram.stability_chart(conversion, system)
    return figure


def heat_map_chart(studies: LayoutStudy | Sequence[LayoutStudy]) -> Figure:
    """The map of one study, or of two side by side on one scale.

    >>> from burnerlab.appliance import demonstration
    >>> from burnerlab.layout.layout_study import study_layout
    >>> len(heat_map_chart(study_layout(demonstration(), "griddle", grid=(6, 4))).axes)  # the map and its scale
    2
    """
    from burnerlab.report.figures.heat_map import heat_map_figure

    with _sheet():
        figure: Figure = heat_map_figure(list(studies) if isinstance(studies, Sequence) else [studies])
    return figure


def plan_chart(layout: Layout) -> Figure:
    """Plan and section of a layout, to scale.

    >>> from burnerlab.appliance import demonstration
    >>> from burnerlab.layout.layout_study import layout_of
    >>> len(plan_chart(layout_of(demonstration(), "griddle")).axes)
    2
    """
    from burnerlab.report.figures.plan import plan_figure

    with _sheet():
        figure: Figure = plan_figure(layout)
    return figure


@contextmanager
def _sheet() -> Iterator[None]:
    """The sheet's own settings, whatever the notebook's are."""
    import matplotlib as mpl

    _ready()
    with mpl.rc_context():
        mpl.rcdefaults()
        mpl.rcParams.update(RC)  # type: ignore[arg-type]
        yield


def _ready() -> None:
    """Have IPython show figures that pyplot has not made, also before the first one it makes."""
    if "IPython" in sys.modules:
        with suppress(ImportError):
            import_module("matplotlib_inline.backend_inline")
