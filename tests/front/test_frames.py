"""Rows of a table by themselves, and the averages of its partitions, held to the single run of `measure`."""

import importlib
import math
from importlib.resources import files
from itertools import pairwise

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import laminate as lam
from laminate.bench.sheet import columns_of, heading
from laminate.coupons import checks
from laminate.coupons.methods import DENSITY_COLUMNS
from laminate.coupons.plan_readings import columns_lacking, lacking
from laminate.files.coupons import NUMBERS, Coupon
from laminate.files.method_names import METHODS

MATERIAL = {"fiber_density": "1.79 g/cm^3 ± 0.01 (k=2)", "resin_density": "1.28 g/cm^3 ± 0.012 (k=2)"}
BENCH = {
    "balance": "0.2 mg (standard)", "balance_calibration": "0.1 mg (standard)",
    "thermometer": "0.1 K (standard)", "micrometer": "0.002 mm (standard)",
    "residue_share": "0.2 % ± 0.1 (standard)",
    "balance_resolution": "1 mg", "micrometer_resolution": "0.01 mm",
}  # fmt: skip
FAW = {"fiber_areal_weight": "150 g/m^2 ± 2 (k=2)", "plies": 20}


def table(count=12, *, loss="digestion", density="water", thickness=False, area=False):
    """Invented coupons of two zones, clean."""
    generator = np.random.default_rng(7)
    mass, rho, content, thick = (
        middle * (1 + share * generator.standard_normal(count))
        for middle, share in ((1.44, 0.02), (1.549, 0.0015), (0.677, 0.002), (2.87, 0.002))
    )
    cells = {
        "specimen": [f"{i:04d}" for i in range(count)],
        "zone": ["web" if i % 3 else "cap" for i in range(count)],
    }
    if density == "water":
        cells |= {"mass in air [g]": mass, "mass in liquid [g]": mass * (1 - 0.9975 / rho)}
        cells |= {"liquid temperature [degC]": 22.8 + 0.1 * generator.standard_normal(count)}
    if density == "given":
        cells |= {"density [g/cm^3]": rho}
    if loss:
        cells |= {"method": [loss] * count, "specimen mass [g]": mass, "residue mass [g]": mass * content}
    if thickness:
        cells |= {"thickness [mm]": thick}
    if area:
        cells |= {"mass in air [g]": mass, "length [mm]": 18 + 0 * mass, "width [mm]": 18 + 0 * mass}
    return pd.DataFrame(cells, index=[f"r{i}" for i in range(count)])


CASES = {
    "digestion": (table(), {}),
    "ignition": (table(loss="ignition"), {}),
    "crucible": (
        table()
        .assign(
            **{
                "crucible mass [g]": 20.0,
                "crucible with specimen [g]": 21.44,
                "crucible with residue [g]": 20.97,
            }
        )
        .drop(columns=["specimen mass [g]", "residue mass [g]"]),
        {},
    ),
    "density given": (table(density="given"), {}),
    "thickness": (table(loss="", thickness=True), FAW),
    "both": (table(thickness=True), FAW),
    "areal weight": (table(density="", thickness=True, area=True), FAW),
    "own degrees": (table(), {"balance": "0.2 mg (standard, dof=9)"}),
}


def close(one, other):
    return math.isclose(one, other, rel_tol=1e-12, abs_tol=1e-13)


def run(name):
    frame, more = CASES[name]
    options = MATERIAL | BENCH | more
    return frame, options


@pytest.mark.parametrize("name", CASES)
def test_each_row_is_that_of_the_single_run(name):
    frame, options = run(name)
    rows, whole = lam.measure_frame(frame, **options), lam.measure(frame, **options)
    seen = 0
    for label, row in rows.iterrows():
        specimen = whole[frame.loc[label, "specimen"]]
        for column in (c for c in rows.columns if c.endswith(" method") and row[c]):
            attribute = column.removesuffix(" method")
            value = next(c for c in rows.columns if c.startswith(f"{attribute} ["))
            quantity = getattr(specimen, attribute)
            assert close(row[value], quantity.value)
            u = row[value.replace(" [", " u [")]
            assert close(u, quantity.u) if quantity.u is not None else math.isnan(u)
            shared = [row[c] for c in rows.columns if c.startswith(f"{attribute} from ")]
            own = next(row[c] for c in rows.columns if c.startswith(f"{attribute} own variance ["))
            assert math.isclose(math.hypot(*shared) ** 2 + own, (quantity.u or 0.0) ** 2, rel_tol=1e-11)
            seen += 1
    assert seen >= 3 * len(frame)


@pytest.mark.parametrize("name", ["both", "own degrees"])
@settings(max_examples=5, deadline=None)
@given(cuts=st.lists(st.integers(0, 12), max_size=5))
def test_any_split_gives_the_averages_of_the_single_run(name, cuts):
    frame, options = run(name)
    ends = [0, *sorted(cuts), len(frame)]
    parts = [lam.measure_frame(frame.iloc[a:b], **options) for a, b in pairwise(ends)]
    pd.testing.assert_frame_equal(
        pd.concat([p for p in parts if len(p)]), lam.measure_frame(frame, **options), rtol=1e-12
    )
    found = lam.combine(parts)
    from laminate.front.measuring import measured_of
    from laminate.values.quantities import ATTRIBUTES

    single = {zone.zone: zone for zone in measured_of(frame, options).zones}
    assert set(found["zone"]) == set(single) == {"cap", "web"}
    for row in found.to_dict("records"):
        zone, per_si = single[row["zone"]], ATTRIBUTES[row["attribute"]].unit.per_si
        mean = zone.averages[row["attribute"]]
        assert (row["method"], row["n"]) == (zone.methods[row["attribute"]], mean.n)
        for ours, theirs in (
            (row["value"], mean.value),
            (row["u"], mean.standard_uncertainty),
            (row["expanded"], mean.expanded(0.95)),
        ):
            assert math.isclose(ours, theirs * per_si, rel_tol=1e-12, abs_tol=1e-13)
    assert len(found) == sum(len(zone.averages) for zone in single.values())


@pytest.mark.parametrize("name", CASES)
def test_an_empty_frame_has_the_columns_and_types(name):
    frame, options = run(name)
    none, some = lam.measure_frame(frame.head(0), **options), lam.measure_frame(frame, **options)
    assert len(none) == 0
    pd.testing.assert_series_equal(none.dtypes, some.dtypes)


@pytest.mark.parametrize(
    ("column", "value", "code"),
    [
        ("mass in liquid [g]", "1.2x", "not-a-number"),
        ("mass in liquid [g]", 3.0, "wrong-order"),
        ("mass in liquid [g]", "0,51", "not-a-number"),
        ("mass in air [g]", -1.0, "impossible-value"),
        ("residue mass [g]", None, ""),
        ("liquid temperature [degC]", None, "missing-reading"),
        ("liquid temperature [degC]", 60.0, "water-temperature"),
        ("mass in liquid [g]", 0.9, "impossible-density"),
        ("method", "burnt", "wrong-word"),
        ("specimen", "0001", "given-twice"),
        ("kind", "blank fiber", "not-of-one-row"),
        ("replaces", "0001", "not-of-one-row"),
    ],
)
def test_a_row_that_cannot_be_is_refused_at_its_label(column, value, code):
    frame, options = run("digestion")
    frame = frame.astype(object)
    if column not in frame:
        frame[column] = ""
    frame.loc["r4", column] = value
    if not code:
        assert lam.measure_frame(frame, **options).loc["r4", "fiber_volume method"] == ""
        return
    with pytest.raises(lam.Refused) as refusal:
        lam.measure_frame(frame, **options)
    assert {problem.code for problem in refusal.value.problems} == {code}
    assert all("row r4" in problem.place for problem in refusal.value.problems)


DENSITIES = {"fiber_density": "1.79 g/cm^3", "resin_density": "1.30 g/cm^3"}
WEIGHED = {"specimen": "A", "mass in air [g]": 2.0, "mass in liquid [g]": 0.73}
BURNT = {"specimen": "A", "density [g/cm^3]": 1.35, "specimen mass [g]": 2.0, "residue mass [g]": 1.2}


@pytest.mark.parametrize(
    ("row", "options", "code"),
    [
        (WEIGHED, DENSITIES, "missing-reading"),
        (WEIGHED | {"method": "digestion", "residue mass [g]": 1.3}, DENSITIES, "missing-reading"),
        (BURNT | {"method": "ignition"}, DENSITIES | {"fiber": "aramid"}, "aramid-burnt"),
    ],
)
def test_what_measure_refuses_of_a_table_is_refused_of_a_part_of_it(row, options, code):
    """Water without its temperature, and aramid that was burnt; the columns follow from the headings."""
    frame = pd.DataFrame([row], index=["r1"])
    for call in (lam.measure, lam.measure_frame):
        with pytest.raises(lam.Refused) as refusal:
            call(frame, **options)
        assert [problem.code for problem in refusal.value.problems] == [code]
        assert "row r1" in refusal.value.problems[0].place
    assert "density [g/cm^3]" in lam.measure_frame(frame.head(0), **options)


@pytest.mark.parametrize(
    ("heading", "code"),
    [("thickness 1 [mm]", "numbered-column"), ("prepreg mass [g]", "numbered-column"),
     ("thickness", "missing-unit"), ("thikness [mm]", "unknown-column")],
)  # fmt: skip
def test_a_heading_that_does_not_fit_is_refused(heading, code):
    frame, options = run("digestion")
    with pytest.raises(lam.Refused) as refusal:
        lam.measure_frame(frame.assign(**{heading: 2.8}), **options)
    assert refusal.value.problems[0].code == code


@pytest.mark.parametrize("call", [lam.measure, lam.measure_frame])
@pytest.mark.parametrize("column", ["zone", "mass in air [g]"])
def test_a_column_twice_is_one_finding(call, column):
    twice = pd.concat([table(), table()[[column]]], axis=1)
    with pytest.raises(lam.Refused) as refused:
        call(twice, **MATERIAL)
    assert [problem.code for problem in refused.value.problems] == ["duplicate-column"]


def test_floats_have_no_last_decimal_and_the_single_run_says_so():
    """Text has one, d = 0.01 mm: u = d/sqrt(12) without any other ±. Rows alone take what is given."""
    frame = pd.DataFrame({"specimen": ["a", "b"], "thickness [mm]": [2.86, 2.87]})
    floats, text = (lam.measure(f, **MATERIAL) for f in (frame, frame.astype(str)))
    assert any("resolution" in note for note in floats.to_dict()["notes"])
    assert floats.to_dict()["specimens"][0]["thickness"]["standard_uncertainty"] is None
    found = text.to_dict()["specimens"][0]["thickness"]["standard_uncertainty"]
    assert found == pytest.approx(0.01 / math.sqrt(12), rel=1e-9)
    rows = lam.measure_frame(frame, **MATERIAL, micrometer_resolution="0.01 mm")
    assert rows["thickness u [mm]"].iloc[0] == pytest.approx(0.01 / math.sqrt(12), rel=1e-9)
    assert rows["thickness from thickness, resolution [mm]"].iloc[0] == pytest.approx(found, rel=1e-9)


@pytest.mark.parametrize("count", [12, 250])
def test_floats_that_stand_as_objects_are_floats(count):
    """A cell left empty, or text beside them in their column, changes nothing of that."""
    frame, options = table(count), MATERIAL
    whole = lam.measure(frame, **options).to_dict()
    assert any("resolution" in note for note in whole["notes"])
    objects = frame.astype(object)
    assert lam.measure(objects, **options).to_dict() == whole
    text = objects["residue mass [g]"].iloc[0]
    objects.loc["r0", "residue mass [g]"] = str(text)
    assert lam.measure(objects, **options).to_dict() == whole
    assert lam.measure(frame.astype(str), **options).to_dict() != whole


@pytest.mark.parametrize("word", ["immersion", "Point  Count"])
def test_a_method_without_a_loss_of_matrix_may_be_named_as_the_plan_does(word):
    frame, options = table(loss="", thickness=True), {**MATERIAL, **BENCH, **FAW}
    named = lam.measure_frame(frame.assign(method=word), **options)
    pd.testing.assert_frame_equal(named, lam.measure_frame(frame, **options))


def test_an_excluded_row_is_computed_and_not_counted():
    frame, options = run("digestion")
    frame = frame.assign(excluded=["chipped", *[""] * 11])
    rows = lam.measure_frame(frame, **options)
    assert rows["void_content [%]"].notna().all()
    assert lam.combine([rows])["n"].max() < 12
    assert not rows["counts"].iloc[0]


def test_frames_of_other_options_are_not_combined():
    frame, options = run("digestion")
    with pytest.raises(lam.Refused):
        lam.combine([lam.measure_frame(frame, **options), lam.measure_frame(frame, **MATERIAL)])


@pytest.mark.parametrize("call", [lam.measure, lam.measure_frame])
def test_labels_that_name_two_rows_and_names_in_the_index(call):
    frame, options = run("digestion")
    twice = frame.assign(**{"residue mass [g]": frame["residue mass [g]"].astype(object)})
    twice.index = ["a", "a", *range(len(frame) - 2)]
    twice.iloc[1, twice.columns.get_loc("residue mass [g]")] = "x"
    with pytest.raises(lam.Refused) as refusal:
        call(twice, **options)
    assert refusal.value.problems[0].place.partition(",")[0].endswith("[1]")
    named = frame.assign(specimen=[f"N{i}" for i in range(len(frame))]).set_index("specimen")
    with pytest.raises(lam.Refused) as refusal:
        call(named, **options)
    assert [p.code for p in refusal.value.problems] == ["missing-column"]
    assert "reset_index" in refusal.value.problems[0].hint
    assert len(
        call(named.reset_index(names="specimen"), **options).to_frame() if call is lam.measure else named
    )


def test_frames_of_the_same_headings_and_another_density_are_not_combined():
    frame, options = run("digestion")
    other = {**options, "fiber_density": "1.82 g/cm^3 ± 0.03 (k=2)"}
    halves = [lam.measure_frame(frame.iloc[:6], **options), lam.measure_frame(frame.iloc[6:], **other)]
    assert list(halves[0].columns) == list(halves[1].columns)
    with pytest.raises(lam.Refused) as refusal:
        lam.combine(halves)
    (problem,) = refusal.value.problems
    assert problem.code == "other-options"
    assert "fiber_density" in problem.found
    assert "1.82" in problem.found


@pytest.mark.parametrize("confidence", ["99 %", 0.9])
def test_a_confidence_is_given_to_combine(confidence):
    """A row has no expanded uncertainty, and what a partition is told does not come to the averages."""
    frame, options = run("own degrees")
    with pytest.raises(TypeError):
        lam.measure_frame(frame, confidence=confidence, **options)
    rows = lam.combine([lam.measure_frame(frame, **options)], confidence=confidence)
    zones = {zone.zone: zone.average for zone in lam.measure(frame, confidence=confidence, **options).zones}
    for row in rows.to_dict("records"):
        mean = zones[row["zone"]][row["attribute"]]
        assert row["expanded"] == pytest.approx(mean.expanded_uncertainty, rel=1e-12)


def test_a_coupon_of_two_frames_is_refused_and_no_coupon_has_no_average():
    frame, options = run("digestion")
    rows = lam.measure_frame(frame, **options)
    with pytest.raises(lam.Refused) as refusal:
        lam.combine([rows, rows.iloc[:1]])
    assert [problem.code for problem in refusal.value.problems] == ["given-twice"]
    none = lam.combine([rows.iloc[:0]])
    assert (list(none.columns), len(none)) == (list(lam.combine([rows]).columns), 0)


@pytest.mark.scale
def test_partitions_of_dask_on_two_processes_are_the_single_run():
    dask = importlib.import_module("dask.dataframe")
    frame, options = run("digestion")
    with importlib.import_module("dask").config.set({"dataframe.convert-string": False}):
        parts = dask.from_pandas(frame, npartitions=3, sort=False)
        meta = lam.measure_frame(frame.head(0), **options)
        rows = parts.map_partitions(lam.measure_frame, meta=meta, **options)
        rows = rows.compute(scheduler="processes", num_workers=2)
    single = lam.measure_frame(frame, **options)
    pd.testing.assert_frame_equal(rows, single, rtol=1e-12, check_dtype=False)


@pytest.mark.parametrize("way", DENSITY_COLUMNS)
def test_a_way_of_the_density_is_known_wherever_coupons_are_read(way):
    beside = ("area", "liquid density", "residue mass", "specimen mass")
    headings = [heading(column) for column in dict.fromkeys([*DENSITY_COLUMNS[way], *beside])]
    frame = pd.DataFrame(columns=["specimen", *headings])
    assert "density [g/cm^3]" in lam.measure_frame(frame, **MATERIAL)
    with pytest.raises(lam.Refused) as refusal:
        lam.measure_frame(frame)
    assert {problem.place for problem in refusal.value.problems} == {*MATERIAL}
    if way in METHODS:
        assert {*DENSITY_COLUMNS[way]} <= {*columns_of(way)}


@pytest.mark.parametrize("method", METHODS)
def test_a_coupon_without_readings_lacks_each_method_of_its_plan(method):
    part = files("laminate.examples") / "mast" / "batch.toml"
    case, empty = lam.read_batch(part), Coupon("A", "")
    plan = case.part.plan["web"]
    assert lacking(case, empty, plan, [method])
    assert {*columns_lacking(case, ())} <= {*NUMBERS, "method"}
    assert columns_of(method)


@pytest.mark.parametrize("call", [lam.measure, lam.measure_frame])
def test_only_the_densities_that_a_figure_is_made_of_are_asked_for(call):
    wet = table(loss="")
    call(wet, balance="0.2 mg (standard)", balance_resolution="1 mg")
    thick = table(loss="", density="", thickness=True)
    fiber = {"fiber_density": MATERIAL["fiber_density"]}
    rows = call(thick, **FAW, **fiber)
    whole = call(thick, **FAW, **MATERIAL)
    if call is lam.measure:
        rows, whole = rows.to_frame(), whole.to_frame()
    volumes = [name for name in rows if name.startswith("fiber_volume [")]
    pd.testing.assert_frame_equal(rows[volumes], whole[volumes], rtol=1e-12)
    for frame, options, missing in (
        (thick, FAW, {"fiber_density"}),
        (table(loss="", thickness=True), FAW | fiber, {"resin_density"}),
        (table(), {}, set(MATERIAL)),
    ):
        with pytest.raises(lam.Refused) as refusal:
            call(frame, **options)
        assert {problem.place for problem in refusal.value.problems} == missing


@pytest.mark.parametrize("count", [12, 260])
@pytest.mark.parametrize("call", [lam.measure, lam.measure_frame])
def test_a_check_that_is_added_stops_tables_of_any_length_and_frames(call, count, monkeypatch):
    """A thickness above 2.9 mm, as no reading of these can be: from 200 rows on a table goes by columns."""

    def thick(rows):
        coupon = rows.first
        yield rows.x["thickness"] > 0.0029, lambda: coupon.problem("wrong-order", "thickness", "", "")

    monkeypatch.setattr(checks, "CHECKS", (*checks.CHECKS, thick))
    frame = table(count, thickness=True).astype(str).assign(**{"thickness [mm]": "2.87"})
    call(frame, **MATERIAL)
    frame.loc["r4", "thickness [mm]"] = "2.91"
    with pytest.raises(lam.Refused) as refusal:
        call(frame, **MATERIAL)
    assert [problem.place for problem in refusal.value.problems] == ["row r4, column 'thickness'"]
