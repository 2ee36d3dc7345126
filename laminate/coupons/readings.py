"""From the readings of like coupons to columns of numbers and the sources of their errors."""

from __future__ import annotations

import math
import re
from collections.abc import Hashable, Iterable, Mapping, Sequence
from typing import Any

import numpy as np

from laminate.coupons.instruments import Bench, Gauge
from laminate.coupons.methods import DENSITY_COLUMNS, DIMENSIONS, IMMERSION, LOSS, SATURATED, Plan
from laminate.coupons.recipes import Inputs, Recipe
from laminate.coupons.resolution import resolution_source
from laminate.files.coupons import NUMBERS, Coupon, base_name
from laminate.formulas.statistics import scatters_more
from laminate.formulas.water import water_density
from laminate.values.input_key import Key, Name
from laminate.values.uncertainty import Source, sources_of
from laminate.values.units import SIValue, Spread

Spreads = Mapping[tuple[str, str], tuple[float, float, Hashable]]
"""Of a column and its instrument, '' where none is stated: standard deviation of one reading
[SI], its degrees of freedom, and what tells it from others."""

WEIGHED_IN_LIQUID = {way: DENSITY_COLUMNS[way] for way in (IMMERSION, SATURATED)}
"""Ways of the density -> the masses that they take."""
NEARLY_WATER, NEARER_WATER = 0.05, 0.01
"""Shares by which what is said to be water, and a liquid that nobody named, differ from it at most (common
practice, no source): silicone oil and salt water differ by 3 %."""
COLDEST, HOTTEST = 273.15, 313.15
"""From where to where the density of water is known [K]."""
WATER = water_density(temperature=HOTTEST), 999.975
"""The least and the largest density of water between these [kg/m^3]."""
_PLAIN_WATER = re.compile(r"((distilled|de-?ioni[sz]ed|deminerali[sz]ed|pure|tap|di) )?water", re.I).fullmatch
CRUCIBLE = ("crucible mass", "crucible with specimen", "crucible with residue")
PREPREG_COLUMNS = ("prepreg mass", "backing mass", "fiber mass", "dried mass")


def plan_of(coupon: Coupon, bench: Bench, *, basis: str = "as received", volatiles: bool = False) -> Plan:
    """Which methods the readings of a coupon support."""
    has = coupon.has
    stated = has("liquid density") or bench.liquid_density is not None
    in_liquid = stated or (bench.liquid == "water" and has("liquid temperature"))
    area = "area" if has("area") else "sides" if has("length", "width") else ""
    area = area if has("mass in air") or has("prepreg mass") else ""
    beside = {SATURATED: in_liquid, IMMERSION: in_liquid, DIMENSIONS: area}
    ways = (way for way, columns in DENSITY_COLUMNS.items() if has(*columns))
    crucible = has(*CRUCIBLE)
    plain = has("residue mass") and (has("specimen mass") or has("mass in air"))
    prepreg = frozenset(c for c in PREPREG_COLUMNS if has(c)) if has("prepreg mass") else frozenset()
    return Plan(
        density=next((way for way in ways if beside.get(way, coupon.kind == "specimen")), ""),
        loss=(coupon.word("method") or LOSS) if crucible or plain else "",
        crucible=crucible,
        own_specimen=has("specimen mass"),
        water=not stated,
        water_within=_water_within(coupon, bench) if stated and _PLAIN_WATER(bench.liquid) else (0.0, 0.0),
        sinker=has("sinker mass in liquid"),
        wires=bench.wires,
        thickness=has("thickness"),
        area=area,
        prepreg=prepreg,
        basis=basis,
        volatiles=volatiles,
    )


def _water_within(coupon: Coupon, bench: Bench) -> tuple[float, float]:
    """Shares by which a stated density of water may differ from that of its temperature.

    Within two of its own standard uncertainties, and from where on it is that of another liquid: of one that
    nobody named nearer to water.
    """
    stated, gauge = bench.liquid_density, bench.gauge_of("liquid density", coupon)
    u = stated.u or 0.0 if stated is not None else 0.0
    if coupon.has("liquid density"):
        u = math.hypot(*(size_of(spread, WATER[1]) for spread in (gauge.repeatability, gauge.calibration)))
    named = bench.registered or coupon.has("liquid temperature")  # which is read of water alone
    return 2.0 * u / WATER[1], NEARLY_WATER if named else NEARER_WATER


def needed(plan: Plan) -> list[str]:
    """The columns that the methods of a plan read."""
    columns = [] if plan.density == DIMENSIONS else [*DENSITY_COLUMNS.get(plan.density, ())]
    if plan.density in WEIGHED_IN_LIQUID:
        columns += ["sinker mass in liquid"] if plan.sinker else []
        columns += ["liquid temperature" if plan.water else "liquid density"]
    if plan.loss and plan.crucible:
        columns += CRUCIBLE
    elif plan.loss:
        columns += ["specimen mass" if plan.own_specimen else "mass in air", "residue mass"]
    columns += ["thickness"] if plan.thickness else []
    if plan.area and (plan.density == DIMENSIONS or plan.prepreg or plan.loss):
        columns += ["area"] if plan.area == "area" else ["length", "width"]
        columns += [] if plan.prepreg else ["mass in air"]
    columns += sorted(plan.prepreg)
    return list(dict.fromkeys(columns))


def columns_of(
    coupons: Sequence[Coupon],
    plan: Plan,
    recipe: Recipe,
    bench: Bench,
    readings: Mapping[str, Any] | None = None,
    spreads: Spreads | None = None,
) -> tuple[dict[Name, Any], list[Source], list[Name]]:
    """Inputs, sources of error, and the names of inputs without a ± , for coupons that share plan and gauges.

    readings: columns (n,) or, of repeats, (n, k) [SI], in place of those of the coupons; then the first
    coupon only tells which readings there are; spreads: how repeats of all rows of their make-up scatter, in
    place of these alone.
    Returns numbers by name [SI; columns (n,) for readings], the sources, and the inputs taken as exact.
    """
    x: dict[Name, Any] = {}
    sources: list[Source] = []
    exact: list[Name] = []
    shared: dict[tuple[str, Spread], dict[str, Any]] = {}
    if readings is None:
        readings = {}
        for column in needed(plan):
            if labels := coupons[0].labelled(column):
                flat = [coupon.numbers[label] for coupon in coupons for label in labels]
                readings[column] = np.array(flat).reshape(len(coupons), len(labels))
    spreads = pooled_spreads([(coupons[0], plan, readings, {})], bench) if spreads is None else spreads
    for column in needed(plan):
        if column == "liquid density" and not coupons[0].has(column):
            continue
        gauge = bench.gauge_of(column, coupons[0])
        x[column], column_sources = _read(coupons, column, gauge, bench, readings[column], spreads)
        sources.extend(column_sources)
        if gauge.calibration:
            of_gauge = shared.setdefault((gauge.name, gauge.calibration), {})
            of_gauge[column] = size_of(gauge.calibration, x[column])
        elif all(source.rounded for source in column_sources):
            exact.append(column)
    for (name, calibration), moves in shared.items():
        key = Key("instrument", name, "calibration")
        sources.append(Source(key, moves, dof=calibration.dof, shape=calibration.shape))
    constants = constants_of(plan, recipe, bench, coupons)
    sources += sources_of(constants, recipe.causes)
    for constant, value in constants.items():
        x[constant] = value.value
        if value.u is None and value.text:
            exact.append(constant)
    for name, (spread, plies) in recipe.ply_scatters.items():
        # each coupon has plies of its own
        weight = Key("prepreg", name, "areal_weight")
        own_plies = {weight: spread.u * recipe.values[weight].value / math.sqrt(plies)}
        key = Key("prepreg", name, "ply_scatter")
        sources.append(Source(key, own_plies, shared=False, dof=spread.dof, shape=spread.shape))
    return x, sources, exact


def _read(
    coupons: Sequence[Coupon], column: str, gauge: Gauge, bench: Bench, readings: Any, spreads: Spreads
) -> tuple[Any, list[Source]]:
    """Mean (n,) of a column's readings [SI], and what each of them has alone: scatter and rounding."""
    mean, _, count = _of_table(readings)
    stated = gauge.repeatability
    repeatability = size_of(stated, mean)
    rounding = resolution_source(coupons, column, bench)
    name, size, dof = f"{column}, each reading", repeatability, stated.dof if stated else math.inf
    estimate: Hashable = None
    if count > 1:
        pooled, freedom, rows = spreads[column, gauge.name]
        # repeats that scatter more than the instrument explains speak for themselves
        if not np.any(repeatability) or scatters_more(
            deviation=pooled, dof=freedom, stated=float(np.mean(repeatability))
        ):
            step = rounding.moves[column] if rounding is not None else 0.0
            name, dof, estimate = f"{column}, spread of readings", freedom, rows
            size = np.hypot(pooled, step) * np.ones(len(mean))
    scatter = size / math.sqrt(count)
    sources: list[Source] = []
    if np.any(scatter > 0.0):
        shape = stated.shape if stated and size is repeatability else "normal"
        sources.append(Source(name, {column: scatter}, shared=False, dof=dof, shape=shape, estimate=estimate))
    return mean, [*sources, rounding] if rounding is not None else sources


def pooled_spreads(groups: Iterable[tuple[Coupon, Plan, Inputs, Inputs]], bench: Bench) -> Spreads:
    """How the repeated readings of each column scatter, over all rows of one make-up.

    groups: of rows that have the same readings a coupon, the plan, their readings by column (n, k) [SI], and
    by column which of the rows tell the scatter (n,), all where it is not said; where none does, all do.
    Source: ``s^2 = sum (k - 1) s_i^2 / sum (k - 1)``, the pooled estimate of JCGM 100:2008, 4.2.4.
    """
    repeated: dict[tuple[str, str], list[tuple[Any, Any, int]]] = {}
    for first, plan, readings, sound in groups:
        for column in needed(plan):
            if column not in readings:
                continue
            _, deviations, count = _of_table(readings[column])
            if count > 1:
                key = (column, bench.gauge_of(column, first).name)
                rows = np.asarray(sound.get(column, np.ones(len(deviations))), bool)
                repeated.setdefault(key, []).append((deviations, rows, count))
    spreads: dict[tuple[str, str], tuple[float, float, Hashable]] = {}
    for key, tables in repeated.items():
        every = not any(rows.any() for _, rows, _ in tables)
        kept = [(count - 1, each if every else each[rows]) for each, rows, count in tables]
        squares = sum(times * float(np.square(deviations).sum()) for times, deviations in kept)
        freedom = float(sum(times * len(deviations) for times, deviations in kept))
        spreads[key] = math.sqrt(squares / freedom), freedom, object()
    return spreads


def constants_of(plan: Plan, recipe: Recipe, bench: Bench, coupons: Sequence[Coupon]) -> dict[Name, SIValue]:
    """The inputs of a plan that are not read from the coupons: materials, air, liquid, wires, blanks."""
    constants = dict(recipe.values)
    if plan.density in (IMMERSION, SATURATED):
        constants["air density"] = bench.air_density
        if bench.liquid_density is not None and not coupons[0].has("liquid density"):
            constants["liquid density"] = bench.liquid_density
        if plan.wires and bench.wire_diameter and bench.beaker_diameter:
            constants["wire diameter"] = bench.wire_diameter
            constants["beaker diameter"] = bench.beaker_diameter
    if plan.loss:
        constants["residue share"], constants["fiber loss"] = bench.residue_share, bench.fiber_loss
    return constants


def _of_table(table: Any) -> tuple[Any, Any, int]:
    """Mean (n,), standard deviation (n,) and count of readings (n,) or (n, k)."""
    if table.ndim == 1 or table.shape[1] == 1:
        mean = table if table.ndim == 1 else table[:, 0]
        return mean, np.zeros(len(table)), 1
    return table.mean(axis=1), table.std(axis=1, ddof=1), table.shape[1]


def size_of(spread: Spread | None, readings: Any) -> Any:
    """What a spread comes to in each of some readings [SI], 0 where there is none."""
    if spread is None:
        return np.zeros(np.shape(readings))
    return spread.u * np.abs(readings) if spread.relative else np.full(np.shape(readings), spread.u)


def signature(coupon: Coupon, plan: Plan, bench: Bench) -> tuple[Any, ...]:
    """Coupons with equal signatures are computed together."""
    columns = needed(plan)
    labels = tuple(sorted(label for label in coupon.numbers if base_name(label) in columns))
    return (plan, labels, tuple(bench.gauge(column, coupon) for column in columns if column in NUMBERS))
