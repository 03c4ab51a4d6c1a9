"""The page of the workbook for discharge coefficients that depend on bore and Reynolds number."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from burnerlab.appliance.conversion.result import Step
from burnerlab.orifice.discharge_coefficient import HIGHEST_COEFFICIENT, LOWEST_COEFFICIENT, ShapeLaw
from burnerlab.report.calculation_model import LAWS, SECOND, CalculationModel
from burnerlab.report.chain import Value, guarded
from burnerlab.report.sheet.wording import clean
from burnerlab.report.workbook import HEAD_ROW, NOT_EVALUATED, Workbook
from burnerlab.tables.problem import UserError

ROUNDS = 6
"""Of the search for the exact bore; the coefficient moves so little with it that each brings two digits."""
CORRELATION = {
    "drilled channel": "1/(1/(0.827-0.0085*{ratio})+20/{re}*(1+2.25*{ratio})"
    "-0.005*{ratio}/(1+7.5*LOG10(0.00015*{re})^2))",
    "thin plate": "0.5961+0.000521*(1000000/{re})^0.7+0.011*0.75*2.8",
    "long-radius nozzle": "0.9965-0.00653*SQRT(1000000/{re})",
}
"""The functions of ``orifice.discharge_coefficient`` as formulas, {re} Reynolds number, {ratio} length over bore."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CoefficientPlace:
    """A bore at which the coefficient is asked: its name, its formula in m and the state that flows."""

    key: str
    head: str
    formula: str  # {key} is a cell of the table of burners
    suffix: str = ""


def _spots(m: CalculationModel) -> tuple[CoefficientPlace, ...]:
    listed = "INDEX(drill_bores,{place}%s)*bore_unit"
    taken = "INDEX(drill_bores,{taken}+0)*bore_unit"
    spots = (
        CoefficientPlace(key="sizing", head="exact orifice", formula="{found}"),
        CoefficientPlace(key="below", head="drill below", formula=listed % ""),
        CoefficientPlace(key="above", head="drill above", formula=listed % "+1"),
        CoefficientPlace(key="taken", head="drill taken", formula=taken),
        CoefficientPlace(key="trial", head="orifice tried", formula="{trial}*bore_unit"),
    )
    return spots + (
        (CoefficientPlace(key="second", head="second gas", formula=taken, suffix=SECOND),)
        if m.has_second
        else ()
    )


FIXED = 9  # columns before those of the search


@dataclass(frozen=True, slots=True, kw_only=True)
class LawCells:
    """Where the coefficients of each burner stand: in its own row, or on the page of coefficients."""

    model: CalculationModel

    @property
    def spots(self) -> tuple[CoefficientPlace, ...]:
        return _spots(self.model)

    def of(self, step: Step, row: int, cells: dict[str, str]) -> dict[str, str]:
        """Cells of the coefficients of a burner, and the formulas of its columns that a law changes.

        row : that of the burner on the page of coefficients; cells : of the burner in the table of burners
        """
        if not isinstance(step.sized.law, ShapeLaw):
            return dict.fromkeys(
                ("sizing_coefficient", "trial_coefficient", "second_coefficient"), cells["coefficient"]
            )
        found = {spot.key: self.at(row, FIXED + 2 * ROUNDS + 3 * i + 2) for i, spot in enumerate(self.spots)}
        made = {f"{key}_coefficient": cell for key, cell in found.items()}
        made["=coefficient"] = "{taken_coefficient}+0"
        made["=bore"] = f"IF(ISNUMBER({found['sizing']}),{self.bore(row)}/bore_unit,NE)"
        made["*{ratio}"] = f"*{found['below']}/{found['sizing']}"
        made["*{ratio+1}"] = f"*{found['above']}/{found['sizing']}"
        return made

    def bore(self, row: int) -> str:
        """The cell of the exact bore [m], the last of the search."""
        return self.at(row, FIXED + 2 * ROUNDS - 1)

    def at(self, row: int, column: int) -> str:
        from xlsxwriter.utility import xl_rowcol_to_cell

        cell: str = xl_rowcol_to_cell(row, column, row_abs=True, col_abs=True)
        return f"{LAWS}!{cell}"


def laws_of(m: CalculationModel) -> dict[int, ShapeLaw]:
    """The burners whose coefficient is a law, by their place in the table of burners."""
    return {n: step.sized.law for n, step in enumerate(m.steps) if isinstance(step.sized.law, ShapeLaw)}


def add_coefficients(book: Workbook, m: CalculationModel, burner_cells: dict[int, dict[str, str]]) -> None:
    """A row for each burner whose coefficient follows a law: the search for its bore, then its coefficients.

    burner_cells : of the burners in the table of burners, by their place, with the page's name
    """
    lead = (
        "d = d(K = 1)/√K, K at the Reynolds number of the ideal jet, mass flux × d/viscosity, six times. A coefficient"
        " of your own (yellow) takes precedence over the law."
    )
    page = book.page(LAWS, "Discharge coefficients by law", lead)
    heads = [
        "Burner", "Shape", "Length of the hole [m]", "Re, least", "Re, largest", "l/d, least", "l/d, largest",
        "Own coefficient", "Bore with K = 1 [m]",
    ]  # fmt: skip
    for turn in range(1, ROUNDS + 1):
        heads += [f"K {turn}", f"Bore {turn} [m]"]
    for spot in _spots(m):
        heads += [f"Bore, {spot.head} [m]", f"K there, {spot.head}", f"K, {spot.head}"]
    book.heads(page, heads, [24, 24, *(11 for _ in heads[2:])])
    for n, law in laws_of(m).items():
        row = _LawRow(book, page, m, m.steps[n], law, HEAD_ROW + 1 + n)
        row.head()
        exact = row.search(burner_cells[n])
        found = burner_cells[n] | {"found": row.cell(FIXED + 2 * ROUNDS - 1)}
        for i, spot in enumerate(_spots(m)):
            row.spot(spot, FIXED + 2 * ROUNDS + 3 * i, found, exact)


COEFFICIENT, METRE = "0.00000", "0.0000000"


@dataclass(frozen=True, slots=True)
class _LawRow:
    """One burner on the page of coefficients."""

    book: Workbook
    page: Any
    model: CalculationModel
    step: Step
    law: ShapeLaw
    row: int

    def cell(self, column: int) -> str:
        from xlsxwriter.utility import xl_col_to_name

        return f"${xl_col_to_name(column)}{self.row + 1}"

    def write(self, column: int, formula: str, value: Value, pattern: str) -> None:
        style = self.book.number_format(pattern)
        self.book.formula(self.page, (self.row, column), guarded(formula), value, style)

    def head(self) -> None:
        """Name, shape, length and the ranges of the source; an open end stays empty."""
        shape = self.law.shape
        re, ratio = shape.reynolds, shape.length_over_diameter
        texts = (clean(self.step.burner.name), clean(shape.title), self.law.length_m)
        for column, value in enumerate((*texts, re.low, re.high, ratio.low, ratio.high)):
            self.book.cell(self.page, self.row, column, value)
        self.book.entry(self.page, (self.row, 7), None, COEFFICIENT)

    def search(self, cells: dict[str, str]) -> float:
        """The bore with a coefficient of 1, then round by round; gives the bore of the last [m]."""
        m, step, n = self.model, self.step, cells["orifices"]
        flux = m.chain[0]["mass_flux"]
        assert isinstance(flux, float)
        heat = step.sized.flow.count * flux * m.states[0].gas.heating_value_J_per_kg
        ideal = bore = math.sqrt(4.0 * step.sized.heat_input_W / (math.pi * heat))
        area = f"4*{cells['aim']}*rate_unit/(PI()*{n}*mass_flux*heating_value)"
        self.write(FIXED - 1, f"IF(AND(ISNUMBER({n}),{n}>=1),SQRT({area}),NE)", ideal, METRE)
        for place in range(FIXED, FIXED + 2 * ROUNDS, 2):
            k = min(max(_unchecked(m, self.law, bore, ""), LOWEST_COEFFICIENT), HIGHEST_COEFFICIENT)
            raw = _formula(self.law.shape.correlation, self.cell(place - 1), self.cell(2), "")
            held = f"MIN(MAX({raw},{LOWEST_COEFFICIENT:g}),{HIGHEST_COEFFICIENT:g})"
            self.write(place, f"IF(ISNUMBER({self.cell(7)}),{self.cell(7)},{held})", k, COEFFICIENT)
            bore = ideal / math.sqrt(k)
            self.write(place + 1, f"{self.cell(FIXED - 1)}/SQRT({self.cell(place)})", bore, METRE)
        return bore

    def spot(self, spot: CoefficientPlace, place: int, cells: dict[str, str], exact_m: float) -> None:
        """The bore of a spot, the coefficient there, and the same where the program gives it."""
        m, at = self.model, _bore_at(self.model, self.step, spot, exact_m)
        raw: Value = NOT_EVALUATED
        checked: Value = NOT_EVALUATED
        if isinstance(at, float):
            raw, checked = _unchecked(m, self.law, at, spot.suffix), _checked(m, self.law, at, spot.suffix)
        self.write(place, spot.formula.format_map(cells), at, METRE)
        formula = _formula(self.law.shape.correlation, self.cell(place), self.cell(2), spot.suffix)
        self.write(place + 1, formula, raw, COEFFICIENT)
        self.write(place + 2, self.inside(place, spot.suffix), checked, COEFFICIENT)

    def inside(self, place: int, suffix: str) -> str:
        """The coefficient where Reynolds number, length and itself are in the range of the source."""
        bore, coefficient, own = self.cell(place), self.cell(place + 1), self.cell(7)
        re, ratio = _reynolds(bore, suffix), f"{self.cell(2)}/{bore}"
        tests = [f"{coefficient}>={LOWEST_COEFFICIENT:g}", f"{coefficient}<={HIGHEST_COEFFICIENT:g}"]
        pairs = [(re, 3, ">="), (re, 4, "<=")]
        pairs += [] if self.law.length_m is None else [(ratio, 5, ">="), (ratio, 6, "<=")]
        tests += [f'OR({self.cell(end)}="",{value}{sign}{self.cell(end)})' for value, end, sign in pairs]
        return f"IF(ISNUMBER({own}),{own},IF(AND({','.join(tests)}),{coefficient}+0,NE))"


def _formula(correlation: str, bore: str, length: str, suffix: str) -> str:
    return CORRELATION[correlation].format(re=_reynolds(bore, suffix), ratio=f"({length}/{bore})")


def _reynolds(bore: str, suffix: str) -> str:
    return f"(mass_flux{suffix}*{bore}/viscosity{suffix})"


def reynolds(m: CalculationModel, bore_m: float, suffix: str) -> float:
    """Reynolds number of the ideal jet of a state through a bore [-]."""
    figures = next(one for state, one in zip(m.states, m.chain, strict=True) if state.suffix == suffix)
    flux, mu = figures["mass_flux"], figures["viscosity"]
    assert isinstance(flux, float)
    assert isinstance(mu, float)
    return flux * bore_m / mu


def _unchecked(m: CalculationModel, law: ShapeLaw, bore_m: float, suffix: str) -> float:
    return law.unchecked(bore_m, reynolds(m, bore_m, suffix))


def _checked(m: CalculationModel, law: ShapeLaw, bore_m: float, suffix: str) -> Value:
    """The coefficient, or "not evaluated" where the program withholds it."""
    try:
        k = law(bore_m, reynolds(m, bore_m, suffix))
    except UserError:
        return NOT_EVALUATED
    return k if LOWEST_COEFFICIENT <= k <= HIGHEST_COEFFICIENT else NOT_EVALUATED


def coefficient_at(m: CalculationModel, step: Step, bore_m: float, suffix: str) -> Value:
    """The coefficient of a burner's orifice of a bore, in a state of the chain."""
    law = step.sized.law
    if isinstance(law, ShapeLaw):
        return _checked(m, law, bore_m, suffix)
    assert isinstance(law, float)
    return law


def _bore_at(m: CalculationModel, step: Step, spot: CoefficientPlace, exact_m: float) -> Value:
    """The bore of a spot [m]; "not evaluated" beyond the ends of the list."""
    bores = [drill.diameter_m for drill in m.drills]
    below = max((bore for bore in bores if bore <= step.sized.diameter_m), default=None)
    above = min((bore for bore in bores if bore > step.sized.diameter_m), default=None)
    taken = step.choice.diameter_m
    return {
        "sizing": exact_m,
        "below": NOT_EVALUATED if below is None else below,
        "above": NOT_EVALUATED if above is None else above,
        "trial": m.first_trial_m(step),
    }.get(spot.key, taken)
