"""The gallery: pictures of the demonstration, made when a page with them is opened or the site is written."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import cache
from importlib.util import find_spec
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING, Any

from burnerlab.appliance import Appliance, demonstration, demonstration_path, read_appliance_text
from burnerlab.handbook.contents import pages
from burnerlab.handbook.markdown_text import code
from burnerlab.quantity import System

if TYPE_CHECKING:
    from burnerlab.appliance.conversion.result import Conversion
    from burnerlab.burner.port_region import PortRegion
    from burnerlab.layout.comparison import LayoutComparison
    from burnerlab.layout.layout_study import LayoutStudy

ENDING = ".svg"
EXTRA = 'pip install "burnerlab[sheet]"'
GAS, PRESSURE = "propane", "11 in w.c."
MARKET = "A"  # of the demonstration: propane
TUBE = "griddle tube left"  # whose ports are varied
PLACE, MOVED = 'x = "260 mm", y = "0 mm"', 'x = "300 mm", y = "0 mm"'  # of the middle tube, and to the right
DEVIATIONS_percent = (
    0.4, -0.6, 0.1, 0.9, -0.3, 0.2, -0.8, 0.5, 0.0, -0.4, 0.7, -0.2, 0.3, 1.1, 1.4, 1.9, 2.1, 2.6, 2.4, 3.3,
)  # fmt: skip
"""Heat input of invented units off the rated one: sound at first, then it drifts."""
MODEL, GRIDDLE = "market cart range", "griddle"
BASELINE = 12  # units from which the limits of the chart are
BAND_percent = 5.0

_lock = Lock()  # settings of matplotlib are those of the process


@dataclass(frozen=True, slots=True, kw_only=True)
class GalleryPicture:
    """A picture: its name, what it shows, what is to be seen in it, the command that makes it, the page behind it."""

    name: str
    title: str
    caption: str
    description: str
    command: str
    explained: tuple[str, ...]  # topics of the handbook
    draw: Callable[[System], str]

    @property
    def file(self) -> str:
        """Its file in the site."""
        return f"{self.name}{ENDING}"


def picture_bytes(file: str, system: System = "metric") -> bytes | None:
    """A picture of the gallery as SVG in the reader's units, drawn once and remembered; None for an unknown name.

    Raises ImportError without matplotlib.

    >>> picture_bytes("portrait.svg") is None
    True
    """
    found = next((one for one in PICTURES if one.file == file), None)
    if found is None:
        return None
    with _lock:
        return _content(found, system)


@cache
def _content(picture: GalleryPicture, system: System) -> bytes:
    return picture.draw(system).encode("utf-8")


def picture_files() -> Iterator[str]:
    """Names of the pictures that can be drawn here: none without matplotlib."""
    if find_spec("matplotlib") is not None:
        yield from (one.file for one in PICTURES)


def gallery() -> str:
    """Every picture with what it shows, the command that makes it and where it is explained."""
    files = set(picture_files())
    parts = [
        "Pictures of the demonstration, an invented cooking cart, drawn by the program itself. Below each stand the "
        "commands that make it, for the shell of Linux and macOS. `range.toml` is the file of `burnerlab demo`:\n\n"
        "```sh\nburnerlab demo\ncp burnerlab-demo/market-cart-range.toml range.toml\n```"
    ]
    if not files:
        parts.append(
            f"The pictures are not drawn here: matplotlib is not installed. {code(EXTRA)} installs it."
        )
    for one in PICTURES:
        parts.append(f"## {one.title}\n\n{one.caption}")
        if one.file in files:
            parts.append(f"![{one.description}]({one.file})")
        parts.append(f"```sh\n{one.command}\n```")
        its = [page for page in pages() if page.topic in one.explained]
        parts.append("Explained in: " + ", ".join(f"[{page.title}]({page.topic}.md)" for page in its) + ".")
    return "\n\n".join(parts)


# What is drawn


def _svg(figure: Any, name: str, title: str, description: str) -> str:
    from burnerlab.report.figures.plan import styled
    from burnerlab.report.figures.style import svg_of

    with styled():
        return svg_of(figure, name, title, description)


def _of(name: str, figure: Any) -> str:
    one = next(each for each in PICTURES if each.name == name)
    return _svg(figure, name, one.title, one.description)


@cache
def _conversion() -> Conversion:
    from burnerlab.appliance import convert
    from burnerlab.appliance.conversion.evaluation import evaluate_conversion

    return evaluate_conversion(convert(demonstration(), GAS, PRESSURE))


@cache
def _study() -> LayoutStudy:
    return _map_study(demonstration())


def _map_study(appliance: Appliance) -> LayoutStudy:
    """A study of the first surface without its sheet of metal, whose temperatures are in no picture: they take long."""
    from burnerlab.layout.cooking_surface import grid_over
    from burnerlab.layout.heat_map import DEFAULT_GRID
    from burnerlab.layout.layout_study import layout_of, study_of

    layout = layout_of(appliance)
    plain = replace(layout, surface=replace(layout.surface, sheet=None))
    return study_of(plain, appliance.supply.gas, grid_over(plain.surface, *DEFAULT_GRID))


def moved_text() -> str:
    """The file of the demonstration with the middle tube of the griddle 40 mm to the right."""
    text = demonstration_path().read_text(encoding="utf-8")
    assert text.count(PLACE) == 1
    return text.replace(PLACE, MOVED)


def _drill_chart(system: System) -> str:
    from burnerlab.report.figures.notebook import drill_chart

    return _of("drill-chart", drill_chart(_conversion(), system))


def _stability_diagram(system: System) -> str:
    from burnerlab.report.figures.notebook import stability_chart

    return _of("stability-diagram", stability_chart(_conversion(), system))


def _heat_map(system: System) -> str:
    from burnerlab.report.figures.heat_map import heat_map_figure

    return _of("heat-map", heat_map_figure([_study()], system))


@cache
def _comparison() -> LayoutComparison:
    from burnerlab.layout.comparison import compare_layouts

    return compare_layouts(_study(), _map_study(read_appliance_text(moved_text(), name="moved.toml")))


def _two_layouts(system: System) -> str:
    from burnerlab.report.figures.heat_map import comparison_figure

    return _of("two-layouts", comparison_figure(_comparison(), system))


@cache
def _region() -> PortRegion:
    from burnerlab.appliance.conversion.markets import market_named
    from burnerlab.appliance.study.port_study import port_case
    from burnerlab.burner.port_region import port_region

    cart = demonstration()
    case = port_case(cart, TUBE, market_named(cart, MARKET, "market").targets)
    return port_region(case.template, case.gases, case.space)


def _region_of_ports(system: System) -> str:
    from burnerlab.report.figures.port_region import port_region_figure

    return _of("region-of-ports", port_region_figure(_region(), TUBE, system))


def _control_chart(system: System) -> str:
    from tempfile import TemporaryDirectory

    from burnerlab.bench.record import BenchTest, ChartQuery, Result, add_test, open_record, unit_chart
    from burnerlab.report.figures.control_chart import chart_svg

    band = BAND_percent / 100
    with TemporaryDirectory() as folder, open_record(Path(folder) / "invented.sqlite") as record:
        for number, percent in enumerate(DEVIATIONS_percent, start=1):
            off = Result(quantity="deviation", value=percent / 100, burner=GRIDDLE, low=-band, high=band)
            test = BenchTest(serial=f"invented {number}", model=MODEL, tester="invented", results=(off,))
            add_test(record, test)
        query = ChartQuery(model=MODEL, burner=GRIDDLE, baseline=BASELINE)
        return chart_svg(unit_chart(record, query), system)


PICTURES = (
    GalleryPicture(
        name="drill-chart",
        title="Drill chart",
        caption="Which drill gives each burner its rated heat input on the new gas, and which it has today.",
        description="Heat input against orifice diameter, both logarithmic: a dashed line for natural gas, a solid "
        "one for propane, a band for each rating, and a mark for the drill of each burner.",
        command='burnerlab convert range.toml --to propane --pressure "11 inH2O" --out sheet',
        explained=("convert-a-burner", "orifice"),
        draw=_drill_chart,
    ),
    GalleryPicture(
        name="stability-diagram",
        title="Stability diagram",
        caption="Where the flame of each burner with ports stands among lift, light-back and yellow tips, on "
        "both gases.",
        description="One panel for each burner: port loading against primary air, with the limits of lift, "
        "light-back and yellow tips as lines and the full and low rate on each gas as marks.",
        command='burnerlab convert range.toml --to propane --pressure "11 inH2O" --out sheet',
        explained=("burner",),
        draw=_stability_diagram,
    ),
    GalleryPicture(
        name="heat-map",
        title="Heat map",
        caption="Where the heat of three tubes lands on the griddle.",
        description="The griddle from above, the darker the more heat flux in kilowatts per square metre, with the "
        "burners as dashed outlines and a scale at the side.",
        command="burnerlab layout range.toml --out study",
        explained=("study-a-layout", "layout"),
        draw=_heat_map,
    ),
    GalleryPicture(
        name="two-layouts",
        title="Two layouts and their difference",
        caption="What moves on the griddle when its middle tube is put 40 mm to the right.",
        description="Two heat maps side by side on one scale, as it is and with the middle tube moved; below them "
        "what the second has more or less, on a scale of its own.",
        command=f"""sed 's/{PLACE}/{MOVED}/' \\
    range.toml > moved.toml
burnerlab layout range.toml --compare-with moved.toml --out study""",
        explained=("study-a-layout",),
        draw=_two_layouts,
    ),
    GalleryPicture(
        name="region-of-ports",
        title="Region of ports",
        caption="With which ports, throat and open air inlet one tube stays inside every limit on two gases.",
        description="Two panels: number of ports against port diameter, and open air inlet against throat diameter. "
        "Shaded cells hold at all corners of the tolerance, grey ones as drawn only.",
        command='burnerlab ports range.toml --burner "griddle tube left" --market A --out study',
        explained=("design-a-burner",),
        draw=_region_of_ports,
    ),
    GalleryPicture(
        name="control-chart",
        title="Control chart",
        caption="How the heat input of twenty invented units drifts out of the limits of the first twelve.",
        description="Deviation of the heat input of each unit from the rated one, oldest left, with centre, limits "
        "and the band of the test; the last units are marked with letters of the rules of drift they meet.",
        command=f"""n=0
for off in {" ".join(map(str, DEVIATIONS_percent[:BASELINE]))} \\
    {" ".join(map(str, DEVIATIONS_percent[BASELINE:]))}; do
  n=$((n + 1))
  burnerlab record add --file invented.sqlite --tester invented \\
    --serial "invented $n" --model "{MODEL}" \\
    --result "{GRIDDLE}: deviation = $off % in -{BAND_percent:.0f} %..{BAND_percent:.0f} %"
done
burnerlab record chart --file invented.sqlite \\
    --model "{MODEL}" --burner {GRIDDLE} \\
    --baseline {BASELINE} --svg griddle.svg""",
        explained=("bench-test",),
        draw=_control_chart,
    ),
)
