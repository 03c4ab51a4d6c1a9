"""What a key of the project file names is looked up: gases, bands, drills, fittings, regulators, own tables.

The file is read straight into the things it describes; what stands here completes those that a look-up makes whole, and
holds one table of the file against another.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from burnerlab import tables
from burnerlab import tables as shipped
from burnerlab.appliance.operation.supply_pressures import match_pressure
from burnerlab.appliance.project import geometry, model
from burnerlab.appliance.project.file_tables import ProjectFile
from burnerlab.appliance.project.geometry_checks import check_space
from burnerlab.appliance.project.key_readers import STAND_IN_GAS, names_own_gas, own_gas_name
from burnerlab.appliance.project.keys import Values
from burnerlab.appliance.project.model import Tolerance
from burnerlab.appliance.project.problems import Problems, inlet_above
from burnerlab.appliance.project.supply_train import (
    Manifold,
    ManifoldTable,
    MassFlow,
    OfSetPoint,
    RegulatorSpread,
    RegulatorTable,
    Run,
    RunTable,
    Train,
    TrainRegulator,
    TrainTable,
    ValveTable,
)
from burnerlab.appliance.project.toml_lines import KeyPath
from burnerlab.gas import load
from burnerlab.orifice.altitude import policy_factor, sea_level_bore_factor
from burnerlab.orifice.discharge_coefficient import DEFAULT_SHAPE, ShapeLaw, shape_named
from burnerlab.orifice.flow import Conditions
from burnerlab.orifice.size import size
from burnerlab.orifice.stock import STOCK, stock_list
from burnerlab.quantity import Basis
from burnerlab.quantity.inputs import input_row
from burnerlab.supply.atmosphere import pressure_at_altitude_Pa
from burnerlab.supply.pipe import Pipe, fitting, roughness, size_named
from burnerlab.supply.regulator import Typical, Valve, typical, valve_of_bore, valve_of_Cv, valve_of_Kv
from burnerlab.supply.supply_limits import supply_figure
from burnerlab.tables import check, cite
from burnerlab.tables.figure import Evidence, weakest
from burnerlab.tables.file_name import same_file
from burnerlab.tables.languages import language
from burnerlab.tables.libraries import MARK, is_installed, library_table, named_in
from burnerlab.tables.phrase import Phrase
from burnerlab.tables.problem import Problem, UserError, did_you_mean

# The band around a rating: a share of the user's own, or a named row of the input tolerances.

BARE = re.compile(r"[0-9]+(\.[0-9]+)?")
PERCENT = re.compile(r"([0-9]+\.?[0-9]*)[ _-]*(?:percent|per cent|pct)", re.IGNORECASE)
ENTERED = "entered by the user"


def region_tolerance(region: str, own: Path | None = None) -> Tolerance:
    """The band of a file that writes none: its region's, or the default of the project.

    region : us, eu or ""; own : a CSV of the same columns in place of the shipped table

    >>> region_tolerance("eu").source
    'heat input at nominal pressure of a domestic cooking appliance (EN 30-1-1, ..., recalled)'
    """
    rows = tables.read("input_tolerances", own)
    named = [row["name"] for row in rows if region and row["default_for"] == region]
    return read_tolerance(named[0] if named else "default", own)


def read_tolerance(text: str, own: Path | None = None, *, key: str = "limits.tolerance") -> Tolerance:
    """A band from "5 %" (both ways) or from a row of ``input_tolerances``, such as "astm".

    text : a share [-] or the name of a row
    own : a CSV of the same columns in place of the shipped table
    Returns the Tolerance. Raises UserError for a share outside 0.1 to 50 %, or an unknown name.

    >>> read_tolerance("uk-service").low
    -0.1
    """
    found = {row["name"]: row for row in tables.read("input_tolerances", own)}
    if text in found:
        row = found[text]
        recalled = ", recalled" if row["provenance"] == "memory" else ""
        return Tolerance(
            low=float(row["low_percent"]) / 100,
            high=float(row["high_percent"]) / 100,
            source=f"{row['title']} ({cite(row['source'])}{recalled})",
        )
    if not any(character.isdigit() for character in text):
        names = list(found)
        what = "is neither a percentage nor the name of a tolerance"
        accepted = "a percentage such as 5 %, or " + ", ".join(names)
        raise UserError(Problem(what, value=text, key=key, accepted=accepted, fix=did_you_mean(text, names)))
    limits = input_row("tolerance")
    if (meant := PERCENT.fullmatch(text.strip())) is not None:
        what, accepted = "is no percentage with its sign", "a percentage such as 5 %, or " + ", ".join(found)
        raise UserError(Problem(what, value=text, key=key, accepted=accepted, fix=f'write "{meant[1]} %"'))
    bare = BARE.fullmatch(text.strip())
    if bare is not None and limits.high < float(text) <= 100.0 * limits.high:
        what, accepted = (
            "a bare number is a fraction of one",
            f"{100 * limits.low:g} % to {100 * limits.high:g} %",
        )
        raise UserError(
            Problem(what, value=text, key=key, accepted=accepted, fix=f'write "{text.strip()} %"')
        )
    share = limits.read(text, key)
    return Tolerance(low=-share, high=share, source=ENTERED)


# What a project file names, looked up: gases, tables of the user's own, bands, sizes, regulators,
# materials.

NATURAL_Pa = 2300.0  # up to here a usual pressure is one of natural gas: 7 in w.c., 20 mbar
DEFAULT_MATERIAL = {"hose": "rubber", "pipe": "steel", "manifold": "steel"}
TOTAL = "rated flow taken as the rates of all burners"
NOT_TOUCHED = {"any", "skin contact", "wood nearby"}  # classes of the touch limits that are no material


def appliance(path: Path, file: ProjectFile, problems: Problems) -> model.Appliance | None:
    """The appliance of a project file, or None when ``problems`` now has some."""
    own = _tables(file.tables, path.parent, problems)
    _languages(file, own, problems)
    limits = _limits(file.limits, file.appliance.get("region", ""), own, problems)
    supply = _supply(file, problems)
    burners = _burners(file, supply, limits, own, problems)
    trains = _Trains(file, burners, own, problems)
    supply = replace(supply, train=trains.train("supply", supply))
    new_supply = _new_supply(file.new_supply, supply, trains)
    spreads = {cause: getattr(file.tolerance, cause) for cause in model.CAUSES}
    around = _space(file, burners, problems)
    markets = tuple(_market(values, i, file, own, problems) for i, values in enumerate(file.market))
    _same_names("market", file.market, problems)
    if problems.problems:
        return None
    return model.Appliance(
        **file.appliance,
        supply=supply,
        burners=burners,
        limits=limits,
        tables=own,
        spreads={cause: spread for cause, spread in spreads.items() if spread is not None},
        new_supply=new_supply,
        space=around,
        markets=markets,
        file=path.name,
    )


def _languages(file: ProjectFile, own: model.OwnTables, problems: Problems) -> None:
    """Languages of the appliance and its markets: each has translations in the table of texts."""
    if any(path == ("tables", "texts") for path, _ in problems.problems):
        return
    named: list[tuple[KeyPath, Values]] = [(("appliance",), file.appliance)]
    named += [(("market", i), values) for i, values in enumerate(file.market)]
    for where, values in named:
        if values.get("language"):
            with problems.at(*where, "language", of="texts"):
                language(values["language"], own.texts)


def _tables(names: Values, folder: Path, problems: Problems) -> model.OwnTables:
    """Own tables: readable files inside the folder of the project file, each checked before any physics asks for it."""

    paths: dict[str, Path] = {}
    for key, name in names.items():
        path = same_file((folder / name).resolve())
        where = ("tables", key)
        problems.lost.add(key)
        foreign = named_in(name)
        if foreign is not None and is_installed(foreign[0]):
            with problems.at(*where):
                paths[key] = _of_package(*foreign, key)
                problems.lost.discard(key)
        elif not path.is_relative_to(folder.resolve()):
            problems.add(
                where,
                "must stay inside the folder of the project file",
                value=name,
                fix="copy the table there",
            )
        elif not path.is_file():
            problems.add(
                where,
                "is not a regular file in the folder of the project file",
                value=name,
                fix="check the name",
            )
        else:
            paths[key] = path
            problems.lost.discard(key)
            with problems.at(*where):
                check(key, path)
                if key == STOCK:
                    stock_list(path)
    return model.OwnTables(**paths)


def _of_package(name: str, file: str, key: str) -> Path:
    """A table that an installed package brings, under the key of that table."""
    found = library_table(f"{name}{MARK}{file}", key)
    assert found is not None
    if key == STOCK:
        stock_list(found.path)
    return found.path


def _limits(values: Values, region: str, own: model.OwnTables, problems: Problems) -> model.Limits:

    text, policy = values.get("tolerance"), values.get("altitude_policy")
    band = read_tolerance("default")
    with problems.at("limits", "tolerance", of="input_tolerances"):
        table = own.input_tolerances
        band = region_tolerance(region, table) if text is None else read_tolerance(text, table)
    if policy is not None:
        with problems.at("limits", "altitude_policy", of="altitude_policies"):
            policy_factor(policy, 0.0, own.altitude_policies)
    return model.Limits(**values | {"tolerance": band})


def _supply(file: ProjectFile, problems: Problems) -> model.Supply:
    """The present supply without its train; of altitude and barometer one gives the other."""

    values = {name: value for name, value in file.supply.items() if name != "train"}
    named, described = values.get("gas"), file.gas
    own = problems.data.get("gas")
    if described is not None and named is not None and not _is_own_gas_named(problems.data):
        name = own_gas_name(own)
        what = f'cannot stand together with a [gas] table that no market names: "{name}"'
        problems.add(
            ("supply", "gas"), what, fix="keep one of the two, or write that name as gas of a market"
        )
    elif named is None and not isinstance(own, Mapping):
        accepted = "a gas of the library, or a [gas] table"
        usual = STAND_IN_GAS if values["gauge_pressure_Pa"] > NATURAL_Pa else "natural-gas-typical"
        fix = f'add gas = "{usual}", from the supply label'
        problems.add(("supply", "gas"), "is missing", accepted=accepted, fix=fix)
    if "ambient_pressure_Pa" in values:
        values["altitude_m"] = None
    else:
        values["ambient_pressure_Pa"] = pressure_at_altitude_Pa(values.get("altitude_m", 0.0))
    stand_in = load(STAND_IN_GAS) if named is None else named  # missing or faulty is among the problems
    values["gas"] = stand_in if named is not None or described is None else described
    return model.Supply(**values)


def _is_own_gas_named(data: Mapping[str, Any]) -> bool:
    """Whether a supply of the file names the gas of its [gas] table."""
    markets = data.get("market")
    every = [data.get("supply"), data.get("new_supply")]
    for market in markets if isinstance(markets, list) else []:
        supplies = market.get("supply") if isinstance(market, Mapping) else None
        every += supplies if isinstance(supplies, list) else [supplies]
    return any(names_own_gas(one.get("gas"), data.get("gas")) for one in every if isinstance(one, Mapping))


def _new_supply(values: Values | None, present: model.Supply, trains: _Trains) -> model.NewSupply | None:
    """The supply of the new gas; manifold and valves are the present ones unless it has its own."""
    if values is None:
        return None
    there = replace(present, gas=values["gas"], gauge_pressure_Pa=values["gauge_pressure_Pa"])
    return model.NewSupply(**values | {"train": trains.train("new_supply", there)})


def _burners(
    file: ProjectFile, supply: model.Supply, limits: model.Limits, own: model.OwnTables, problems: Problems
) -> tuple[model.Burner, ...]:
    _same_names("burner", file.burner, problems, ", or raise count")
    for i, values in enumerate(file.burner):
        if "orifice" in values:
            with problems.at("burner", i, "orifice", "shape", of="discharge"):
                shape_named(values["orifice"].shape, own.discharge)
            continue
        with problems.at("burner", i, "rate"):
            values["orifice"] = _calculated(values["rate_W"], file.appliance["rating"], supply, limits, own)
    whole = [(i, values) for i, values in enumerate(file.burner) if "orifice" in values]
    return tuple(_burner(values, i, own, problems) for i, values in whole)


def _calculated(
    rate_W: float, basis: Basis, supply: model.Supply, limits: model.Limits, own: model.OwnTables
) -> model.Orifice:
    """The bore that gives a rating on the present supply, as the altitude policy of the file leaves it."""
    at = Conditions(
        gauge_pressure_Pa=supply.gauge_pressure_Pa,
        ambient_pressure_Pa=supply.ambient_pressure_Pa,
        gas_temperature_K=supply.gas_temperature_K,
    )
    shape = shape_named(DEFAULT_SHAPE, own.discharge)
    law = ShapeLaw(shape=shape, length_m=None) if shape.correlation else shape.coefficient
    if limits.altitude_policy is None or supply.altitude_m is None:
        factor = float(
            sea_level_bore_factor(
                supply.gas, supply.gauge_pressure_Pa, supply.ambient_pressure_Pa, supply.gas_temperature_K
            )
        )
    else:
        factor = policy_factor(limits.altitude_policy, supply.altitude_m, own.altitude_policies).factor
    sized = size(supply.gas, factor * rate_W, basis, at, law)
    return model.Orifice(diameter_m=sized.diameter_m, is_calculated=True)


def _same_names(table: str, entries: tuple[Values, ...], problems: Problems, way_out: str = "") -> None:
    """Commands take names without regard to case: each must be the only one."""
    seen: dict[str, int] = {}
    for i, values in enumerate(entries):
        name = values["name"].casefold()
        if name in seen:
            what = f"is also the name of {table} {seen[name] + 1}"
            kind = "kind of burner" if table == "burner" else table
            fix = f"give each {kind} its own name{way_out}"
            problems.add((table, i, "name"), what, value=values["name"], fix=fix)
        seen.setdefault(name, i)


def _market(
    values: Values, i: int, file: ProjectFile, own: model.OwnTables, problems: Problems
) -> model.Market:
    """A market with the band of its region, or of the file; its category and policy are those of the tables."""
    region = values.get("region") or file.appliance.get("region", "")
    band = read_tolerance("default")
    with problems.at("limits", "tolerance", of="input_tolerances"):
        text, table = file.limits.get("tolerance"), own.input_tolerances
        band = region_tolerance(region, table) if text is None else read_tolerance(text, table)
    if "category" in values:
        with problems.at("market", i, "category", of="supply_pressures"):
            match_pressure(0.0, (), values["category"], own.supply_pressures)
    if "altitude_policy" in values:
        with problems.at("market", i, "altitude_policy", of="altitude_policies"):
            policy_factor(values["altitude_policy"], 0.0, own.altitude_policies)
    return model.Market(**values | {"tolerance": band})


def _burner(values: Values, i: int, own: model.OwnTables, problems: Problems) -> model.Burner:
    valve = None
    if "valve" in values:
        with problems.at("burner", i, "valve", "bore"):
            valve = _valve(values["valve"], own)
    return model.Burner(**values | {"valve": valve})


def _space(file: ProjectFile, burners: tuple[model.Burner, ...], problems: Problems) -> geometry.Space | None:
    """The geometry of a project file, checked; None when the file gives none."""
    parts = (file.grate, file.shield, file.box, file.panel, file.carry_over, file.optimise)
    if not any(parts):
        return None
    space = geometry.Space(
        grates=file.grate,
        shields=file.shield,
        boxes=file.box,
        panels=tuple(_panel(panel, i, problems) for i, panel in enumerate(file.panel)),
        bridges=file.carry_over,
        study=file.optimise or geometry.LayoutReach(),
    )
    check_space(space, burners, problems)
    return space


def _panel(values: Values, i: int, problems: Problems) -> geometry.Panel:
    sheets = []
    for k, sheet in enumerate(values["sheets"]):
        where: KeyPath = ("panel", i, "sheet", k)
        if k > 0 and "gap_m" not in sheet:
            problems.add((*where, "gap"), "is missing: the air before this sheet", fix='add gap = "20 mm"')
        if k == 0 and "gap_m" in sheet:
            fix = "give it at the next sheet outwards"
            problems.add((*where, "gap"), "stands before the innermost sheet", fix=fix)
        sheets.append(_sheet(sheet, where, problems))
    known = {row["material"]: row["touched_as"] for row in shipped.rows("panel_materials")}
    classes = {row["material"] for row in shipped.rows("touch_limits")} - NOT_TOUCHED
    touched = values.get("touched", values["sheets"][-1]["material"])
    if "touched" in values and touched not in known and touched not in classes:
        accepted = ", ".join(sorted(classes | set(known)))
        problems.add(("panel", i, "touched"), "is no material of the touch limits", accepted=accepted)
    return geometry.Panel(
        name=values["name"],
        inside_K=values["inside_K"],
        height_m=values["height_m"],
        level=values.get("posture") == "level",
        sheets=tuple(sheets),
        material=known.get(touched, touched),
    )


def _sheet(values: Values, where: KeyPath, problems: Problems) -> geometry.PanelSheet:
    """A sheet with the figures of its material where the file gives none."""
    known = {row["material"]: row for row in shipped.rows("panel_materials")}
    material = values["material"]
    row = known.get(material)
    if row is None and not {"conductivity_W_per_mK", "emissivity"} <= values.keys():
        fix = did_you_mean(material, list(known)) + ", or give conductivity and emissivity"
        problems.add((*where, "material"), "is not a known material", accepted=", ".join(known), fix=fix)
    figures: Values = dict.fromkeys(
        ("emissivity", "emissivity_low", "emissivity_high"), values.get("emissivity", 1.0)
    )
    figures["conductivity_W_per_mK"] = 1.0
    if row is not None:
        columns = ["conductivity_W_per_mK"] if "emissivity" in values else list(figures)
        figures |= {column: float(row[column]) for column in columns}
    return geometry.PanelSheet(
        **figures | {name: value for name, value in values.items() if name != "material"}
    )


@dataclass(frozen=True, slots=True)
class _Trains:
    """What stands before the burners on the present and on the new gas, with the names in it looked up."""

    file: ProjectFile
    burners: tuple[model.Burner, ...]
    own: model.OwnTables
    problems: Problems

    def train(self, key: str, supply: model.Supply) -> Train | None:
        """The train under ``supply`` or ``new_supply`` of a project file; None when the file gives none.

        supply : the gas and the pressure its figures hold for
        """
        train_parts = self._parts(key)
        parts = (
            train_parts.regulator,
            train_parts.hose,
            train_parts.pipe,
            train_parts.manifold,
            train_parts.valve,
        )
        if not any(parts) and not any("valve" in burner for burner in self.file.burner):
            lost = any(self.problems.unread.touch((key, part)) for part in ("regulator", "hose", "pipe"))
            if train_parts.inlet_Pa is not None and not lost:
                what = "stands without a regulator, hose or pipe behind it"
                self.problems.add((key, "inlet"), what, fix="describe them, or leave it out")
            return None
        self._inlet(train_parts, key, supply)
        runs = [
            made
            for kind, run in (("hose", train_parts.hose), ("pipe", train_parts.pipe))
            if run is not None and (made := self._run(key, kind, run)) is not None
        ]
        absolute = supply.gauge_pressure_Pa + supply.ambient_pressure_Pa
        train = Train(
            nominal_gauge_pressure_Pa=supply.gauge_pressure_Pa,
            gas_density_kg_per_m3=float(supply.gas.density_kg_per_m3(supply.gas_temperature_K, absolute)),
            inlet_gauge_pressure_Pa=train_parts.inlet_Pa,
            runs=tuple(runs),
            valve=self._valve(train_parts.valve, key),
            regulator=self._regulator(train_parts.regulator, key, supply),
            manifold=self._manifold(train_parts.manifold, key),
        )
        return self._checked(train, key)

    def _parts(self, key: str) -> TrainTable:
        """What the table describes; manifold and valve of the new supply are the present ones unless it has its own."""
        present: TrainTable = self.file.supply["train"]
        if key == "supply" or self.file.new_supply is None:
            return present
        own: TrainTable = self.file.new_supply["train"]
        return replace(own, manifold=own.manifold or present.manifold, valve=own.valve or present.valve)

    def _inlet(self, table: TrainTable, key: str, supply: model.Supply) -> None:
        """The pressure before hose, pipe and a regulator behind them must be there."""
        first = table.regulator is not None and table.regulator.position == "first"
        if first or table.inlet_Pa is not None or not (table.hose or table.pipe or table.regulator):
            return
        after = table.regulator.set_Pa if table.regulator is not None and table.regulator.set_Pa else 0.0
        value = inlet_above(self.problems.data, key, max(supply.gauge_pressure_Pa, after))
        what = "is missing: the pressure before hose, pipe and a regulator behind them"
        fix = f'add inlet = "{value}", with the gauge pressure that is there'
        self.problems.add(
            (key, "inlet"), what, accepted="a gauge pressure above that behind the regulator", fix=fix
        )

    def _valve(self, table: ValveTable | None, key: str) -> Valve | None:
        valve = None
        if table is not None:
            with self.problems.at(key, "valve", "bore"):
                valve = _valve(table, self.own)
        return valve

    def _checked(self, train: Train, key: str) -> Train:
        if self.problems.unread.touch((key, "regulator")) or self.problems.unread.touch((key, "pressure")):
            return train
        regulator, inlet = train.regulator, train.inlet_gauge_pressure_Pa
        if regulator is not None and inlet is not None and inlet <= regulator.set_point_Pa:
            what = "is not above the set point of the regulator"
            value = inlet_above(self.problems.data, key, regulator.set_point_Pa)
            fix = f'check both: "{value}" would be above it'
            self.problems.add((key, "inlet"), what, fix=fix)
        if regulator is not None and regulator.droop_Pa >= regulator.set_point_Pa:
            what, fix = (
                "is not below the set point",
                "give the fall of the outlet from no flow to the rated one",
            )
            self.problems.add((key, "regulator", "droop"), what, fix=fix)
        return train

    def _bore(
        self, key: str, kind: str, table: RunTable | ManifoldTable
    ) -> tuple[float, float, tuple[str, ...], Evidence] | None:
        """Bore [m], roughness [m], what was assumed, and on what that rests; None when a name is not knself.own."""
        before = len(self.problems.problems)
        size = None
        with self.problems.at(key, kind, "size", of="pipes"):
            size = None if table.size is None else size_named(table.size, self.own.pipes)
        bore = size.bore_m if size is not None else table.bore_m or 0.0
        if table.roughness_m is not None:
            return (bore, table.roughness_m, (), Evidence.ENTERED) if bore else None
        material = table.material or (size.material if size is not None else DEFAULT_MATERIAL[kind])
        walls = []
        with self.problems.at(key, kind, "material", of="roughness"):
            walls.append(roughness(material, self.own.roughness))
        if not walls or not bore or len(self.problems.problems) > before:
            return None
        (wall,) = walls
        note = Phrase(
            "roughness of {material}: {size} mm ({provenance})",
            material=material,
            size=f"{wall.value * 1e3:g}",
            provenance=wall.provenance,
        )
        return bore, wall.value, (note,), weakest(Evidence.ENTERED, wall.evidence)

    def _run(self, key: str, kind: str, table: RunTable) -> Run | None:
        known = self._bore(key, kind, table)
        total, listed, rests = 0.0, list[str](), list[Evidence]()
        for name, count in table.fittings.items():
            with self.problems.at(key, kind, "fittings", name, of="fittings"):
                one = fitting(name, self.own.fittings)
                total += count * one.value
                rests.append(one.evidence)
                listed.append(
                    Phrase(
                        "{count} x {fitting}: K {value}, {low} to {high} ({provenance})",
                        count=count,
                        fitting=one.name,
                        value=f"{one.value:g}",
                        low=f"{one.low:g}",
                        high=f"{one.high:g}",
                        provenance=one.provenance,
                    )
                )
        if known is None:
            return None
        bore, wall, assumed, evidence = known
        pipe = Pipe(
            length_m=table.length_m, diameter_m=bore, roughness_m=wall, loss_coefficient=total, name=kind
        )
        with self.problems.at(key, kind, "roughness"):
            pipe.check()
        return Run(
            kind=kind,
            pipe=pipe,
            size=table.size or "",
            assumed=(*assumed, *listed),
            evidence=weakest(evidence, *rests),
        )

    def _manifold(self, table: ManifoldTable | None, key: str) -> Manifold | None:
        if table is None:
            return None
        burners = len(self.burners)
        if self.file.new_supply is None or self.file.new_supply["train"].manifold is None:
            key = "supply"  # whose manifold serves
        spacings = table.spacings_m * burners if len(table.spacings_m) == 1 else table.spacings_m
        if len(spacings) != burners and ("burner",) not in self.problems.unread.paths:
            what = f"gives {len(spacings)} distances for {burners} kinds of burner"
            self.problems.add((key, "manifold", "spacing"), what, fix="give one, or one before each burner")
            spacings = table.spacings_m[:1] * burners
        known = self._bore(key, "manifold", table)
        if known is None:
            return None
        bore, wall, assumed, evidence = known
        return Manifold(
            diameter_m=bore, roughness_m=wall, spacings_m=spacings, assumed=assumed, evidence=evidence
        )

    def _regulator(
        self, table: RegulatorTable | None, key: str, supply: model.Supply
    ) -> TrainRegulator | None:
        """The regulator with typical figures of its kind; flows in heat are made mass flows of the supply's gas."""
        if table is None:
            return None
        kind: Typical | None = None
        with self.problems.at(key, "regulator", "type", of="regulators"):
            kind = (
                None
                if table.type is None
                else typical(
                    table.type, self.own.regulators, near_Pa=table.set_Pa or supply.gauge_pressure_Pa
                )
            )
        if table.type is not None and kind is None:
            return None
        heat = float(supply.gas.heating_value_J_per_kg(self.file.appliance["rating"]))
        total = sum(burner.rate_W * burner.count for burner in self.burners)
        figures, assumed, unknown = _figures(table, kind, supply.gauge_pressure_Pa)
        if table.rated is None and figures["droop_Pa"] > 0.0:
            assumed.append(TOTAL)
        return TrainRegulator(
            set_point_Pa=figures["set_point_Pa"],
            droop_Pa=figures["droop_Pa"],
            lock_up_Pa=figures["lock_up_Pa"],
            rated_flow_kg_per_s=_mass_flow(table.rated, heat) or total / heat,
            flow_limit_kg_per_s=_mass_flow(table.limit, heat),
            **_minimum_inlet(table, kind, figures["set_point_Pa"]),
            last=table.position == "last",
            type="" if kind is None else kind.name,
            assumed=tuple(assumed),
            unknown=tuple(unknown),
            lock_up_zone=supply_figure("lock-up zone", self.own.supply_limits).value,
            inlet_effect=_inlet_effect(table, kind),
            inlet_effect_source=_inlet_effect_source(table, kind),
            stated_inlet_Pa=table.stated_inlet_Pa,
            is_adjustable=kind is not None and kind.is_adjustable,
            spread=_regulator_spread(table, kind, figures),
        )


def _mass_flow(flow: float | MassFlow | None, heating_value_J_per_kg: float) -> float | None:
    """The flow of a regulator [kg/s]; None where the file says nothing."""
    if flow is None:
        return None
    return flow.kg_per_s if isinstance(flow, MassFlow) else flow / heating_value_J_per_kg


def _inlet_effect(table: RegulatorTable, kind: Typical | None) -> float:
    """That of the file, else of its kind; 0 where neither says."""
    if table.inlet_effect is not None:
        return table.inlet_effect
    return 0.0 if kind is None or kind.inlet_effect is None else kind.inlet_effect.value


def _inlet_effect_source(table: RegulatorTable, kind: Typical | None) -> str:
    if table.inlet_effect is not None or kind is None or kind.inlet_effect is None:
        return ""
    return kind.inlet_effect.cite()


def _regulator_spread(
    table: RegulatorTable, kind: Typical | None, figures: Mapping[str, float]
) -> RegulatorSpread | None:
    """What its kind leaves open of droop, lock-up and inlet effect, those of the file without a spread."""
    if kind is None:
        return None
    droop, lock_up, set_Pa = figures["droop_Pa"], figures["lock_up_Pa"], figures["set_point_Pa"]
    ends = {"droop": (droop, droop), "lock_up": (lock_up, lock_up)}
    if table.droop is None:
        ends["droop"] = kind.droop.low * set_Pa, kind.droop.high * set_Pa
    if table.lock_up is None:
        ends["lock_up"] = kind.lock_up.low * set_Pa, kind.lock_up.high * set_Pa
    effect = _inlet_effect(table, kind)
    effects = (effect, effect)
    if table.inlet_effect is None and kind.inlet_effect is not None:
        effects = kind.inlet_effect.low, kind.inlet_effect.high
    return RegulatorSpread(
        droop_low_Pa=ends["droop"][0],
        droop_high_Pa=ends["droop"][1],
        lock_up_low_Pa=ends["lock_up"][0],
        lock_up_high_Pa=ends["lock_up"][1],
        inlet_effect_low=effects[0],
        inlet_effect_high=effects[1],
    )


def _valve(table: ValveTable, own: model.OwnTables) -> Valve:
    """A valve by whichever of its three figures is given."""
    if table.Kv is not None:
        return valve_of_Kv(table.Kv)
    if table.Cv is not None:
        return valve_of_Cv(table.Cv)
    return valve_of_bore(table.bore_m or 0.0, table.coefficient, own.supply_limits)


def _minimum_inlet(table: RegulatorTable, kind: Typical | None, set_point_Pa: float) -> dict[str, Any]:
    """The least inlet of the file, else what this kind needs above its set point, from the set point here."""
    if table.minimum_inlet_Pa is not None or kind is None:
        return {"minimum_inlet_Pa": table.minimum_inlet_Pa}
    typical_Pa = kind.minimum_inlet_Pa
    above = typical_Pa.value - kind.set_point_Pa.value
    return {
        "minimum_inlet_Pa": set_point_Pa + above,
        "minimum_inlet_source": typical_Pa.cite(),
        "minimum_inlet_evidence": typical_Pa.evidence,
    }


def _figures(
    table: RegulatorTable, kind: Typical | None, nominal_Pa: float
) -> tuple[dict[str, float], list[str], list[str]]:
    """Set point, droop and lock-up [Pa]; those taken from the table, and those not known at all."""
    assumed: list[str] = []
    unknown: list[str] = []
    if table.set_Pa is not None:
        found = {"set_point_Pa": table.set_Pa}
    else:
        found = {"set_point_Pa": nominal_Pa}
        assumed.append("set point taken as the pressure at the manifold")
    for key, words, own in (("droop_Pa", "droop", table.droop), ("lock_up_Pa", "lock-up", table.lock_up)):
        typical_share = None if kind is None else (kind.droop if key == "droop_Pa" else kind.lock_up)
        if own is not None:
            found[key] = own.share * found["set_point_Pa"] if isinstance(own, OfSetPoint) else own
        elif typical_share is not None:
            found[key] = typical_share.value * found["set_point_Pa"]
            spread = f"{100 * typical_share.low:g} to {100 * typical_share.high:g} %"
            assumed.append(
                f"{words} {100 * typical_share.value:g} % of the set point, {spread} ({typical_share.provenance})"
            )
        else:
            found[key] = 0.0
            unknown.append(words)
    return found, assumed, unknown
