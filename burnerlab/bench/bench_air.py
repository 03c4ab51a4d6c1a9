"""A unit in the air of the bench: what its orifices let through goes with the barometer, and its rating with that."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from burnerlab.appliance.project.model import Appliance
from burnerlab.bench.decision_rule import Rating
from burnerlab.bench.reading.manifold import expected_input
from burnerlab.bench.stop import StopNotice, power_words
from burnerlab.quantity import Kind, in_unit
from burnerlab.quantity.outputs import output
from burnerlab.quantity.show import number
from burnerlab.supply.atmosphere import pressure_at_altitude_Pa

WEATHER = (
    0.04  # about the standard pressure at sea level, what weather reports give (common practice, no source)
)
OF_WEATHER_REPORT = (
    "A weather report gives the pressure reduced to sea level; with it a right unit at that altitude reads high: read "
    "the barometer where the bench stands, or enter its altitude."
)
SAME_AIR = 0.005  # of the heat input: what the weather does, and no meter and watch tell


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitInAir:
    """A unit as it should burn at the barometer of the bench, beside the place that its file or plan is for."""

    appliance: Appliance  # expected heat inputs and ratings are those of the bench's air
    share: float  # heat input at the bench over that at the place of the file [-]
    place_Pa: float  # ambient pressure of that place, absolute

    @property
    def bench_Pa(self) -> float:
        """Ambient pressure at the bench, absolute."""
        return self.appliance.supply.ambient_pressure_Pa

    @property
    def is_like_weather_report(self) -> bool:
        """Whether the air of the bench is that of sea level, and its place is not: a pressure reduced to sea level?

        >>> from burnerlab.appliance import demonstration
        >>> unit = in_air_of(demonstration(), 84300.0).appliance
        >>> in_air_of(unit, 101300.0).is_like_weather_report, in_air_of(unit, 90000.0).is_like_weather_report
        (True, False)
        """
        sea_level_Pa = pressure_at_altitude_Pa(0.0)
        return (
            self.place_Pa < sea_level_Pa * (1.0 - WEATHER)
            and abs(self.bench_Pa / sea_level_Pa - 1.0) <= WEATHER
        )

    @property
    def is_other(self) -> bool:
        """Whether a heat input read at the bench is another one at the place of the file."""
        return abs(self.share - 1.0) > SAME_AIR


def in_air_of(appliance: Appliance, ambient_Pa: float | None, burner: str | None = None) -> UnitInAir:
    """A unit of a project file in the air of a bench, its ratings with its heat input.

    At the same gauge pressure an orifice lets less gas through in thin air: a unit at its rating at sea level reads
    9 % low at 5000 ft. It is held against what it should burn where it stands.
    ambient_Pa : barometer of the bench, absolute [Pa]; None where it was not read: that of the file
    burner : the one that is on, None for all together
    Raises UserError for a burner the appliance has not.

    >>> from burnerlab.appliance import demonstration
    >>> round(in_air_of(demonstration(), 84300.0).share, 3)
    0.912
    """
    place_Pa = appliance.supply.ambient_pressure_Pa
    if ambient_Pa is None or ambient_Pa == place_Pa:
        return UnitInAir(appliance=appliance, share=1.0, place_Pa=place_Pa)
    there = replace(appliance, supply=replace(appliance.supply, ambient_pressure_Pa=ambient_Pa))
    share = expected_input(there, burner).gross_W / expected_input(appliance, burner).gross_W
    burners = tuple(replace(one, rate_W=share * one.rate_W) for one in there.burners)
    return UnitInAir(appliance=replace(there, burners=burners), share=share, place_Pa=place_Pa)


def rating_in_air(rating: Rating, air: UnitInAir, *, low: bool = False) -> Rating:
    """The rating that a reading of the bench is held against, in the air in which it was read.

    rating : at the place of file or plan; low : it is that of the low rate

    >>> from burnerlab.appliance import demonstration
    >>> from burnerlab.bench.decision_rule import decision_rule
    >>> from burnerlab.bench.unit import rating_of
    >>> air = in_air_of(demonstration(), 84300.0)
    >>> found = rating_in_air(rating_of(demonstration(), "stock-pot ring", decision_rule()), air)
    >>> round(found.heat_input_W), found.words
    (8017, 'rating in the air of the bench')
    >>> weather = in_air_of(demonstration(), 100900.0)
    >>> same = rating_of(demonstration(), "stock-pot ring", decision_rule())
    >>> rating_in_air(same, weather) is same
    True
    """
    if not air.is_other:  # the figure of the plate stays one figure
        return rating
    words = "low rate in the air of the bench" if low else "rating in the air of the bench"
    return replace(rating, heat_input_W=air.share * rating.heat_input_W, words=words)


def stops_in_air(
    stops: tuple[StopNotice, ...], air: UnitInAir | None, rating: Rating | None
) -> tuple[StopNotice, ...]:
    """Stops of a reading of the bench: an overfire says what its rating is in the air there.

    rating : in the air of the bench; None for air or rating where no file is known

    >>> from burnerlab.appliance import demonstration
    >>> from burnerlab.bench.decision_rule import decision_rule
    >>> from burnerlab.bench.stop import stop_notice
    >>> from burnerlab.bench.unit import rating_of
    >>> over = stop_notice("overfire", percent="15 %", against="the rating", read="9.2 kW", true="", why="15 % above")
    >>> air = in_air_of(demonstration(), 84300.0)
    >>> rating = rating_in_air(rating_of(demonstration(), "stock-pot ring", decision_rule()), air)
    >>> stops_in_air((over,), air, rating)[0].why
    '15 % above; in the air of the bench the rating of 8.79 kW (30 000 Btu/h) gross is 8.02 kW (27 400 Btu/h) gross'
    """
    if air is None or rating is None or not air.is_other:
        return stops
    there, here = (
        power_words(one, rating.basis) for one in (rating.heat_input_W / air.share, rating.heat_input_W)
    )
    why = f"in the air of the bench the rating of {there} is {here}"
    return tuple(
        replace(one, why=f"{one.why}; {why}" if one.why else why) if one.id == "overfire" else one
        for one in stops
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class InputAtPlace:
    """What a reading in other air says of the unit at the place of its file or plan."""

    ambient_pressure_Pa: float = field(
        metadata=output("air at the place of file or plan", Kind.ABSOLUTE_PRESSURE)
    )
    bench_ambient_pressure_Pa: float = field(metadata=output("air at the bench", Kind.ABSOLUTE_PRESSURE))
    bench_input_ratio: float = field(metadata=output("heat input at the bench over that there"))
    heat_input_gross_W: float | None = field(
        metadata=output("heat input of this reading there", Kind.POWER, basis="gross")
    )  # None where no heat input was read
    rated_input_gross_W: float | None = field(metadata=output("rating there", Kind.POWER, basis="gross"))
    text: str = field(metadata=output("at the place of file or plan"))


def input_at_place(
    air: UnitInAir, measured_gross_W: float | None = None, rating: Rating | None = None, of_gross: float = 1.0
) -> InputAtPlace | None:
    """The figure at the place of file or plan beside one of the bench; None where the air is the same.

    measured_gross_W : as read at the bench; rating : in the air of the bench; of_gross : its basis over gross [-]

    >>> from burnerlab.appliance import demonstration
    >>> found = input_at_place(in_air_of(demonstration(), 84300.0))
    >>> found.text
    'The air at the bench is 84.30 kPa (12.23 psia), that of the rating 101.3 kPa (14.70 psia).'
    """
    if not air.is_other:
        return None
    rated_W = None if rating is None else rating.heat_input_W
    here, there = (_ambient_words(one) for one in (air.bench_Pa, air.place_Pa))
    if measured_gross_W is None or rating is None or rated_W is None:
        text = f"The air at the bench is {here}, that of the rating {there}."
    else:
        read_W = measured_gross_W * of_gross
        figures = (
            power_words(one, rating.basis) for one in (read_W / air.share, rated_W / air.share, rated_W)
        )
        text = air_sentence(here, there, *figures)
    if air.is_like_weather_report:
        text = f"{text} {OF_WEATHER_REPORT}"
    return InputAtPlace(
        ambient_pressure_Pa=air.place_Pa,
        bench_ambient_pressure_Pa=air.bench_Pa,
        bench_input_ratio=air.share,
        heat_input_gross_W=None if measured_gross_W is None else measured_gross_W / air.share,
        rated_input_gross_W=None if rated_W is None else rated_W / air.share / of_gross,
        text=text,
    )


def air_sentence(here: str, there: str, read_there: str, rated_there: str, rated_here: str) -> str:
    """What a reading in other air says of the unit at its place, the figures in the units of the reader.

    >>> air_sentence("84.3 kPa", "101.3 kPa", "8.8 kW", "8.79 kW", "8.02 kW")
    'The air at the bench is 84.3 kPa, that of the rating 101.3 kPa. At 101.3 kPa this reading would be 8.8 kW; ...'
    """
    return (
        f"The air at the bench is {here}, that of the rating {there}. At {there} this reading would be "
        f"{read_there}; the rating of {rated_there} there is {rated_here} here."
    )


def _ambient_words(ambient_Pa: float) -> str:
    """A pressure of the air in both units of the trade."""
    psia = float(in_unit(ambient_Pa, Kind.ABSOLUTE_PRESSURE, "psia"))
    return f"{number(ambient_Pa / 1e3, 4)} kPa ({number(psia, 4)} psia)"
