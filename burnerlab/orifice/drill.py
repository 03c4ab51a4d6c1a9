"""Drills: which sizes exist, which lie on both sides of a diameter, how far one may be from its name."""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from math import inf
from pathlib import Path

from burnerlab import tables
from burnerlab.quantity import Kind, System, read_bore
from burnerlab.quantity.grammar import COMMA
from burnerlab.quantity.outputs import output
from burnerlab.quantity.show import BORE_PLACES
from burnerlab.tables.csv_file import is_remark
from burnerlab.tables.phrase import Phrase
from burnerlab.tables.problem import Problem, UserError

KINDS = ("number", "letter", "fraction", "metric")  # the four that are offered where none is named
METRIC = "metric"
HUNDREDTH = (
    "hundredth"  # every 1/100 mm from 0.30 to 3.00 mm, the metric sizes among them: injectors of Europe
)
WIRE = "wire"  # the sizes finer than #80, offered only when asked for by name
OWN = "own"
SERIES = (*KINDS, HUNDREDTH)  # that a file or a command names
ORDER = (*SERIES, WIRE, OWN)  # among drills of one diameter
MILLIMETRE = 1e-3


@dataclass(frozen=True, slots=True, kw_only=True)
class ToleranceBand:
    """The diameters a hole of this drill may have."""

    low_m: float
    high_m: float
    source: str
    provenance: str

    def area_change_low(self, diameter_m: float) -> float:
        """Relative change of area at the small end [-], negative."""
        return (self.low_m / diameter_m) ** 2 - 1.0

    def area_change_high(self, diameter_m: float) -> float:
        """Relative change of area at the large end [-]."""
        return (self.high_m / diameter_m) ** 2 - 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Drill:
    """A drill size that can be bought, or an orifice of the user's own stock."""

    name: str = field(metadata=output("drill"))  # as printed: #54, 1/16 in, F, 1.40 mm
    kind: str = field(metadata=output("list"))  # number, letter, fraction, metric, hundredth, own
    diameter_m: float = field(metadata=output("diameter", Kind.DIAMETER))
    source: str = field(default="", metadata=output("source"))
    part: str = field(default="", metadata=output("part number"))  # of a stock; "" of a drill list
    thread: str = ""  # of a stock; "" is drilled into any blank
    price: float | None = None  # of one piece, in the money of the stock
    mass_kg: float | None = None  # of one piece
    mass_scatter_kg: float | None = None  # standard deviation from piece to piece
    band: ToleranceBand | None = None  # its own tolerance; None is that of the table

    def fits(self, threads: tuple[str, ...]) -> bool:
        """Whether it has one of these threads, or none and is drilled into any blank; no threads named take any."""
        return not threads or not self.thread or self.thread in threads

    @property
    def mark(self) -> str:
        """Its name and, of an orifice from a stock, its part number."""
        return f"{self.name} ({self.part})" if self.part else self.name

    @property
    def area_m2(self) -> float:
        return 0.25 * 3.141592653589793 * self.diameter_m**2


EUROPE = "eu"
MARK_m = 1e-5  # in Europe injectors are stamped in hundredths of a millimetre: common practice, no source


def hundredths(diameter_m: float) -> int:
    """A bore in hundredths of a millimetre, as injectors are stamped in Europe.

    >>> hundredths(0.0013), hundredths(0.001397)
    (130, 140)
    """
    return round(diameter_m / MARK_m)


NONE_FITS = Phrase("none fits")  # in the place of the orifice, where the nearest is named elsewhere


def none_fits_words(nearest: str) -> str:
    """What a paper has in place of the orifice where none fits; nearest : the one that is not to be fitted.

    >>> none_fits_words("0.90 mm")
    'none fits; nearest: 0.90 mm, do not fit'
    """
    return Phrase("none fits; nearest: {orifice}, do not fit", orifice=nearest)


def hole_name(drill: str, diameter_m: float) -> str:
    """What a hole is called for every reader: its drill or the size of the maker's stock, else its bore.

    >>> hole_name("0.92 mm", 0.00092), hole_name("", 0.001305)
    ('0.92 mm', '1.305 mm')
    """
    return drill or f"{diameter_m / MILLIMETRE:.{BORE_PLACES['mm']}f} mm"


def bore_system(name: str, system: System) -> System:
    """The units of a bore that stands on one line with the name of its hole: those of that name, else the reader's.

    >>> bore_system("0.92 mm", "US"), bore_system("0.0382 in", "metric"), bore_system("#54", "US")
    ('metric', 'US', 'US')
    """
    if name.endswith(" mm"):
        return "metric"
    return "US" if name.endswith(" in") and "/" not in name else system


def orifice_words(drill: str, diameter_m: float, region: str = "") -> str:
    """What is fitted and how it is stamped, in hundredths of a millimetre (``is_stamped``) or as its drill.

    drill : its name, with the part number where it has one; diameter_m : of that drill [m]

    >>> orifice_words("1.30 mm", 0.0013, "eu"), orifice_words("#54", 0.001397, "us")
    ('1.30 mm, mark 130', '#54')
    >>> orifice_words("1.30 mm (K-130)", 0.0013, "us")
    '1.30 mm (K-130), mark 130'
    """
    if not is_stamped(drill, region):
        return drill
    return Phrase("{drill}, mark {mark}", drill=drill, mark=hundredths(diameter_m))


def is_stamped(mark: str, region: str) -> bool:
    """Whether an orifice has a mark in hundredths of a millimetre: every one in Europe, and a metric one of a stock.

    mark : its name, with the part number where it has one
    """
    return region == EUROPE or _METRIC_PART.match(mark) is not None


_METRIC_PART = re.compile(r"[\d.]+ mm \(")


@dataclass(frozen=True, slots=True, kw_only=True)
class Neighbours:
    """The drills on both sides of a diameter; None where the list ends."""

    below: Drill | None
    above: Drill | None

    @property
    def area_step(self) -> float | None:
        """Area of the larger over the smaller, less 1 [-]; None where the list ends or a drill fits."""
        if self.below is None or self.above is None or self.below is self.above:
            return None
        return self.above.area_m2 / self.below.area_m2 - 1.0


def printed_name(size: str, kind: str) -> str:
    """A size as it is printed: fractions and metric sizes carry their unit.

    >>> printed_name("1/16", "fraction"), printed_name("#54", "number"), printed_name("1.40 mm", "metric")
    ('1/16 in', '#54', '1.40 mm')
    """
    unit = {"fraction": " in", "metric": " mm"}.get(kind, "")
    return size if not unit or size.endswith(unit) else size + unit


@cache
def _shipped() -> tuple[Drill, ...]:
    found = (
        Drill(
            name=printed_name(row["size"], row["kind"]),
            kind=row["kind"],
            diameter_m=float(row["diameter_mm"]) * MILLIMETRE,
            source=row["source"],
        )
        for row in tables.rows("drills")
    )
    return tuple(sorted(found, key=lambda drill: (drill.diameter_m, ORDER.index(drill.kind))))


def drill_list(*kinds: str, own: Path | Iterable[str] | None = None) -> tuple[Drill, ...]:
    """The drills of these lists, by rising diameter; the first four when none is named and no own list is given.

    kinds : number, letter, fraction, metric, hundredth (of a millimetre, 0.30 to 3.00 mm), wire (finer than #80)
    own : the user's own sizes, as strings (``"#54"``, ``"1.45 mm"``) or a CSV whose first column holds them
    Returns drills. Raises UserError for an unknown list or a size that cannot be read.

    >>> [drill.name for drill in drill_list("number")[:3]]
    ['#80', '#79', '#78']
    >>> [drill.name for drill in drill_list(own=["1.45 mm", "#54"])]
    ['#54', '1.45 mm']
    >>> [drill.name for drill in drill_list("hundredth")[:3]], len(drill_list("hundredth"))
    (['0.30 mm', '0.31 mm', '0.32 mm'], 271)
    """
    unknown = [kind for kind in kinds if kind not in (*SERIES, WIRE)]
    if unknown:
        raise UserError(
            [
                Problem("no drill list of that name", value=kind, accepted=", ".join((*SERIES, WIRE)))
                for kind in unknown
            ]
        )
    wanted = kinds or (() if own is not None else KINDS)
    among = _between_hundredths() if HUNDREDTH in wanted else frozenset()
    found = [drill for drill in _shipped() if drill.kind in wanted or drill in among]
    if own is not None:
        found += _own(own)
    return tuple(sorted(found, key=lambda drill: (drill.diameter_m, ORDER.index(drill.kind))))


_DECIMAL_COMMA = re.compile(r"((?:^|[;,])\s*\d),(\d+)(?![\d.])")  # of a size in mm, no two drills


def drill_names(text: str, key: str = "") -> tuple[str, ...]:
    """Names of drill lists and of single drills, parted by commas; "all" is every list but the hundredths.

    key : what the user calls the entry. Raises UserError where nothing is named.

    >>> drill_names("metrics, #52"), drill_names("all") == KINDS
    (('metric', '#52'), True)
    """
    if _DECIMAL_COMMA.search(text):
        pointed = (one.strip() for one in re.split("[;,]", _DECIMAL_COMMA.sub(r"\1.\2", text)))
        sizes = ", ".join(f"{one} mm" if one.replace(".", "").isdigit() else one for one in pointed)
        raise UserError(Problem(COMMA, text, key, fix=f"write {sizes}"))
    words = [word.strip() for word in text.replace(";", ",").split(",") if word.strip()]
    if not words:
        accepted = f'{", ".join(SERIES)}, or sizes such as "#54,1.45 mm"'
        raise UserError(Problem("the drill list is missing", key=key, accepted=accepted))
    series = {name: kind for kind in SERIES for name in (kind, f"{kind}s")} | {"all": "all"}
    named = [series.get(word.lower(), word) for word in words]
    return KINDS if "all" in named else tuple(dict.fromkeys(named))


def named_drills(names: Iterable[str], key: str = "") -> tuple[Drill, ...]:
    """The drills of lists and sizes by their names; key : what the user calls the entry. Raises UserError.

    >>> [drill.name for drill in named_drills(["1.6 mm", "#52"])]
    ['1.6 mm', '#52']
    """
    every = tuple(names)
    own = [name for name in every if name not in SERIES]
    try:
        return drill_list(*(name for name in every if name in SERIES), own=own or None)
    except UserError as error:
        accepted = f'{", ".join(SERIES)}, or sizes such as "#54,1.45 mm"'
        raise UserError([replace(one, key=key, accepted=accepted) for one in error.problems]) from None


@cache
def _between_hundredths() -> frozenset[Drill]:
    """The metric sizes that stand among the hundredths: up to the step above the last of these."""
    last_m = max(drill.diameter_m for drill in _shipped() if drill.kind == HUNDREDTH) + 1.5 * MARK_m
    return frozenset(drill for drill in _shipped() if drill.kind == METRIC and drill.diameter_m < last_m)


def _own(own: Path | Iterable[str]) -> list[Drill]:

    sizes = own_sizes(own) if isinstance(own, Path) else [text.strip() for text in own]
    if not sizes:
        raise UserError(Problem("the drill list is empty", file=own.name if isinstance(own, Path) else ""))
    source = own.name if isinstance(own, Path) else "the user's list"
    found: list[Drill] = []
    problems: list[Problem] = []
    for text in sizes:
        try:
            bore = read_bore(text)
        except UserError as error:
            problems += error.problems
        else:
            found.append(Drill(name=bore.drill or text, kind=OWN, diameter_m=bore.diameter_m, source=source))
    if problems:
        raise UserError(problems)
    return found


HEAD_OF_SIZES = 'write the sizes in the first column, under "size"; a list with part numbers is a stock'


def own_sizes(path: Path) -> list[str]:
    """Sizes in the first column of a CSV; blank lines, comments and a header ``size`` are left out.

    A line such as ``#54`` is a size: a comment needs a blank after its sign.
    Raises UserError, with file and line, for what is no drill.
    """

    if not path.is_file():
        raise UserError(
            Problem("not a regular file", file=str(path), fix="give a CSV with one drill size a line")
        )
    found: list[str] = []
    problems: list[Problem] = []
    for line, cells in tables.records(tables.text_of(path), path.name, is_remark):
        size = cells[0].strip()
        if not size or (not found and size.lower() in ("size", "drill")):
            continue
        try:
            read_bore(size)
        except UserError as error:
            is_head = not found and len(cells) > 1
            problems += [
                replace(problem, file=path.name, line=line, fix=HEAD_OF_SIZES if is_head else problem.fix)
                for problem in error.problems
            ]
        found.append(size)
    if problems or not found:
        raise UserError(problems or Problem("the drill list is empty", file=path.name))
    return found


def neighbours(diameter_m: float, drills: Sequence[Drill]) -> Neighbours:
    """The nearest drill at or below a diameter and the nearest at or above it.

    diameter_m : [m]; drills : by rising diameter
    Returns Neighbours; below and above are the same drill when it has exactly that diameter.
    """
    i = bisect_left(drills, diameter_m, key=lambda drill: drill.diameter_m)
    above = drills[i] if i < len(drills) else None
    if above is not None and above.diameter_m == diameter_m:
        return Neighbours(below=above, above=above)
    return Neighbours(below=drills[i - 1] if i else None, above=above)


def nearest_drill(diameter_m: float, drills: Sequence[Drill]) -> Drill:
    """The drill whose diameter is nearest; of two equally near the smaller, which cannot overfire.

    diameter_m : [m]; drills : by rising diameter
    Returns a Drill; the first or last of the list for a diameter beyond its ends (see ``beyond``).
    Raises UserError for an empty list.

    >>> nearest_drill(1.40e-3, drill_list("number")).name
    '#54'
    """
    if not drills:
        raise UserError(Problem("the drill list is empty"))
    both = neighbours(diameter_m, drills)
    below = diameter_m - both.below.diameter_m if both.below else inf
    above = both.above.diameter_m - diameter_m if both.above else inf
    chosen = both.below if below <= above else both.above
    assert chosen is not None
    return chosen


def beyond(diameter_m: float, drills: Sequence[Drill]) -> str:
    """A sentence when a diameter lies outside a list, else an empty string.

    >>> beyond(7e-3, drill_list("number"))
    'a bore of 7.000 mm is larger than the largest drill of the list, #1 (5.791 mm)'
    """
    if not drills:
        raise UserError(Problem("the drill list is empty"))
    first, last = drills[0], drills[-1]
    if first.diameter_m <= diameter_m <= last.diameter_m:
        return ""
    small = diameter_m < first.diameter_m
    end, how = (first, "smaller than the smallest") if small else (last, "larger than the largest")
    bore_mm, end_mm = diameter_m / MILLIMETRE, end.diameter_m / MILLIMETRE
    return f"a bore of {bore_mm:.3f} mm is {how} drill of the list, {end.name} ({end_mm:.3f} mm)"


def tolerance_band(drill: Drill, own: Path | None = None) -> ToleranceBand:
    """Smallest and largest diameter of a drill of this size.

    drill : size; its own tolerance counts where it has one
    own : CSV with the columns of the shipped table drill_tolerance, in place of it
    Returns diameters [m] with their source. Raises UserError above the largest size of the table.

    >>> tolerance_band(drill_list("number")[0]).area_change_low(0.0135 * 25.4e-3)
    -0.0727
    """
    if drill.band is not None:
        return drill.band
    rows = tables.read("drill_tolerance", own)
    size_mm = drill.diameter_m / MILLIMETRE
    for row in sorted(rows, key=lambda row: float(row["up_to_mm"])):
        if size_mm <= float(row["up_to_mm"]) * (1.0 + 1e-9):
            return ToleranceBand(
                low_m=drill.diameter_m - float(row["undersize_mm"]) * MILLIMETRE,
                high_m=drill.diameter_m + float(row["oversize_mm"]) * MILLIMETRE,
                source=row["source"],
                provenance=row["provenance"],
            )
    largest = max((float(row["up_to_mm"]) for row in rows), default=0.0)
    raise UserError(
        Problem(
            "the table has no tolerance for a drill of this size",
            value=drill.name,
            accepted=f"up to {largest:g} mm",
            fix="give a tolerance table of your own",
        )
    )


def area_step(smaller: Drill, larger: Drill) -> float:
    """Area of the larger drill over that of the smaller, less 1 [-].

    >>> numbers = {drill.name: drill for drill in drill_list("number")}
    >>> area_step(numbers["#56"], numbers["#55"])
    0.2505
    """
    return larger.area_m2 / smaller.area_m2 - 1.0
