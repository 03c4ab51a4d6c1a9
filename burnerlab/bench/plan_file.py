"""The file of a test plan: its rows as JSON, read back strictly, found by its number beside the papers."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import asdict, fields
from pathlib import Path
from typing import Any

from burnerlab.appliance.project.basis import GROSS_RATED, RatedBasis
from burnerlab.bench.reading_plan import (
    FEWEST_DIGITS,
    OF_ALIKE,
    SCHEMA,
    STATES,
    CarbonMonoxideLimit,
    Plan,
    PlanChange,
    PlanRow,
    rating_values,
    row_values,
)
from burnerlab.bench.record.entry import quantities
from burnerlab.orifice.drill import Drill, ToleranceBand
from burnerlab.tables.problem import Problem, UserError

LARGEST_PLAN = 1 << 20  # bytes of a plan's file
MOST_PLANS = 64  # files of plans in one folder that are looked at
MOST_FOLDERS = 40  # below one, looked through for plans
PLAN_ENDING = "-plan.json"
LEAST_NET = 0.7  # over gross, of any gas that burns: hydrogen has 0.85


def plan_json(plan: Plan) -> str:
    """The plan as JSON; figures in SI, each row with its unit."""
    document = {
        "schema": SCHEMA,
        "number": plan.number,
        "digest": plan.digest,
        "appliance": plan.appliance,
        "model": plan.model,
        "gas": plan.gas,
        "version": plan.version,
        "region": plan.region,
        "language": plan.language,
        "rating": rating_values(plan.rated),
        "highest_pressure": plan.highest_Pa,
        "dial": plan.dial_m3,
        "occasions": None if plan.occasions is None else list(plan.occasions),
        "file_sha256": plan.file_sha256,
        "change": asdict(plan.change),
        "carbon_monoxide": None if plan.carbon_monoxide is None else asdict(plan.carbon_monoxide),
        "rows": [row_values(row) | {"unit": row.unit} for row in plan.rows],
    }
    return json.dumps(document, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def read_plan(path: Path) -> Plan:
    """The plan of a JSON file. Raises UserError for a file that is none; one that was changed is read, and says so."""
    try:
        if path.stat().st_size > LARGEST_PLAN:
            raise _no_plan(path, f"is larger than {LARGEST_PLAN >> 20} MiB")
        document = json.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise _no_plan(path, f"cannot be read: {error.strerror}") from None
    except (ValueError, RecursionError):
        raise _no_plan(path, "is not JSON") from None
    if not isinstance(document, dict) or document.get("schema") != SCHEMA:
        raise _no_plan(path, "is no test plan of this burnerlab")
    try:
        return _plan(document)
    except (KeyError, TypeError, ValueError, AttributeError, UserError):
        raise _no_plan(path, "is damaged: a value of the plan is missing or of another kind") from None


def _no_plan(path: Path, what: str) -> UserError:
    fix = "make it with burnerlab convert --out DIR"
    return UserError(Problem(what, file=path.name, key="--plan", fix=fix))


def _plan(document: Mapping[str, Any]) -> Plan:
    limit = document["carbon_monoxide"]
    change = document["change"]
    texts: dict[str, Any] = {n: _text(document[n]) for n in ("appliance", "model", "gas", "file_sha256")}
    rows = tuple(_row(row) for row in document["rows"])
    if len({row.id for row in rows}) != len(rows):
        raise ValueError("a row stands twice")
    return Plan(
        **texts,
        change=PlanChange(
            gas=_text(change["gas"]),
            gauge_pressure_Pa=float(change["gauge_pressure_Pa"]),
            altitude_m=_figure(change["altitude_m"]),
            altitude_policy=None if change["altitude_policy"] is None else _text(change["altitude_policy"]),
            category=_text(change["category"]),
            stock=tuple(_drill(one) for one in change.get("stock", ())),
            market=_text(change.get("market", "")),
            orifices=_pairs(change.get("orifices", ())),
            refused=_pairs(change.get("refused", ())),
        ),
        version=_text(document.get("version", "")),
        region=_text(document.get("region", "")),
        language=_text(document.get("language", "")),
        rated=_rated_of(document.get("rating")),
        highest_Pa=_figure(document.get("highest_pressure")),
        dial_m3=_figure(document.get("dial")),
        occasions=_occasions(document.get("occasions")),
        carbon_monoxide=None
        if limit is None
        else CarbonMonoxideLimit(limit=float(limit["limit"]), scope=_text(limit["scope"])),
        rows=rows,
        written_digest=_text(document["digest"]) or "none",
    )


def _rated_of(value: Any) -> RatedBasis:
    """Gross of a plan that was made before plans named a basis: so its rows are."""
    if value is None:
        return GROSS_RATED
    basis, of_gross = value["basis"], float(value["of_gross"])
    if basis == "gross" and of_gross == 1.0:
        return GROSS_RATED
    if basis != "net" or not LEAST_NET <= of_gross <= 1.0:
        raise ValueError("must be the basis of a rating")
    return RatedBasis(word="net", of_gross=of_gross)


def _occasions(value: object) -> tuple[str, ...] | None:
    """None of a plan that was made before plans had them: then every caution belongs to it."""
    if value is None:
        return None
    if not isinstance(value, list):
        raise ValueError("must be a list")
    return tuple(map(_text, value))


def _pairs(values: Any) -> tuple[tuple[str, str], ...]:
    return tuple((_text(first), _text(second)) for first, second in values)


def _drill(row: Mapping[str, Any]) -> Drill:
    band = row["band"]
    return Drill(
        name=_text(row["name"]),
        kind=_text(row["kind"]),
        source=_text(row["source"]),
        part=_text(row["part"]),
        thread=_text(row["thread"]),
        diameter_m=float(row["diameter_m"]),
        band=None
        if band is None
        else ToleranceBand(
            low_m=float(band["low_m"]),
            high_m=float(band["high_m"]),
            source=_text(band["source"]),
            provenance=_text(band["provenance"]),
        ),
    )


def _row(row: Mapping[str, Any]) -> PlanRow:
    values = {each.name: row[each.name] for each in fields(PlanRow) if each.name not in OF_ALIKE}
    if values["state"] not in STATES or values["quantity"] not in quantities():
        raise ValueError("a word of the plan is not known")
    texts = {name: _text(values[name]) for name in ("id", "burner", "state", "quantity", "source")}
    figures = {name: _figure(values[name]) for name in ("predicted", "low", "high")}
    made: dict[str, Any] = {"order": int(values["order"])} | texts | figures
    alike = {name: int(row[name]) for name in OF_ALIKE if name in row}
    if alike and not 1 <= alike["which"] <= alike["count"]:
        raise ValueError("a row is of no burner of those alike")
    return PlanRow(**made | alike)


def _text(value: object) -> str:
    if not isinstance(value, str) or len(value) > 1000 or not value.isprintable():
        raise ValueError("must be a text")
    return value


def _figure(value: object) -> float | None:
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise ValueError("must be a number")
    return float(value)


def plans_beside(folder: Path) -> dict[str, Plan]:
    """The plans in a folder by number; a file that is no plan is left out."""
    plans: dict[str, Plan] = {}
    for path in sorted(folder.glob(f"*{PLAN_ENDING}"))[:MOST_PLANS]:
        try:
            plan = read_plan(path)
        except UserError:
            continue
        plans[plan.number] = plan
    return plans


def plans_below(folder: Path) -> Iterator[Plan]:
    """The plans of a folder, of the folders in it, where papers are written to, and of those of each market in them."""
    if not folder.is_dir():
        return
    below = _folders_in(folder)[:MOST_FOLDERS]
    of_markets = [one for each in below for one in _folders_in(each)][:MOST_FOLDERS]
    for place in (folder, *below, *of_markets):
        yield from plans_beside(place).values()


def _folders_in(folder: Path) -> list[Path]:
    """Folders in one, by name; none of one that may not be read."""
    try:
        return sorted(one for one in folder.iterdir() if one.is_dir() and not one.name.startswith("."))
    except OSError:
        return []


def plan_named(text: str, *folders: Path) -> Plan:
    """The plan of a file, or of a number among the plans of some folders.

    text : path of the JSON file, or the number, at least its first six digits
    Raises UserError where there is none, or where a number fits more than one.
    """
    path = Path(text)
    if path.suffix == ".json" or ("\0" not in text and path.is_file()):
        return read_plan(path)
    word = text.strip().lower()
    found = {plan.number: plan for folder in dict.fromkeys(folders) for plan in plans_below(folder)}
    fitting = [
        plan for number, plan in found.items() if len(word) >= FEWEST_DIGITS and number.startswith(word)
    ]
    if len(fitting) != 1:
        what = "fits more than one plan" if fitting else "there is no plan of this number here"
        fix = f"name the file, *{PLAN_ENDING}"
        raise UserError(Problem(what, value=text, key="--plan", accepted=", ".join(sorted(found)), fix=fix))
    return fitting[0]
