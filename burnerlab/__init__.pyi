"""The public names, for a notebook: each stands here once, from the room it lives in.

The package reads this file for them; type checkers and editors read it for their types.
"""

__version__: str

# what the user writes
# an appliance changed to another gas
from burnerlab.appliance import ConversionTarget as ConversionTarget

# its spread in production, and many cases
from burnerlab.appliance import Spread as Spread
from burnerlab.appliance import category_supplies as category_supplies
from burnerlab.appliance import changed as changed
from burnerlab.appliance import default_spreads as default_spreads
from burnerlab.appliance import read_appliance as read_appliance
from burnerlab.appliance import supplied as supplied
from burnerlab.appliance import tolerance as tolerance
from burnerlab.appliance.conversion.convert import convert as convert
from burnerlab.appliance.conversion.evaluation import evaluate_conversion as evaluate_conversion

# where the heat lands
# air, flame and tile of a burner
from burnerlab.appliance.conversion.flame_stability import shutter_search as shutter_search
from burnerlab.appliance.conversion.flame_stability import stabilities as stabilities
from burnerlab.appliance.conversion.flame_stability import stability_diagram as stability_diagram
from burnerlab.appliance.operation.operate import operate as operate
from burnerlab.appliance.operation.regulator_curves import regulator_curves as regulator_curves
from burnerlab.appliance.project.geometry import LayoutReach as LayoutReach
from burnerlab.appliance.project.project_file import demonstration as demonstration
from burnerlab.appliance.study.design import read_study as read_study
from burnerlab.appliance.study.injector_table import injectors as injectors
from burnerlab.appliance.study.port_study import port_case as port_case
from burnerlab.appliance.study.sweep import sweep as sweep
from burnerlab.burner import Firing as Firing
from burnerlab.burner import TileBurner as TileBurner
from burnerlab.burner import evaluate_tile as evaluate_tile
from burnerlab.burner.port_region import port_region as port_region
from burnerlab.flame.burning_velocity import flame_state as flame_state

# what is this gas, and how does it burn
from burnerlab.gas import blend as blend
from burnerlab.gas import fuels as fuels
from burnerlab.gas import load as load
from burnerlab.gas import properties as properties
from burnerlab.gas.combustion_air import combustion_air as combustion_air
from burnerlab.layout.carry_over import carry_over as carry_over
from burnerlab.layout.constraints import LayoutLimits as LayoutLimits
from burnerlab.layout.cooking_surface import Emitter as Emitter
from burnerlab.layout.cooking_surface import Layout as Layout
from burnerlab.layout.cooking_surface import Surface as Surface
from burnerlab.layout.cooking_surface import grid_over as grid_over
from burnerlab.layout.grid_fit import fit_grid as fit_grid
from burnerlab.layout.heat_map import heat_map as heat_map
from burnerlab.layout.hot_panels import skins as skins
from burnerlab.layout.layout_study import layout_of as layout_of
from burnerlab.layout.layout_study import study_layout as study_layout
from burnerlab.layout.measurement import read_grid as read_grid
from burnerlab.layout.search import optimise as optimise

# how much comes through an orifice
from burnerlab.orifice import Conditions as Conditions
from burnerlab.orifice import choices_near as choices_near
from burnerlab.orifice import drill_list as drill_list
from burnerlab.orifice import flow as flow
from burnerlab.orifice import size as size
from burnerlab.quantity import Kind as Kind
from burnerlab.quantity import ReferenceState as ReferenceState
from burnerlab.quantity import UserError as UserError
from burnerlab.quantity import read as read

# how a result is shown
from burnerlab.report.data_frame import to_frame as to_frame
from burnerlab.report.figures.notebook import drill_chart as drill_chart
from burnerlab.report.figures.notebook import figure_style as figure_style
from burnerlab.report.figures.notebook import heat_map_chart as heat_map_chart
from burnerlab.report.figures.notebook import inputs_chart as inputs_chart
from burnerlab.report.figures.notebook import plan_chart as plan_chart
from burnerlab.report.figures.notebook import stability_chart as stability_chart

# at what pressure does it come
from burnerlab.supply.atmosphere import pressure_at_altitude_Pa as pressure_at_altitude_Pa
from burnerlab.supply.cylinder import Draw as Draw
from burnerlab.supply.cylinder import cylinder_named as cylinder_named
from burnerlab.supply.cylinder import hold as hold
from burnerlab.tables.cautions import cautions as cautions
