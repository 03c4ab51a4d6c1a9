"""The summary a person reads in ten seconds, in a terminal of 80 columns, with or without colour."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from functools import partial
from io import StringIO
from typing import TYPE_CHECKING

from burnerlab.appliance.conversion.convert import nearest_words
from burnerlab.appliance.conversion.evaluation_result import (
    BurnerFlames,
    Evaluation,
    Which,
    against,
    smallest,
)
from burnerlab.appliance.conversion.flame_stability import HOT_SIDE
from burnerlab.appliance.conversion.refusal import not_to_fit
from burnerlab.appliance.conversion.result import BurnerConversion, Conversion, Finding
from burnerlab.appliance.project.lookups import ENTERED
from burnerlab.orifice.drill import NONE_FITS
from burnerlab.quantity import System
from burnerlab.quantity.prose import in_print, in_reader_units
from burnerlab.quantity.quantity_text import text_in
from burnerlab.report.sheet import alternatives, burners, sections
from burnerlab.report.sheet.blocks import (
    BORE,
    FLAME_TEMPERATURE,
    LOW_PRESSURE,
    MASS_FLOW,
    POWER,
    VOLUME_FLOW,
    basis_of,
    digits,
    margin_text,
)
from burnerlab.report.sheet.burners import (
    HEAT_INPUT,
    band_words,
    evidence_words,
    has_several,
    interval_words,
    is_supplied,
    refusal_lines,
    total_words,
)
from burnerlab.report.sheet.checks import WORD, is_of_flame, outside_checks, outside_lines
from burnerlab.report.sheet.evaluation import SIDES
from burnerlab.report.sheet.terms import names_of
from burnerlab.report.sheet.wording import clean, name
from burnerlab.tables.cautions import closing_cautions
from burnerlab.tables.handbook_link import HANDBOOK
from burnerlab.tables.region import in_terms_of
from burnerlab.tables.verdict import Verdict

if TYPE_CHECKING:
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text


WIDTH = 80
LEAST_NAME = 12  # columns of a burner's name, which folds
DRILL, AS_MADE = 2, -2  # cells that fold where a row is too long
FOLDS = {DRILL: re.compile(r" (?=[(+-])"), AS_MADE: re.compile(r" (?=\+?-?[\d.]+$)")}
NEXT_LINE = " to\n"
MARK, GAP = "*", 2
CARBON_MONOXIDE = "carbon monoxide"
MOST_NAMED = 3  # checks in a line that counts the others
OF_GAS = re.compile(", (present|new) gas$")
WEIGHT = {
    Verdict.WITHIN: "",
    Verdict.NEAR: "bold",
    Verdict.OUTSIDE: "bold reverse",
    Verdict.NOT_EVALUATED: "italic",
}


def terminal(conversion: Conversion, *, system: System = "metric", console: Console | None = None) -> None:
    """Print the summary of a conversion and, last, the lines of the cautions that fit it."""
    from rich.console import Console as RichConsole

    out = console or RichConsole(highlight=False)
    summary(conversion, system=system, console=out)
    words = in_terms_of(conversion.region)
    for caution in closing_cautions("convert", *conversion.occasions):
        out.print(words(caution.line), markup=False)
    out.print()


def summary(
    conversion: Conversion,
    *,
    system: System = "metric",
    console: Console | None = None,
    has_sheet: bool = False,
    is_quiet: bool = False,
) -> None:
    """Print the tables of a conversion, without its cautions: who calls it prints them below.

    has_sheet : whether a sheet was written, to which the lines may refer
    is_quiet : the answer alone: drills, inputs, verdicts and what is outside, near or not evaluated, without the
        tables of air and margins and of altitude policies, and without the band, its source and the reference state
    Words carry every meaning, so that no colour is needed.
    """
    from rich.console import Console as RichConsole
    from rich.text import Text as RichText

    out, words = console or RichConsole(highlight=False), in_terms_of(conversion.region, names_of(conversion))
    out.print()
    _answer(conversion, system, out)
    if not is_quiet and conversion.evaluation is not None and conversion.evaluation.flames:
        out.print()
        out.print(_flames(conversion, conversion.evaluation, system, out.width))
    if (policies := alternatives.altitude_table(conversion, system)) is not None:
        out.print()
        if not is_quiet:
            out.print(policies)
        out.print(RichText(alternatives.CHOOSE))
    if (inputs := alternatives.couple_table(conversion, system)) is not None:
        out.print()
        out.print(inputs)
    for line in _lines(conversion, system, has_sheet, is_quiet):
        out.print(RichText(words(line.plain), style=line.style))
    out.print()


def terminal_text(conversion: Conversion, *, system: System = "metric", width: int = WIDTH) -> str:
    """What ``terminal`` prints as plain text of at most ``width`` columns."""
    return _plain(terminal, conversion, system, width)


def _answer(conversion: Conversion, system: System, out: Console) -> None:
    """What is changed to what, what is outside, then the orifices with what they burn."""
    from rich.text import Text as RichText

    words = in_terms_of(conversion.region, names_of(conversion))
    out.print(RichText(words(sections.title(conversion)), style="bold"), soft_wrap=False)
    out.print(RichText(words(in_reader_units(sections.change(conversion, system), system))))
    heads = (outside_lines, alternatives.altitude_head, alternatives.couple_head)
    for said in (text for head in heads for text in head(conversion)):
        out.print(RichText(words(in_reader_units(said, system)), style="bold"))
    out.print()
    out.print(_burners(conversion, system, out.width))
    for said in _other_checks(conversion):
        out.print(RichText(words(said), style="bold"))


def brief(conversion: Conversion, *, system: System = "metric", console: Console | None = None) -> None:
    """Print the orifices and the total of a conversion whose sheet is written: the rest by its number of checks."""
    from rich.console import Console as RichConsole
    from rich.text import Text as RichText

    out, words = console or RichConsole(highlight=False), in_terms_of(conversion.region, names_of(conversion))
    _answer(conversion, system, out)
    out.print(RichText(words(in_print(in_reader_units(_total_words(conversion, system), system)))))
    near = sorted(filter(_is_near, conversion.findings), key=lambda f: not is_of_flame(f))
    unknown = sorted(_open_topics(conversion), key=lambda topic: topic != CARBON_MONOXIDE)
    counted = (
        _counted("Near", [*dict.fromkeys(clean(f.topic) for f in near)]),
        _counted("Not evaluated", unknown),
        "The sheet names each.",
    )
    out.print(RichText(words(" ".join(filter(None, counted)))))


def _counted(head: str, topics: list[str]) -> str:
    """The first of some checks by name, and how many more there are.

    >>> _counted("Near", ["lift", "port rows", "port loading", "quenching", "mixing tube"])
    'Near: lift, port rows, port loading and 2 more.'
    """
    more = len(topics) - MOST_NAMED
    named = ", ".join(topics[:MOST_NAMED]) + (f" and {more} more" if more > 0 else "")
    return f"{head}: {named}." if topics else ""


def brief_text(conversion: Conversion, *, system: System = "metric", width: int = WIDTH) -> str:
    """What ``brief`` prints as plain text of at most ``width`` columns."""
    return _plain(brief, conversion, system, width)


def summary_text(
    conversion: Conversion,
    *,
    system: System = "metric",
    width: int = WIDTH,
    has_sheet: bool = False,
    is_quiet: bool = False,
) -> str:
    """What ``summary`` prints as plain text of at most ``width`` columns."""
    return _plain(partial(summary, has_sheet=has_sheet, is_quiet=is_quiet), conversion, system, width)


def _plain(printer: Callable[..., None], conversion: Conversion, system: System, width: int) -> str:

    from rich.console import Console as RichConsole

    stream = StringIO()
    printer(
        conversion,
        system=system,
        console=RichConsole(file=stream, width=width, color_system=None, highlight=False),
    )
    return "\n".join(line.rstrip() for line in stream.getvalue().splitlines()) + "\n"


def _burners(c: Conversion, system: System, width: int) -> Table:
    """A row for each burner; where a line is too long, its two widest cells fold so that no column is cropped."""
    from rich import box
    from rich.table import Table
    from rich.text import Text

    verdicts = [_verdict(c, b) for b in c.burners]
    lines = [[*_row(c, b, system), word] for b, (word, _) in zip(c.burners, verdicts, strict=True)]
    heads = [*map(in_terms_of(c.region), _heads(c, system))]
    for place, break_ in FOLDS.items():
        if _breadth(heads, lines) > width:
            for line in lines:
                line[place] = break_.sub("\n", line[place])
    longest = max((len(line[0]) for line in lines), default=LEAST_NAME)
    gap = 1 if _breadth(heads, lines) - LEAST_NAME + longest <= width else 0
    table = Table(
        box=box.SIMPLE_HEAD, show_edge=False, pad_edge=False, padding=(0, gap, 0, 0), header_style="bold"
    )
    table.add_column(heads[0], ratio=1, min_width=LEAST_NAME, overflow="fold")
    for head in heads[1:]:
        is_left = head.startswith(("now", "new ", "verdict"))
        table.add_column(head, justify="left" if is_left else "right", no_wrap=True)
    for line, (_, style) in zip(lines, verdicts, strict=True):
        table.add_row(*map(Text, line[:-1]), Text(line[-1], style=style))
    return table


def _heads(c: Conversion, system: System) -> list[str]:
    both, unit, basis = is_supplied(c), POWER.scale(system).unit, basis_of(c).word
    return [
        "burner",
        "now",
        "new drill,\nnominal %" if both else f"new drill\n(exact, {BORE.scale(system).unit})",
        f"{'all on' if both else 'nominal'}\n{basis}\n{unit}",
        *(("all\non %", "its kind\non %" if has_several(c) else "alone\n%") if both else ("deviation\n%",)),
        "worse, as\nmade, %" if both else "as made\n%",
        f"verdict\n({band_words(c).replace(' to ', NEXT_LINE)})",
    ]


def _row(c: Conversion, b: BurnerConversion, system: System) -> list[str]:
    """The cells of a burner before its verdict."""
    at, both = b.headline, is_supplied(c)
    return [
        _called(b),
        _now(b, system),
        NONE_FITS if b.name in not_to_fit(c) else _drill(b, both=both, system=system),
        _power(_burning_W(b) * basis_of(c).new, system),
        *map(_percent, (at.deviation_all_on, at.deviation_alone) if both else (at.deviation,)),
        interval_words(at),
    ]


def _breadth(heads: list[str], lines: list[list[str]]) -> int:
    """Columns a table needs whose names of burners fold."""
    cells = zip(*(line[1:] for line in (heads, *lines)), strict=True)
    return LEAST_NAME + sum(
        GAP + max(len(x) for cell in column for x in cell.split("\n")) for column in cells
    )


def _verdict(c: Conversion, b: BurnerConversion) -> tuple[str, str]:
    """The verdict of a heat input and its style; where another check is outside a mark leads to the line below."""
    at = Verdict.OUTSIDE if b.name in not_to_fit(c) else b.headline.verdict
    return at.emphatic + (MARK if outside_checks(c, b) else ""), WEIGHT[at]


def _other_checks(c: Conversion) -> list[str]:
    """Below the table, what each mark stands for: the other checks that are outside."""
    said: dict[str, list[str]] = {}
    for b in c.burners:
        if topics := outside_checks(c, b):
            why = f"{WORD}: {', '.join(topics)}"
            said.setdefault(why, []).append(name(b.name))
    none = [
        f"{name(b.name)} (nearest {clean(b.choice.drill, 12)})" for b in c.burners if b.name in not_to_fit(c)
    ]
    refused = [f"None fits, do not fit: {', '.join(none)}; figures with the nearest."] if none else []
    nearer = [nearest_words(step, c.job) for step in c.steps if step.nearest is not None]
    return [*refused, *nearer, *(f"{MARK} {', '.join(who)}: {why}." for why, who in said.items())]


def _drill(b: BurnerConversion, *, both: bool, system: System) -> str:
    """The drill taken; with its own deviation where that is not the one of the row, else with the exact bore."""
    drill = clean(b.choice.drill, 12)
    if both:
        return f"{drill} {100 * b.drill_deviation:+z.1f}"
    return f"{drill} ({_bore(b.to_orifice_m, system).split()[0]})"


def _burning_W(b: BurnerConversion) -> float:
    """Gross heat input with every burner on; at the nominal pressure where no supply is solved."""
    all_on = b.headline.deviation_all_on
    return b.predicted_gross_W if all_on is None else b.aim_gross_W * (1.0 + all_on)


def _percent(deviation: float | None) -> str:
    return "-" if deviation is None else f"{100 * deviation:+z.1f}"


def _flames(c: Conversion, evaluation: Evaluation, system: System, width: int) -> Table:
    """Primary air cold and hot, the worst margin and the pressure of each burner: a line each where it has room."""
    from rich import box
    from rich.table import Table
    from rich.text import Text

    heads = ["burner", "air cold-hot\n%, now→new", "worst margin, new gas, limit at 1\n(recalled, estimated)"]
    heads += [f"all on,\n{LOW_PRESSURE.scale(system).unit}"] if evaluation.pressures else []
    lines = []
    for burner in c.burners:
        flames, air, margin = evaluation.flames_of(burner.name), "-", "not evaluated"
        if flames is not None:
            air = "→".join(_aeration(flames, which) for which in SIDES)
            margin = in_terms_of(c.region)(
                _tile_words(evaluation, burner.name, system) or _worst_margin(flames)
            )
        pressures = "→".join(_all_on(evaluation, burner.name, which, system) for which in SIDES)
        lines.append([name(burner.name), air, margin, *([pressures] if evaluation.pressures else [])])
    longest = max((len(line[0]) for line in lines), default=LEAST_NAME)
    gap = 1 if _breadth(heads, lines) - LEAST_NAME + longest <= width else 0
    table = Table(
        box=box.SIMPLE_HEAD, show_edge=False, pad_edge=False, padding=(0, gap, 0, 0), header_style="bold"
    )
    table.add_column(heads[0], ratio=1, min_width=LEAST_NAME, overflow="fold")
    table.add_column(heads[1], no_wrap=True, justify="right")
    table.add_column(heads[2], no_wrap=_breadth(heads, lines) <= width)
    for head in heads[3:]:
        table.add_column(head, justify="right", no_wrap=True)
    for line in lines:
        table.add_row(*map(Text, line))
    return table


def _aeration(flames: BurnerFlames, which: Which) -> str:
    """Primary air, cold and hot, in per cent; cold alone where the hot one is not known or stands elsewhere."""
    at, warm = flames.full(which), flames.warm_up(which)
    if at is None or at.primary_aeration is None:
        return "-"
    hot = None if warm is None else warm.hot_primary_aeration
    return "-".join(f"{100 * band.value:.0f}" for band in (at.primary_aeration, hot) if band is not None)


def _worst_margin(flames: BurnerFlames) -> str:
    """The smallest margin on the new gas, where its limit bites, with its band; what fails now is named above."""
    warm = flames.warm_up("new")
    margins = () if warm is None else tuple(m._replace(moment=_when(m.moment)) for m in warm.margins)
    least = smallest(margins)
    if least is None:
        return "not evaluated"
    value, ends = (
        margin_text(least.band.value),
        (margin_text(end, 2) for end in (least.band.low, least.band.high)),
    )
    bound, unordered = "at least " if least.is_at_least else "", against(margins)
    text = f"{least.limit} {bound}{value} ({'-'.join(ends)}) {least.moment}"
    return f"{text}; {unordered}" if unordered else text


def _when(moment: str) -> str:
    """When a margin is taken, as short as the table needs; a pressure that is not the nominal is named.

    >>> _when("cold, highest pressure"), _when("hot, turndown")
    ('cold, highest pressure', 'hot')
    """
    return moment.removesuffix(", turndown")


def _tile_words(evaluation: Evaluation, burner: str, system: System) -> str:
    """Face temperature and air of a hot tile on both gases; "" for a burner that has none."""
    tiles = [tile for tile in evaluation.tiles if tile.burner == burner]
    scale = FLAME_TEMPERATURE.scale(system)
    if not tiles:
        return ""
    known = [tile.face_temperature_K for tile in tiles if tile.face_temperature_K is not None]
    faces = "→".join(f"{scale.of(face.value):.0f}" for face in known)
    face = f"{faces} {scale.unit}" if len(known) == len(tiles) else "not evaluated"
    air = "→".join(f"{100 * tile.hot_primary_aeration.value:.0f}" for tile in tiles)
    return f"tile face {face}, hot {air} %"


def _all_on(evaluation: Evaluation, burner: str, which: Which, system: System) -> str:
    pressures = {
        at.burner: at.gauge_pressure_all_on_Pa
        for one in evaluation.pressures
        if one.which_gas == which
        for at in one.burners
    }
    return digits(LOW_PRESSURE.scale(system).of(pressures[burner]), 3) if burner in pressures else "-"


def _called(b: BurnerConversion) -> str:
    return name(b.name) + (f" ({b.count} burners)" if b.count > 1 else "")


def _now(b: BurnerConversion, system: System) -> str:
    if b.from_orifice_m is None:
        return "-"
    return clean(b.from_drill, 12) or _bore(b.from_orifice_m, system)


def _bore(diameter_m: float, system: System) -> str:
    return BORE.scale(system).text(diameter_m)


def _power(value_W: float, system: System) -> str:
    return digits(POWER.scale(system).of(value_W), 3)


def _lines(c: Conversion, system: System, has_sheet: bool, is_quiet: bool) -> list[Text]:
    from rich.text import Text

    basis = basis_of(c)
    case = " with all burners on" if is_supplied(c) else ""
    supply = clean(text_in(c.supply_of_new_gas, system), 480)
    band = f"Band {band_words(c)} ({_band_source(c)}), heat inputs {basis.word}{case}"
    texts = [
        _total_words(c, system),
        *([f"Supply of the new gas: {supply}."] if supply else []),
        f"As made: drill and coefficient, k = 2. Evidence: {'; '.join(evidence_words(c))}.",
        *([] if is_quiet else [f"{band}; volumes at: {clean(c.reference)}."]),
        *refusal_lines(c),
        *burners.part_lines(c),
        *([] if is_quiet else burners.lines(c, system)),
    ]
    lines = [Text(in_print(in_reader_units(text, system))) for text in texts]
    lines += [Text(text, style="bold") for text in _attention(c, has_sheet)]
    return [Text(""), *lines, Text(_not_evaluated(c))]


def _total_words(c: Conversion, system: System) -> str:
    """Rated and calculated heat input of all burners, and the gas they use."""
    basis, at = basis_of(c), c.headline
    mass = MASS_FLOW.inline(c.total_mass_flow_kg_per_s, system)
    gas = f"{mass}, {VOLUME_FLOW.inline(c.total_volume_flow_m3_per_s, system)}"
    interval = f" ({interval_words(at)})"
    aim_W = at.heat_input_gross_W / (1.0 + at.deviation)
    aim = "" if c.aim_factor == 1.0 else f"aim {POWER.inline(aim_W * basis.new, system)}, "
    rated = POWER.inline(c.total_rate_gross_W * basis.new, system)
    return (
        f"All burners{' on' if is_supplied(c) else ''}: rated {rated}, {aim}"
        f"calculated {POWER.inline(at.heat_input_gross_W * basis.new, system)} {basis.word}, "
        f"{total_words(c, interval)}. Gas {gas}."
    )


def _band_source(c: Conversion) -> str:
    """Where the band is from, and that the file gives no region to choose it by."""
    source = clean(c.tolerance_source)
    return source if c.region or source == ENTERED else f"{source}; the file gives no region"


def _attention(c: Conversion, has_sheet: bool) -> list[str]:
    """Findings that are near, except heat inputs the table shows, or near for their coefficient alone.

    What is outside heads the answer. That a coefficient's spread crosses the band is said once, with the evidence.
    """
    shown = {f"{b.name}" for b in c.burners}
    heads: dict[str, list[str]] = {}
    for f in c.findings:
        is_shown = f.topic.lower() == HEAT_INPUT and f.burner in shown
        if _is_near(f) and not f.which_gas and not is_shown:
            heads.setdefault(f"near: {clean(f.topic)}", []).append(name(f.burner))
    lines = [head + (f" ({', '.join(filter(None, who))})" if any(who) else "") for head, who in heads.items()]
    near = [f for f in c.findings if _is_near(f) and f.which_gas]
    names = dict.fromkeys(f.topic for f in sorted(near, key=lambda f: not is_of_flame(f)))
    topics = [topic for topic in names if topic.split(" at ")[0] not in names or " at " not in topic]
    where = "see the sheet" if has_sheet else "figures in sheet, JSON"
    explained = _explained(c)
    if topics:
        told = clean("; ".join(_topics_by_head(topics)))
        return [*lines, f"near, {where}: {told}{f'; {explained}' if explained else ''}"]
    return [*lines, *([f"explained: {explained}"] if explained else [])]


def _explained(c: Conversion) -> str:
    """Where the handbook explains what is worst: what is outside before what is near, the flame before all else."""
    worst = sorted(
        (f for f in c.findings if f.verdict == Verdict.OUTSIDE or _is_near(f)),
        key=lambda f: (f.verdict != Verdict.OUTSIDE, not is_of_flame(f)),
    )
    address = next(filter(None, (f.handbook for f in worst)), "")
    return f"{HANDBOOK}{address}" if address else ""


def _topics_by_head(topics: Sequence[str]) -> list[str]:
    """Topics that begin with the same word and a colon after it once, what it is in the trade's words alone.

    >>> _topics_by_head(["lift", "tile: aeration", "tile: radiant efficiency, plausibility"])
    ['lift', 'tile: aeration, radiant efficiency']
    """
    heads: dict[str, list[str]] = {}
    for topic in topics:
        head, _, rest = topic.partition(": ")
        heads.setdefault(head, []).append(rest.removesuffix(", plausibility"))
    return [f"{head}: {', '.join(rest)}" if any(rest) else head for head, rest in heads.items()]


def _is_near(f: Finding) -> bool:
    """Near, and no heat input, whose interval stands beside it."""
    return f.verdict == Verdict.NEAR and (f.value_low is None or HEAT_INPUT not in f.topic)


def _open_topics(c: Conversion) -> list[str]:
    """What was not evaluated, by name."""
    topics = dict.fromkeys(OF_GAS.sub("", clean(n.topic)) for n in c.not_evaluated)
    topics |= dict.fromkeys(clean(f.topic) for f in c.findings if f.verdict == Verdict.NOT_EVALUATED)
    hot = f", {HOT_SIDE}"
    topics = dict.fromkeys(
        t.replace(hot, f" of the {HOT_SIDE}")
        for t in topics
        if t.removesuffix(hot) == t or t.removesuffix(hot) not in topics
    )
    return [*topics]


def _not_evaluated(c: Conversion) -> str:
    topics = _open_topics(c)
    texts = [f"Not evaluated: {', '.join(topics)}."] if topics else []
    flames = () if c.evaluation is None else c.evaluation.flames
    orders = dict.fromkeys(one.light_back_order for flame in flames for one in flame.warm_ups)
    texts += [f"Light-back, cold to hot: {order}, lower bounds alone." for order in orders if order]
    return " ".join(texts)
