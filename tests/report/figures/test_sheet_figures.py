"""The two figures: what they draw is what was calculated, and no label lies on another."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from burnerlab.appliance import convert, demonstration
from burnerlab.appliance.conversion.result import Conversion
from burnerlab.gas import load
from burnerlab.report import build_sheet
from burnerlab.report.figures import sheet_figures
from burnerlab.report.figures.style import RC, fit, meetings, spread
from burnerlab.report.sheet.blocks import basis_of


def drawn(conversion: Conversion) -> dict[str, str]:
    return sheet_figures.draw(conversion, build_sheet(conversion).pictures())


def test_each_orifice_lies_on_its_curve(conversion: Conversion) -> None:
    now, new = sheet_figures.curves(conversion)
    for burner in conversion.burners:
        assert now.heat_input_W(burner.from_orifice_m) == pytest.approx(
            burner.from_predicted_gross_W, rel=5e-3
        )
        assert new.heat_input_W(burner.choice.diameter_m) == pytest.approx(burner.predicted_gross_W, rel=5e-3)
        assert new.diameter_m(burner.rate_gross_W) == pytest.approx(burner.to_orifice_m, rel=5e-3)
    assert (now.gas, new.gas) == ("natural gas, typical", "propane")
    assert (now.new, new.new) == (False, True)


def test_a_burner_with_another_coefficient_has_a_curve_of_its_own(conversion: Conversion) -> None:
    first = conversion.burners[0]
    choice = replace(first.choice, heat_input_gross_W=first.choice.heat_input_gross_W * 0.9)
    other = replace(
        first, name="other", choice=choice, from_predicted_gross_W=first.from_predicted_gross_W * 0.9
    )
    curves = sheet_figures.curves(replace(conversion, burners=(*conversion.burners, other)))
    assert [curve.burners for curve in curves if "other" in curve.burners] == [("other",), ("other",)]


def test_the_drills_drawn_are_those_of_the_lists_named(conversion: Conversion) -> None:
    marks = sheet_figures.drill_marks(conversion, 0.9e-3, 1.1e-3)
    names = {mark.drill for mark in marks}
    assert {"#60", "#57", "1.05 mm"} <= names
    assert [mark.diameter_m for mark in marks] == sorted(mark.diameter_m for mark in marks)
    number_only = sheet_figures.drill_marks(replace(conversion, drill_list="number"), 0.9e-3, 1.1e-3)
    weighed = {d.drill for b in conversion.burners for d in b.choices}
    assert {m.drill for m in number_only if not m.drill.startswith("#")} <= weighed
    assert {m.drill for m in marks if m.new} == {"#57", "#63"}


def test_figures_are_the_same_twice_and_carry_no_date(conversion: Conversion) -> None:
    first, second = drawn(conversion), drawn(conversion)
    assert first == second
    for svg in first.values():
        assert "metadata" not in svg
        assert not re.search(r"20\d\d-\d\d-\d\d", svg)
        assert "<text" not in svg  # letters are outlines: the same on every machine
        assert svg.count("<title") == svg.count("<desc") == 1


def _overlaps(figure: object) -> list[tuple[str, str]]:
    """Pairs of texts of a figure that lie on each other, rotated ones left out."""
    renderer = figure.canvas.get_renderer()  # type: ignore[attr-defined]
    axes = figure.axes[0]  # type: ignore[attr-defined]
    texts = [t for t in axes.texts if t.get_text() and t.get_rotation() == 0]
    boxes = [(t.get_text(), t.get_window_extent(renderer)) for t in texts]
    return [
        (a[0], b[0])
        for i, a in enumerate(boxes)
        for b in boxes[i + 1 :]
        if a[1].x0 < b[1].x1 and b[1].x0 < a[1].x1 and a[1].y0 + 1.5 < b[1].y1 and b[1].y0 + 1.5 < a[1].y1
    ]


@pytest.mark.parametrize("system", ["metric", "US"])
@pytest.mark.parametrize("ratings", [(), (4.45, 4.70, 5.0, 5.3, 4.45), (4.4, 4.41, 4.42, 4.43, 4.44, 4.46)])
def test_no_label_lies_on_another(conversion: Conversion, system: str, ratings: tuple[float, ...]) -> None:
    import matplotlib as mpl

    first = conversion.burners[0]
    close = tuple(
        replace(first, name=f"close burner {i}", rate_gross_W=kW * 1e3, aim_gross_W=kW * 1e3)
        for i, kW in enumerate(ratings)
    )
    case = replace(conversion, burners=(*conversion.burners, *close))
    with mpl.rc_context():
        mpl.rcParams.update(RC)  # type: ignore[arg-type]
        for chart in (sheet_figures.drill_chart, sheet_figures.inputs_chart):
            figure = chart(case, system)  # type: ignore[arg-type]
            figure.canvas.draw()
            assert _overlaps(figure) == []
            width, height = figure.canvas.get_width_height()
            renderer = figure.canvas.get_renderer()
            for text in [*figure.axes[0].texts, *figure.axes[0].get_yticklabels()]:
                box = text.get_window_extent(renderer)
                assert box.x0 >= -1, text.get_text()
                assert box.x1 <= width + 1, text.get_text()
                assert box.y1 <= height + 1, text.get_text()


def test_a_text_that_a_translation_makes_longer_is_set_smaller(conversion: Conversion) -> None:
    """Beside the others nothing lies that was free in English, and every text stays in the figure."""
    import matplotlib as mpl
    from matplotlib.text import Text

    with mpl.rc_context():
        mpl.rcdefaults()
        mpl.rcParams.update(RC)  # type: ignore[arg-type]
        figure = sheet_figures.inputs_chart(conversion, "metric")
        texts = figure.findobj(Text)
        before = meetings(figure, texts)
        sizes = [text.get_fontsize() for text in texts]
        for text in texts:
            text.set_text(re.sub(r"[a-z]{3,}", lambda word: 2 * word[0], text.get_text()))
        assert meetings(figure, texts) - before
        fit(figure, texts, before)
        assert meetings(figure, texts) <= before
        assert any(text.get_fontsize() < size for text, size in zip(texts, sizes, strict=True))


@given(
    st.lists(st.floats(0, 1), min_size=1, max_size=20).map(sorted),
    st.floats(0.001, 0.2),
)
@settings(max_examples=100)
def test_labels_are_spread_in_order_inside_and_apart(wanted: list[float], gap: float) -> None:
    places = spread(wanted, gap, 0.0, 1.0)
    held = min(gap, 1.0 / max(len(wanted) - 1, 1))
    assert all(b - a >= held - 1e-9 for a, b in pairwise(places))
    assert places[0] >= -1e-9
    assert places[-1] <= 1 + 1e-9
    if all(b - a >= gap for a, b in pairwise(wanted)):
        assert places == pytest.approx(wanted)


def test_a_dollar_sign_in_a_name_is_not_a_formula(make_conversion: Callable[..., Conversion]) -> None:
    base = make_conversion()
    named = tuple(replace(b, name=f"$\\frac{{{i}}}{{0}}$ <b>") for i, b in enumerate(base.burners))
    svg = drawn(replace(base, burners=named))["inputs"]
    assert "&lt;b&gt;" in svg
    assert "<b>" not in svg


def test_a_name_in_letters_the_font_lacks_is_drawn_without_a_word_to_the_user(conversion: Conversion) -> None:
    """Warnings are errors here; the name itself is in the tables of the sheet."""
    named = tuple(replace(burner, name=f"炉 {place}") for place, burner in enumerate(conversion.burners))
    for svg in drawn(replace(conversion, burners=named)).values():
        assert svg.startswith("<svg")


def test_the_share_that_is_drawn_is_the_deviation_of_the_tables_for_a_net_rating() -> None:
    """Net over net on either gas: gross on one and a rating turned to gross on the other are 2 % apart (G20, G30)."""
    cart = demonstration()
    supply = replace(cart.supply, train=None, gas=load("G20"), gauge_pressure_Pa=2000.0)
    c = convert(replace(cart, region="eu", rating="net", supply=supply), "G30", "29 mbar")
    present = {f.burner: f.value for f in c.findings if f.topic == "present heat input"}
    basis = basis_of(c)
    assert basis.word == "net"
    assert basis.new / basis.present > 1.01
    for b in c.burners:
        now, new, low, high = sheet_figures.input_shares(c, b)
        assert 100 * (now - 1) == pytest.approx(present[b.name], abs=1e-9)
        assert now == pytest.approx(b.from_predicted_gross_W * basis.present / b.rate_net_W)
        assert new - 1 == pytest.approx(b.deviation, abs=1e-9)
        assert low < new < high
        spot = next(one for one in sheet_figures.present_spots(c) if b.name in one.burners)
        assert spot.heat_input_W / b.rate_net_W == pytest.approx(now)
    rated = {who: aim for names, aim in sheet_figures.bands(c) for who in names}
    assert rated == pytest.approx({b.name: b.rate_net_W for b in c.burners})
    pictures = sheet_figures.drill_chart(c, "metric"), sheet_figures.inputs_chart(c, "metric")
    assert "heat input of one burner, net, kW" in [text.get_text() for text in pictures[0].axes[0].texts]
    assert pictures[1].axes[0].get_xlabel() == "heat input, net, % of the rating"
