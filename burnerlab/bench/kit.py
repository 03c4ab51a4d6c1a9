"""A conversion kit: its parts list, and what a scale can tell of it."""

from __future__ import annotations

import math
import os
import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Annotated, Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from burnerlab import tables
from burnerlab.appliance.project import keys as key
from burnerlab.appliance.project.keys import Key, table
from burnerlab.appliance.project.model import REGIONS
from burnerlab.appliance.project.problems import Problems
from burnerlab.appliance.project.project_file import read_file, read_text
from burnerlab.appliance.project.toml_lines import parse_on
from burnerlab.bench.record.entry import KitCheck, Scan
from burnerlab.quantity import Kind, read
from burnerlab.quantity.inputs import complaint, text_with_unit
from burnerlab.quantity.outputs import computed_output, output
from burnerlab.tables.handbook_link import handbook_of
from burnerlab.tables.problem import Problem, UserError
from burnerlab.tables.verdict import Verdict

# Is the kit complete: what a scale at the end of packing can tell, and what it cannot.

FloatArray = NDArray[np.float64]
ORIFICE_NAME = re.compile(r"(?:orifice|injector) +(\S.*)", re.IGNORECASE)
MOST_PIECES = 10_000
HEAVIEST_kg = 1000.0
UNITS_kg = {
    "g": 1e-3,
    "lb": 0.45359237,
    "oz": 0.45359237 / 16,
}  # of a scale: the pound is exact by definition
LEAST_SIGMA_kg = 1e-15  # of a kit without its only part that scatters
MOST_STEPS = 10_000_000  # resolution steps of a window; more is a slip of unit


def _mass(help: str, least_kg: float, example: str) -> Key:
    """A mass as a parts list writes it."""
    least = f"at least {least_kg * 1e6:g} mg" if least_kg else "0"
    accepted = f"{least} to 1000 kg, such as {example}"

    def reader(value: Any) -> float:
        mass_kg = float(read(text_with_unit(value, "a quantity", example), Kind.MASS))
        if not least_kg <= mass_kg <= HEAVIEST_kg:
            raise complaint("is no mass of a kit", accepted=accepted, fix="check the unit")
        return mass_kg

    return key.text(example, help, accepted, reader, kind="mass")


def _pieces(value: Any) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not 1 <= value <= MOST_PIECES:
        accepted = f"1 to {MOST_PIECES}"
        raise complaint("must be a whole number of pieces", accepted=accepted, fix="write count = 6")
    return value


def _share(value: Any) -> float:
    if not isinstance(value, str):
        raise complaint("must be a fraction", accepted='such as "95 %"', fix='write "95 %"')
    share = float(read(value, Kind.FRACTION))
    if not 1e-9 <= share <= 1.0 - 1e-9:
        raise complaint("must lie between 0 and 100 %", accepted='such as "95 %"', fix="check the figure")
    return share


def _markets(value: Any) -> tuple[str, ...]:
    texts = [value] if isinstance(value, str) else value
    if not isinstance(texts, list) or not all(isinstance(text, str) and text.strip() for text in texts):
        raise complaint(
            "must be a list of texts", accepted="names or letters of markets", fix='write ["A", "B"]'
        )
    return tuple(text.strip() for text in texts)


@table()
@dataclass(frozen=True, slots=True, kw_only=True)
class KitPart:
    """One kind of part in a kit: mass and scatter of one piece, as a standard deviation."""

    name: Annotated[str, key.name("orifice #54", "Name to print, one for each part")] = field(
        metadata=output("part")
    )
    count: Annotated[
        int, key.text(6, "Pieces in a kit", f"1 to {MOST_PIECES}", _pieces, kind="whole number")
    ] = field(default=1, metadata=output("pieces"))
    mass_kg: Annotated[float, _mass("Mass of one piece", 1e-9, "4.20 g")] = field(
        metadata=output("g each", Kind.MASS, unit="g")
    )
    scatter_kg: Annotated[float, _mass("Standard deviation from piece to piece", 0.0, "0.04 g")] = field(
        metadata=output("scatter", Kind.MASS, unit="g")
    )
    code: Annotated[str, key.name("OR-54", "What its label scans as")] = field(
        default="", metadata=output("code")
    )
    markets: Annotated[
        tuple[str, ...],
        key.text(
            ["A", "B"],
            "Markets whose kits it is in; all without it",
            "names or letters",
            _markets,
            kind="list",
        ),
    ] = field(default=(), metadata=output("markets"))
    orifice: Annotated[
        str, key.name("#54", "Which orifice it is: drill or size; without it as the name says, orifice #54")
    ] = field(default="", metadata=output("orifice"))

    @property
    def orifice_size(self) -> str:
        """Drill or size of the orifice that it is; "" of any other part."""
        named = ORIFICE_NAME.fullmatch(self.name)
        return self.orifice or (named[1] if named is not None else "")


@table()
@dataclass(frozen=True, slots=True, kw_only=True)
class KitScale:
    """The packing scale: the step it shows and the standard deviation of repeated readings of one load."""

    resolution_kg: Annotated[float, _mass("The step it shows", 1e-9, "1 g")] = field(
        metadata=output("resolution", Kind.MASS, unit="g")
    )
    repeatability_kg: Annotated[
        float, _mass("Standard deviation of repeated readings of one load", 0.0, "0.5 g")
    ] = field(metadata=output("repeatability", Kind.MASS, unit="g"))


SCALE = {"resolution": "1 g", "repeatability": "0.5 g"}
PART = {"name": "orifice #54", "count": 6, "mass": "4.20 g", "scatter": "0.04 g"}


@table()
@dataclass(frozen=True, slots=True, kw_only=True)
class Kit:
    """What is packed, and what it is weighed with."""

    name: Annotated[str, key.name("propane conversion kit", "Name to print")] = field(metadata=output("kit"))
    false_alarm: Annotated[
        float,
        key.text(
            "0.27 %", "Fraction of complete kits that may read outside", "above 0 and below 100 %", _share
        ),
    ] = field(default_factory=lambda: limits()["false_alarm"])
    # a part counts as detectable by the scale from this probability on
    detection: Annotated[
        float,
        key.text(
            "95 %", "Probability from which the scale detects a part", "above 0 and below 100 %", _share
        ),
    ] = field(
        default_factory=lambda: limits()["detection"], metadata=output("detection wanted", Kind.FRACTION)
    )
    region: Annotated[str, key.choice(REGIONS, "a region", "Region whose words its answers have")] = ""
    scale: Annotated[KitScale, key.part(KitScale, "The packing scale", SCALE)] = field(
        metadata=output("scale")
    )
    parts: Annotated[
        tuple[KitPart, ...], key.parts(KitPart, 200, "Its parts", PART, name="part", least=1, is_alone=False)
    ] = field(metadata=output("parts"))
    sha256: str = field(default="", metadata=output("hash of the parts list"))


@dataclass(frozen=True, slots=True, kw_only=True)
class CountError:
    """A kit that is not as it should be: one piece missing, or one too many."""

    part: str = field(metadata=output("part"))
    change: int = field(metadata=output("change"))  # -1 missing, +1 doubled
    mass_kg: float = field(metadata=output("expected reading", Kind.MASS, unit="g"))
    sigma_kg: float = field(metadata=output("standard deviation", Kind.MASS, unit="g"))
    detection: float = field(
        metadata=output("noticed", Kind.FRACTION)
    )  # probability that the reading falls outside the window
    is_detectable: bool = field(metadata=output("the scale can tell it"))


@dataclass(frozen=True, slots=True, kw_only=True)
class KitWindow:
    """Readings between which a complete kit falls, and what the scale makes of every single fault."""

    kit: Kit = field(metadata=output("kit"))
    mass_kg: float = field(metadata=output("expected", Kind.MASS, unit="g"))  # of a complete kit
    sigma_kg: float = field(
        metadata=output("standard deviation", Kind.MASS, unit="g")
    )  # of its reading, before rounding to the step of the scale
    low_kg: float = field(
        metadata=output("complete kit reads from", Kind.MASS, unit="g")
    )  # lowest and highest reading that count as complete
    high_kg: float = field(metadata=output("complete kit reads to", Kind.MASS, unit="g"))
    false_alarm: float = field(
        metadata=output("false alarm", Kind.FRACTION)
    )  # share of complete kits outside, with the steps of this scale
    faults: tuple[CountError, ...] = field(metadata=output("single faults"))
    notes: tuple[str, ...] = field(metadata=output("notes"))

    @property
    @computed_output("not shown by mass")
    def undetectable(self) -> tuple[CountError, ...]:
        """Faults that the scale does not find often enough."""
        return tuple(fault for fault in self.faults if not fault.is_detectable)


@dataclass(frozen=True, slots=True, kw_only=True)
class Suspect:
    """How well a complete kit or one fault explains a reading: probabilities of all of these sum to 1."""

    part: str = field(metadata=output("part"))  # empty for a complete kit
    change: int = field(metadata=output("change"))
    probability: float = field(metadata=output("probability", Kind.FRACTION))


@dataclass(frozen=True, slots=True)
class PartCount:
    """Pieces of a part."""

    part: str = field(metadata=output("part"))
    pieces: int = field(metadata=output("pieces"))


@dataclass(frozen=True, slots=True, kw_only=True)
class ScanComparison:
    """Codes scanned in against those the kit asks for."""

    codes: tuple[str, ...] = field(metadata=output("scanned"))  # as scanned
    missing: tuple[PartCount, ...] = field(metadata=output("missing"))  # pieces not scanned
    too_many: tuple[PartCount, ...] = field(metadata=output("too many"))
    unknown: tuple[str, ...] = field(metadata=output("of no part"))  # codes of no part of this kit
    confirmed: tuple[str, ...] = field(metadata=output("all there"))  # parts of which every piece was scanned

    @property
    def differs(self) -> bool:
        """Whether the scans name a piece that is missing, one too many or one of no part."""
        return bool(self.missing or self.too_many or self.unknown)


@dataclass(frozen=True, slots=True, kw_only=True)
class KitFinding:
    """One kit weighed."""

    window: KitWindow = field(metadata=output("window"))
    mass_kg: float = field(metadata=output("reading", Kind.MASS, unit="g"))
    mass_verdict: Verdict = field(metadata=output("verdict on the mass"))  # within or outside
    suspects: tuple[Suspect, ...] = field(
        metadata=output("explained by")
    )  # likeliest first, given that at most one piece is wrong
    scanned: ScanComparison = field(metadata=output("scan"))
    look_for: tuple[str, ...] = field(
        metadata=output("look for")
    )  # parts that neither scale nor scan answers for
    notes: tuple[str, ...] = field(metadata=output("notes"))

    @property
    @computed_output("verdict")
    def verdict(self) -> Verdict:
        """The worse of mass and scans: a mass within its window is no complete kit where a scan names a wrong piece.

        Not evaluated where a part that no scan confirmed is missing likelier than not.
        """
        if self.scanned.differs:
            return Verdict.OUTSIDE
        is_open = self.mass_verdict is Verdict.WITHIN and self.missing_probability > 0.5
        return Verdict.NOT_EVALUATED if is_open else self.mass_verdict

    @property
    @computed_output("a part is missing", Kind.FRACTION)
    def missing_probability(self) -> float:
        """Probability that a part is missing which no scan confirmed, among what the scans leave open [-]."""
        left = [one for one in self.suspects if one.change >= 0 or one.part not in self.scanned.confirmed]
        whole = sum(one.probability for one in left)
        return sum(one.probability for one in left if one.change < 0) / whole if whole > 0.0 else 0.0

    @property
    @computed_output("explained in the handbook")
    def handbook(self) -> str:
        """Page and heading of the handbook that explain the weighing."""
        return handbook_of("kit weighed")


def limits(own: Path | None = None) -> Mapping[str, float]:
    """What is required of a scale where the kit's file does not say; ``own`` is a CSV of the same columns.

    >>> limits()["detection"]
    0.95
    """
    return {row["name"]: row.number("value") for row in tables.read("kit_limits", own)}


def _normal_cdf(z: ArrayLike) -> FloatArray:
    from scipy.special import ndtr

    probability: FloatArray = np.asarray(ndtr(np.asarray(z, dtype=float)))
    return probability


def outside_probability(
    mass_kg: ArrayLike, sigma_kg: ArrayLike, low_kg: float, high_kg: float, resolution_kg: float
) -> FloatArray:
    """Probability that a reading, rounded to the step of the scale, falls outside a window [-].

    P = 1 - F((high + r/2 - m)/s) + F((low - r/2 - m)/s), F the normal distribution.
    mass_kg, sigma_kg : mean and standard deviation before rounding [kg]
    low_kg, high_kg : lowest and highest reading inside, multiples of the step [kg]
    resolution_kg : the step r [kg]

    >>> float(outside_probability(0.5, 0.001, 0.497, 0.503, 1e-9))
    0.0027
    """
    mean, sigma = np.asarray(mass_kg, dtype=float), np.asarray(sigma_kg, dtype=float)
    half = resolution_kg / 2.0
    above = _normal_cdf(-(high_kg + half - mean) / sigma)
    below = _normal_cdf((low_kg - half - mean) / sigma)
    probability: FloatArray = above + below
    return probability


def window_steps(
    mass_kg: float, sigma_kg: float, resolution_kg: float, false_alarm: float
) -> tuple[int, int]:
    """Lowest and highest reading of the narrowest window, in steps, that lets at most ``false_alarm`` out.

    mass_kg, sigma_kg : of a complete kit before rounding [kg]; the window is as near to symmetric as the steps allow
    Raises UserError when the window would hold more than ten million steps.

    >>> window_steps(0.812, 0.0007, 0.001, 0.0027)
    (810, 814)
    """
    from scipy.special import ndtri

    reach = -float(ndtri(false_alarm / 2.0)) * sigma_kg
    if reach / resolution_kg > MOST_STEPS:
        raise UserError(
            Problem("the step of the scale is too small for the scatter of this kit", key="scale.resolution")
        )
    # steps are taken in the order of their probability, nearest to the mean first; the first ones at once
    at = mass_kg / resolution_kg
    inside = max(math.floor(reach / resolution_kg) - 2, 0)
    low, high = round(at) - inside, round(at) + inside
    while float(
        outside_probability(mass_kg, sigma_kg, low * resolution_kg, high * resolution_kg, resolution_kg)
    ) > false_alarm * (1.0 + 1e-9):
        if at - (low - 1) < (high + 1) - at:
            low -= 1
        else:
            high += 1
    return low, high


def kit_window(kit: Kit) -> KitWindow:
    """The window of a complete kit and, for every part, what happens when one piece is missing or doubled.

    mass = sum n m; sigma2 = sum n s2 + repeatability2; pieces scatter independently of one another.
    Raises UserError for a kit whose reading has no scatter at all.
    """
    scale = kit.scale
    mass = math.fsum(part.count * part.mass_kg for part in kit.parts)
    variance = math.fsum(part.count * part.scatter_kg**2 for part in kit.parts) + scale.repeatability_kg**2
    if not variance > 0.0:
        what = "nothing scatters: neither the parts nor the scale"
        raise UserError(Problem(what, key="part.scatter, scale.repeatability", fix="weigh some of each"))
    sigma = math.sqrt(variance)
    step = scale.resolution_kg
    first, last = window_steps(mass, sigma, step, kit.false_alarm)
    low, high = first * step, last * step
    changes = [(part, change) for part in kit.parts for change in (-1, 1)]
    means = np.array([mass + change * part.mass_kg for part, change in changes])
    sigmas = np.sqrt(np.array([variance + change * part.scatter_kg**2 for part, change in changes]))
    outside = outside_probability(means, np.maximum(sigmas, LEAST_SIGMA_kg), low, high, step)
    faults = tuple(
        CountError(
            part=part.name,
            change=change,
            mass_kg=float(mean),
            sigma_kg=float(spread),
            detection=float(found),
            is_detectable=bool(found >= kit.detection),
        )
        for (part, change), mean, spread, found in zip(changes, means, sigmas, outside, strict=True)
    )
    return KitWindow(
        kit=kit,
        mass_kg=mass,
        sigma_kg=sigma,
        low_kg=low,
        high_kg=high,
        false_alarm=float(outside_probability(mass, sigma, low, high, step)),
        faults=faults,
        notes=_window_notes(kit, sigma),
    )


def _window_notes(kit: Kit, sigma_kg: float) -> tuple[str, ...]:
    notes = [
        "one wrong piece is considered: two can cancel, and a wrong part of the same mass weighs the same",
        "pieces are taken to scatter independently; a batch that is heavy or light as a whole shifts every kit",
    ]
    if kit.scale.resolution_kg > 2.0 * sigma_kg:
        notes.append(
            "the step of the scale is coarse beside the scatter: a finer scale would narrow the window"
        )
    shares = {part.name: part.count * part.scatter_kg**2 / sigma_kg**2 for part in kit.parts}
    name, share = max(shares.items(), key=lambda item: item[1])
    if share > 0.5:
        notes.append(
            f"{100 * share:.0f} % of the variance comes from {name}: weigh the kit without it, or sort it"
        )
    return tuple(notes)


def suspects(window: KitWindow, mass_kg: float) -> tuple[Suspect, ...]:
    """What explains a reading: complete, or one piece missing or doubled, all taken as likely beforehand.

    mass_kg : the reading [kg]
    Shares follow from the probability of the step of the scale that was read, and sum to 1. Nothing is returned when
    every one of them would read so far off less often than a complete kit gives a false alarm.
    """
    from scipy.special import ndtr

    means = np.array([window.mass_kg, *(fault.mass_kg for fault in window.faults)])
    sigmas = np.maximum([window.sigma_kg, *(fault.sigma_kg for fault in window.faults)], LEAST_SIGMA_kg)
    off, half = np.abs(mass_kg - means), window.kit.scale.resolution_kg / 2.0
    if not 2.0 * float(np.max(ndtr(-(off - half) / sigmas))) >= window.kit.false_alarm:
        return ()
    weights = ndtr(-(off - half) / sigmas) - ndtr(-(off + half) / sigmas)
    shares = weights / weights.sum()
    named = [("", 0), *((fault.part, fault.change) for fault in window.faults)]
    order = np.argsort(-shares, kind="stable")
    return tuple(Suspect(part=named[i][0], change=named[i][1], probability=float(shares[i])) for i in order)


def compare_scans(kit: Kit, codes: tuple[str, ...]) -> ScanComparison:
    """Codes scanned in against the codes and counts of the kit's parts."""
    by_code = {part.code: part for part in kit.parts if part.code}
    counted = dict.fromkeys(by_code, 0)
    unknown = []
    for code in codes:
        if code in counted:
            counted[code] += 1
        else:
            unknown.append(code)
    missing, too_many, confirmed = [], [], []
    for code, part in by_code.items():
        if counted[code] < part.count and codes:
            missing.append(PartCount(part.name, part.count - counted[code]))
        elif counted[code] > part.count:
            too_many.append(PartCount(part.name, counted[code] - part.count))
        elif codes:
            confirmed.append(part.name)
    return ScanComparison(
        codes=codes,
        missing=tuple(missing),
        too_many=tuple(too_many),
        unknown=tuple(unknown),
        confirmed=tuple(confirmed),
    )


def check_kit(kit: Kit, mass_kg: float, codes: tuple[str, ...] = ()) -> KitFinding:
    """One kit weighed, with what was scanned in: the verdict on mass and scans, and what still needs eyes.

    mass_kg : the reading of the scale [kg]
    codes : what was scanned, in any order
    """
    window = kit_window(kit)
    step = kit.scale.resolution_kg
    inside = window.low_kg - step / 2.0 <= mass_kg <= window.high_kg + step / 2.0
    scanned = compare_scans(kit, codes)
    unseen = dict.fromkeys(fault.part for fault in window.undetectable)
    if not inside:
        unseen = dict.fromkeys(part.name for part in kit.parts)
    look = tuple(name for name in unseen if name not in scanned.confirmed)
    notes = list(window.notes)
    off = abs(mass_kg / step - round(mass_kg / step))
    if off > 1e-6 * max(1.0, mass_kg / step):
        notes.append("the reading is not a whole number of the scale's steps: check reading and resolution")
    return KitFinding(
        window=window,
        mass_kg=mass_kg,
        mass_verdict=Verdict.WITHIN if inside else Verdict.OUTSIDE,
        suspects=_open_suspects(suspects(window, mass_kg), scanned, is_inside=inside),
        scanned=scanned,
        look_for=look,
        notes=tuple(notes),
    )


def _open_suspects(
    every: tuple[Suspect, ...], scanned: ScanComparison, *, is_inside: bool
) -> tuple[Suspect, ...]:
    """What the scans leave open of a reading: a part of which every piece was scanned is not missing.

    Within the window it is not one too many either: the scans counted it.
    """
    left = [
        one
        for one in every
        if not one.change or one.part not in scanned.confirmed or (one.change > 0 and not is_inside)
    ]
    whole = sum(one.probability for one in left)
    return tuple(replace(one, probability=one.probability / whole) for one in left) if whole > 0.0 else ()


def kit_entry(finding: KitFinding, *, kit: str, tester: str, serial: str = "", note: str = "") -> KitCheck:
    """A weighing as the record takes it, with everything that was scanned in.

    kit : number of this kit
    tester : who weighed
    serial : of the unit it goes with
    """
    packed = finding.window.kit
    by_code = {part.code: part.name for part in packed.parts if part.code}
    return KitCheck(
        kit=kit,
        title=packed.name,
        tester=tester,
        serial=serial,
        note=note,
        mass_kg=finding.mass_kg,
        window_low_kg=finding.window.low_kg,
        window_high_kg=finding.window.high_kg,
        verdict=Verdict.WITHIN if finding.verdict is Verdict.WITHIN else Verdict.OUTSIDE,
        parts_sha256=packed.sha256,
        scans=tuple(Scan(part=by_code.get(code, ""), reading=code) for code in finding.scanned.codes),
    )


# Read the parts list of a conversion kit (TOML): every problem at once, each with its line.


def read_kit(path: str | os.PathLike[str]) -> Kit:
    """The kit that a parts list describes.

    Raises UserError with every problem of the file.
    """
    file = read_text(path)
    return replace(read_kit_text(file.text, Path(path).name), sha256=file.sha256)


def read_kit_text(text: str, file: str = "text") -> Kit:
    """The kit that the text of a parts list describes; ``file`` is printed in complaints.

    >>> kit = read_kit_text('''
    ... name = "propane kit"
    ... scale = { resolution = "1 g", repeatability = "0.5 g" }
    ... [[part]]
    ... name = "regulator"
    ... mass = "310 g"
    ... scatter = "1.5 g"
    ... ''')
    >>> kit.parts[0].mass_kg
    0.31
    """
    return read_file(Kit, parse_on(text, file), file, _each_part_once)


OF_SCALE = "\N{NO-BREAK SPACE}"
"""Between a figure and the unit of a scale: the figure is that of its display, and is not converted for a reader."""


def scale_unit(kit: Kit) -> tuple[str, float, int]:
    """The unit of the scale, its size [kg] and the decimals of a step: that in which the step is the shortest number.

    >>> kit = Kit(name="k", scale=KitScale(resolution_kg=0.002 * UNITS_kg["lb"], repeatability_kg=0.0), parts=())
    >>> scale_unit(kit)[0], scale_unit(kit)[2]  # 0.002 lb is 0.032 oz and 0.907185 g
    ('lb', 3)
    """
    written = {
        unit: f"{kit.scale.resolution_kg / size_kg:.5f}".rstrip("0") for unit, size_kg in UNITS_kg.items()
    }
    unit = min(written, key=lambda name: len(written[name].replace(".", "").lstrip("0")))
    return unit, UNITS_kg[unit], len(written[unit].partition(".")[2])


def reading_text(kit: Kit, value_kg: float, finer: int = 0) -> str:
    """A mass in the unit of the scale of a kit, to its step, as every reader has it; finer : decimals beyond it."""
    unit, size_kg, places = scale_unit(kit)
    return f"{value_kg / size_kg:.{places + finer}f}{OF_SCALE}{unit}"


def kit_text(kit: Kit) -> str:
    """The parts list of a kit as a file: what ``read_kit_text`` reads.

    >>> kit = Kit(name="k", scale=KitScale(resolution_kg=0.001, repeatability_kg=0.0005), parts=(
    ...     KitPart(name="orifice #54", count=6, mass_kg=0.0042, scatter_kg=0.00004, code="OR-54"),))
    >>> again = read_kit_text(kit_text(kit))
    >>> again.parts[0].code, round(again.parts[0].mass_kg, 9), again.scale.resolution_kg
    ('OR-54', 0.0042, 0.001)
    """
    from tomlkit import aot, document, inline_table, table

    own = scale_unit(kit)[0]

    def mass(value_kg: float) -> str:
        """As it was written: in the unit of the scale or in grams, whichever is the shorter."""
        texts = [f"{value_kg / UNITS_kg[unit]:.9g} {unit}" for unit in dict.fromkeys((own, "g"))]
        return min(texts, key=len)

    made, scale, parts = document(), inline_table(), aot()
    made["name"] = kit.name
    if kit.region:
        made["region"] = kit.region
    for name, share in (("false_alarm", kit.false_alarm), ("detection", kit.detection)):
        made[name] = f"{100.0 * share:.9g} %"
    scale["resolution"] = mass(kit.scale.resolution_kg)
    scale["repeatability"] = mass(kit.scale.repeatability_kg)
    made["scale"] = scale
    for one in kit.parts:
        part = table()
        part["name"], part["count"] = one.name, one.count
        part["mass"], part["scatter"] = mass(one.mass_kg), mass(one.scatter_kg)
        if one.code:
            part["code"] = one.code
        if one.orifice:
            part["orifice"] = one.orifice
        if one.markets:
            part["markets"] = list(one.markets)
        parts.append(part)
    made["part"] = parts
    return made.as_string()


def _each_part_once(kit: Kit, problems: Problems) -> Kit:
    """Two parts of one name, or of one label, cannot be distinguished."""
    for name in ("name", "code"):
        values = [getattr(part, name) for part in kit.parts]
        for place, value in enumerate(values):
            if value and value in values[:place]:
                problems.add(("part", place, name), "is given twice", value=value, fix="use count")
    return kit
