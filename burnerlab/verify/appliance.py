"""Whole conversions against pairs of cells of printed tables, and the parts of the tolerance and air models.

The pairs are made here from two cells of one publication: the cell of the present orifice gives the rating, the cell
of the new one the heat input the conversion must predict.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import lru_cache
from math import sqrt
from typing import Any

from burnerlab.appliance import Conversion, Spread, convert, read_appliance_text
from burnerlab.appliance.conversion.burner_conversion import Drawing, aeration_after
from burnerlab.appliance.conversion.result import BurnerConversion
from burnerlab.appliance.study.monte_carlo import draw
from burnerlab.appliance.study.orifice_set import OrificeDemand, SetProblem
from burnerlab.gas import gas_from_mapping
from burnerlab.orifice.drill import OWN, Drill, ToleranceBand
from burnerlab.quantity import Kind, read
from burnerlab.verify.orifice import BTU_PER_HOUR_W

Inputs = Mapping[str, Any]

DRAWS, SEED = 200_000, 1


def _gas_table(heating_value_Btu_per_ft3: float, relative_density: float) -> dict[str, Any]:
    """A gas as a table of the trade knows it; the family only tells its net value."""
    return {
        "gross_heating_value": f"{heating_value_Btu_per_ft3} Btu/ft3",
        "relative_density": relative_density,
        "reference": "US_60F_14p696_dry",
        "family": "natural gas" if relative_density < 1 else "propane",
    }


def _project(inputs: Inputs) -> str:
    """A one-burner project file with the present gas, orifice and rating of a table row."""
    if "from_gas" in inputs:
        supply, gas = f'gas = "{inputs["from_gas"]}"', ""
    else:
        table = _gas_table(inputs["from_heating_value"], inputs["from_relative_density"])
        supply = ""
        gas = "[gas]\n" + "\n".join(
            f"{k} = {v!r}" if isinstance(v, float | int) else f'{k} = "{v}"' for k, v in table.items()
        )
    orifice = f'{{ drill = "{inputs["from_drill"]}", coefficient = {inputs["coefficient"]} }}'
    return f"""
        [appliance]
        name = "one burner"
        rating = "gross"
        [supply]
        {supply}
        pressure = "{inputs["from_pressure"]}"
        gas_temperature = "60 F"
        {gas}
        [limits]
        drills = ["number"]
        [[burner]]
        name = "burner"
        rate = "{inputs["rate"]}"
        orifice = {orifice}
    """


def _converted(inputs: Inputs) -> Conversion:
    appliance = read_appliance_text(_project(inputs))
    pressure = read(inputs["to_pressure"], Kind.GAUGE_PRESSURE)
    if "to_gas" in inputs:
        return convert(appliance, inputs["to_gas"], pressure)
    new = gas_from_mapping(_gas_table(inputs["to_heating_value"], inputs["to_relative_density"]))
    return convert(appliance, new, pressure)


def converted_drill_input(inputs: Inputs) -> float:
    """Heat input that a conversion predicts for a drill it offers"""
    burner = _converted(inputs).burners[0]
    offered = {choice.drill: choice for choice in burner.choices}
    offset = 1 + float(inputs.get("known_offset_percent", 0.0)) / 100
    return offered[inputs["to_drill"]].heat_input_gross_W / BTU_PER_HOUR_W * offset


def present_drill_input(inputs: Inputs) -> float:
    """Heat input that a conversion predicts for the present orifice"""
    return _present(_converted(inputs).burners[0]) / BTU_PER_HOUR_W


def _present(burner: BurnerConversion) -> float:
    """Heat input of the present orifice, which every row gives [W]."""
    assert burner.from_predicted_gross_W is not None
    return burner.from_predicted_gross_W


def converted_diameter_ratio(inputs: Inputs) -> float:
    """New over present diameter for the heat input of the present orifice"""
    burner = _converted(inputs).burners[0]
    assert burner.exact_diameter_ratio is not None
    return burner.exact_diameter_ratio * sqrt(_present(burner) / burner.aim_gross_W)


def aeration_after_change(inputs: Inputs) -> float:
    """Primary aeration after a change of gas and orifice in an unchanged burner"""

    def drawing(prefix: str) -> Drawing:
        return Drawing(
            stoichiometric_air=inputs[f"{prefix}_air"],
            relative_density=inputs[f"{prefix}_relative_density"],
            jet_area_m2=inputs[f"{prefix}_coefficient"] * (inputs[f"{prefix}_diameter_mm"] * 1e-3) ** 2,
        )

    after = aeration_after(inputs["from_aeration_percent"] / 100, drawing("from"), drawing("to"))
    return 100 * float(after)


@lru_cache
def _sum_of_four(shape: str) -> Any:
    import numpy as np

    random = np.random.default_rng(SEED)
    unit = Spread(shape="normal", half_width=1.0, source="JCGM 101")
    if shape == "uniform":
        unit = Spread(shape="uniform", half_width=sqrt(3), source="JCGM 101")
    return sum(draw(unit, DRAWS, random) for _ in range(4))


def sum_of_four_sd(inputs: Inputs) -> float:
    """Standard deviation of a sum of four inputs of unit standard deviation, by our draws"""
    return float(_sum_of_four(inputs["shape"]).std())


def sum_of_four_end(inputs: Inputs) -> float:
    """Upper end of the 95 % interval of a sum of four inputs of unit standard deviation, by our draws"""
    import numpy as np

    return float(np.quantile(_sum_of_four(inputs["shape"]), 0.975))


def orifice_set_problem(inputs: Inputs) -> SetProblem:
    """Demands of [model/burner/gas, low, high, threads]; a stock of [part, bore, minus, plus, thread, price]."""
    demands = []
    for name, low, high, threads in inputs["demands_mm"]:
        model, burner, market = name.split("/")
        demands.append(
            OrificeDemand(
                model=model,
                burner=burner,
                market=market,
                low_m=low / 1e3,
                high_m=high / 1e3,
                exact_m=((low + high) / 2e3,),
                threads=tuple(threads),
            )
        )
    return SetProblem(demands, [_stock_orifice(*part) for part in inputs["stock_mm"]])


def _stock_orifice(part: str, bore: float, minus: float, plus: float, thread: str, price: float) -> Drill:
    low, high = (bore - minus) / 1e3, (bore + plus) / 1e3
    band = ToleranceBand(low_m=low, high_m=high, source="the stock", provenance="entered")
    return Drill(name=part, kind=OWN, diameter_m=bore / 1e3, part=part, thread=thread, price=price, band=band)


def fewest_orifices(inputs: Inputs) -> float:
    """Fewest different orifices that serve a product line from a stock"""
    return orifice_set_problem(inputs).fewest().count


def least_price_of_orifices(inputs: Inputs) -> float:
    """Least price of the orifices that serve a product line, one of each"""
    problem = orifice_set_problem(inputs)
    prices = [drill.price or 0.0 for drill in problem.drills]
    return sum(drill.price or 0.0 for drill in problem.cheapest(prices).drills)


MEASURES: dict[str, Callable[[Inputs], float]] = {
    "converted_drill_input": converted_drill_input,
    "present_drill_input": present_drill_input,
    "converted_diameter_ratio": converted_diameter_ratio,
    "aeration_after_change": aeration_after_change,
    "sum_of_four_sd": sum_of_four_sd,
    "sum_of_four_end": sum_of_four_end,
    "fewest_orifices": fewest_orifices,
    "least_price_of_orifices": least_price_of_orifices,
}
