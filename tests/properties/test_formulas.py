"""What must hold whatever the numbers are: balances, inverses, derivatives by three ways."""

import math
from functools import partial

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from uncertainties import ufloat

from laminate.formulas import areal, cavity, gel_clock, immersion, matrix_loss, ply, press, water
from laminate.formulas.control_chart import beyond_limits, fourteen_alternating
from laminate.formulas.lot_scatter import consistency
from laminate.formulas.statistics import degrees_of_factor, expanded_by_terms, scatters_more, students_t

share = partial(st.floats, allow_nan=False)
densities = st.floats(900.0, 3000.0)
areal_weights = st.floats(0.02, 2.0)


@given(areal_weights, densities, share(0.05, 0.6), densities, share(0.0, 0.2))
def test_fractions_sum_to_one(fiber, fiber_density, content, resin_density, voids):
    resin = fiber * content / (1 - content)
    bare = ply.void_free_thickness(
        fiber_areal_weight=fiber,
        fiber_density=fiber_density,
        resin_areal_weight=resin,
        resin_density=resin_density,
    )
    thick = ply.thickness(void_free_thickness=bare, void_content=voids)
    v_f = ply.volume_fraction(areal_weight=fiber, density=fiber_density, thickness=thick)
    v_r = ply.volume_fraction(areal_weight=resin, density=resin_density, thickness=thick)
    assert v_f + v_r + voids == pytest.approx(1.0, abs=1e-12)
    assert areal.fiber_volume(
        plies=3, fiber_areal_weight=fiber, fiber_density=fiber_density, thickness=3 * thick
    ) == pytest.approx(v_f, rel=1e-12)
    assert areal.void_content_without_bleed(
        void_free_thickness=bare, ply_thickness=areal.ply_thickness(thickness=7 * thick, plies=7)
    ) == pytest.approx(voids, abs=1e-12)


@given(share(0.2, 0.8), st.floats(1000.0, 2500.0), densities, densities)
def test_the_two_definitions_of_void_content(content, density, fiber_density, resin_density):
    """Kaw eqs 3.16-3.24, ASTM D2734: 1 - V_f - V_r = (theoretical - measured)/theoretical."""
    contents, constituents = [content, 1 - content], [fiber_density, resin_density]
    volumes = [
        matrix_loss.volume_fraction(content=w, density=density, constituent_density=rho)
        for w, rho in zip(contents, constituents, strict=True)
    ]
    theoretical = matrix_loss.theoretical_density(contents=contents, densities=constituents)
    voids = matrix_loss.void_content(density=density, contents=contents, densities=constituents)
    assert voids == pytest.approx(1 - sum(volumes), abs=1e-12)
    assert voids == pytest.approx((theoretical - density) / theoretical, abs=1e-12)


@given(st.sampled_from(ply.RESIN_BASES), areal_weights, share(0.1, 0.6), share(0.0, 0.05))
def test_prepreg_comes_apart_and_together(basis, prepreg, content, volatiles):
    terms = {"resin_content": content, "volatiles": volatiles, "resin_basis": basis}
    fiber = ply.fiber_areal_weight(prepreg_areal_weight=prepreg, **terms)
    resin = ply.resin_areal_weight(prepreg_areal_weight=prepreg, **terms)
    assert fiber + resin + volatiles * prepreg == pytest.approx(prepreg, rel=1e-12)
    assert ply.prepreg_areal_weight(fiber_areal_weight=fiber, **terms) == pytest.approx(prepreg, rel=1e-12)


def test_the_resin_bases_are_written_as_the_contract_writes_them():
    terms = {"prepreg_areal_weight": 0.2, "resin_content": 0.35, "volatiles": 0.01}
    resin = [ply.resin_areal_weight(resin_basis=basis, **terms) for basis in ply.RESIN_BASES]
    assert resin == pytest.approx([0.2 * 0.35, 0.2 * 0.99 * 0.35, 0.2 * 0.34], rel=1e-12)
    with pytest.raises(ValueError, match=r"'dry'.* volatile-free"):
        ply.resin_areal_weight(resin_basis="dry", **terms)


def test_one_percent_of_volatiles_read_the_wrong_way():
    """By three conventions: 0.4 to 1.1 points of fiber volume on 35 % resin, 1.79 and 1.30 g/cm3."""
    volumes = []
    for basis in ply.RESIN_BASES:
        terms = {"prepreg_areal_weight": 0.2, "resin_content": 0.35, "volatiles": 0.01, "resin_basis": basis}
        fiber, resin = ply.fiber_areal_weight(**terms) / 1790, ply.resin_areal_weight(**terms) / 1300
        volumes.append(100 * fiber / (fiber + resin))
    apart = [b - a for a, b in [(volumes[0], volumes[1]), (volumes[1], volumes[2]), (volumes[0], volumes[2])]]
    assert apart == pytest.approx([0.4, 0.7, 1.1], abs=0.05)


@given(areal_weights, share(0.2, 0.5), share(0.0, 0.02), share(0.0, 0.1))
def test_resin_content_by_weighing_finds_the_bleed(prepreg, content, volatiles, bleed):
    fiber, resin = prepreg * (1 - content - volatiles), prepreg * content * (1 - bleed)
    found = ply.resin_content_by_weighing(
        charge=prepreg, part_and_trim=fiber + resin, resin_content=content, volatiles=volatiles
    )
    assert found == pytest.approx(resin / (fiber + resin), abs=1e-12)


@pytest.mark.parametrize(
    "formula", [matrix_loss.theoretical_density, partial(matrix_loss.void_content, density=1.5)]
)
def test_each_constituent_has_its_density(formula):
    with pytest.raises(ValueError, match="argument 2 is shorter"):
        formula(contents=[0.6, 0.3, 0.1], densities=[1790.0, 1220.0])


@given(share(0.3, 0.7), share(0.0, 0.05), share(0.0, 0.05))
def test_fiber_mass_undoes_the_blanks(content, residue_share, fiber_loss):
    residue = content * (1 - fiber_loss) + residue_share * (1 - content)
    found = matrix_loss.fiber_mass(
        specimen=1.0, residue=residue, residue_share=residue_share, fiber_loss=fiber_loss
    )
    assert found == pytest.approx(content, abs=1e-12)


@given(st.floats(1e-4, 1e-2), st.floats(1.0, 2.5), st.floats(0.0, 0.02), st.floats(0.0, 5e-3))
def test_immersion_finds_the_density_it_was_weighed_with(mass, specific, air, sinker):
    """Readings made from true mass and volume: buoyancy of air in air, of water in water."""
    volume, liquid, air_density = mass / (1000 * specific), 997.0, 60 * air
    in_air, in_liquid = mass - volume * air_density, mass - volume * liquid + sinker
    found = immersion.density(
        mass_in_air=in_air, mass_in_liquid=in_liquid, liquid_density=liquid, air_density=air_density,
        sinker_in_liquid=sinker,
    )  # fmt: skip
    assert found == pytest.approx(1000 * specific, rel=1e-9)


def void_content(fiber_density, resin_density, density, content):
    return matrix_loss.void_content(
        density=density, contents=[content, 1 - content], densities=[fiber_density, resin_density]
    )


REFERENCE = {"fiber_density": 1790.0, "resin_density": 1300.0, "density": 1580.0, "content": 0.65}
SPREADS = {"fiber_density": 10.0, "resin_density": 10.0, "density": 2.0, "content": 0.003}


def test_uncertainty_of_the_reference_laminate():
    """To first order: u(V_v) 0.49 points, of it 0.32, 0.33, 0.13 and 0.10 (arithmetic)."""
    shares = {}
    for name, spread in SPREADS.items():
        stepped = REFERENCE | {name: REFERENCE[name] + 1e-30j}
        shares[name] = 100 * abs(void_content(**stepped).imag / 1e-30) * spread
    assert list(shares.values()) == pytest.approx([0.32, 0.33, 0.13, 0.10], abs=0.005)
    assert math.hypot(*shares.values()) == pytest.approx(0.49, abs=0.005)


def test_three_ways_to_the_same_derivative():
    by_tags = void_content(**{name: ufloat(REFERENCE[name], SPREADS[name]) for name in REFERENCE})
    squares = 0.0
    for name, spread in SPREADS.items():
        by_step = void_content(**REFERENCE | {name: REFERENCE[name] + 1e-30j}).imag / 1e-30
        h = 1e-4 * REFERENCE[name]
        ahead = void_content(**REFERENCE | {name: REFERENCE[name] + h})
        behind = void_content(**REFERENCE | {name: REFERENCE[name] - h})
        assert by_step == pytest.approx((ahead - behind) / (2 * h), rel=1e-6)
        squares += (by_step * spread) ** 2
    assert by_tags.std_dev == pytest.approx(squares**0.5, rel=1e-12)


@pytest.mark.parametrize("formula", [water.water_density, water.water_vapor_pressure])
def test_water_by_complex_step(formula):
    stepped = formula(temperature=296.15 + 1e-30j).imag / 1e-30
    ahead, behind = formula(temperature=296.15 + 1e-3), formula(temperature=296.15 - 1e-3)
    assert stepped == pytest.approx((ahead - behind) / 2e-3, rel=1e-6)
    tagged = formula(temperature=ufloat(296.15, 0.1))
    assert tagged.std_dev == pytest.approx(0.1 * abs(stepped), rel=1e-9)


@pytest.mark.parametrize(("celsius", "said"), [(-0.5, "-0.5"), (40.2, "40.2")])
def test_water_outside_its_range(celsius, said):
    with pytest.raises(ValueError, match=f"from 0 to 40 degC, not at {said} degC"):
        water.water_density(temperature=np.array([293.15, 273.15 + celsius]))
    assert water.water_density(temperature=np.array([273.15, 313.15])).shape == (2,)
    with pytest.raises(ValueError, match=r"from 0 to 373\.946 degC, not at 400 degC"):
        water.water_vapor_pressure(temperature=673.15)


@given(st.floats(1e-3, 5e-3), areal_weights, st.floats(0.0, 1e-4), share(-0.3, 0.4))
def test_bleed_closes_the_gap(fiber, resin, layers, bleed):
    stack = partial(press.laminate_thickness, fiber=fiber, resin=resin / 1120.0)
    gap, full = stack(layers=layers, bleed=bleed), stack(layers=0.0, bleed=0.0)
    ratio = cavity.fill_ratio(stack=full, layers=layers, gap=gap)
    assert (ratio >= 1) == (bleed >= -1e-12) or abs(bleed) < 1e-9


def test_the_invented_part_by_independent_arithmetic():
    """The design's example (invented scenario): numbers worked out apart from this program.

    Web 2.957 mm hot, 20 plies: fill ratio 1.033, bleed 7.3 %, 2.856 mm, 58.7 %. Skin 2.913 mm: 1.031, 6.8 %,
    2.812 mm, 59.6 %. The core touches the laid-up stack at 97 degC, liquid full at 111 degC.
    """
    tool, hot, fiber, film = 23.6e-6, 97.0, 20 * 0.150 / 1790, 0.05e-3
    resin = 20 * ply.resin_areal_weight(
        prepreg_areal_weight=0.150 / (1 - 0.33 - 0.004), resin_content=0.33, volatiles=0.004,
        resin_basis="as received",
    )  # fmt: skip
    full = press.laminate_thickness(fiber=fiber, resin=resin / 1120.0, layers=0.0, bleed=0.0)
    grown = 1 + tool * hot
    skin = press.rigid_gap(  # a core that keeps its volume between sides that follow the tool
        side=38.60e-3, tool_growth=grown, cores=30.64e-3 * (1 + 265e-6 * 95.0) ** 3 / grown**2, walls=2
    )
    web = cavity.hot_gap_matched(gap=2.95e-3, expansion=tool, rise=hot)
    for gap, layers, printed in [
        (web, film, (2.957, 1.033, 7.3, 2.856, 58.7)),
        (skin, 0.0, (2.913, 1.031, 6.8, 2.812, 59.6)),
    ]:
        bleed = 1 - (gap - layers - fiber) * 1120.0 / resin
        cold = fiber + ply.resin_kept(resin_areal_weight=resin, bleed=bleed) / 1220 + layers
        ratio = cavity.fill_ratio(stack=full, layers=layers, gap=gap)
        found = (1e3 * gap, ratio, 100 * bleed, 1e3 * cold, 100 * fiber / cold)
        for value, text in zip(found, printed, strict=True):
            assert value == pytest.approx(text, abs=0.5 * 10.0 ** -len(str(text).partition(".")[2]))
    laid_up = 1.10 * (fiber + resin / 1220)
    for stack, celsius in [(laid_up, 97), (full, 111)]:  # k = 1: the laminate over the hot face
        bare = 38.60e-3 * grown**3
        room = press.room_left(left=bare - 2 * stack * grown**2, bare=bare, cover=1.0)
        core = press.volume_for_pressure(
            pressure=0.0, room=room, give=0.0, others=0.0, growth=1.0, bulk_modulus=1e9, bulk_modulus_rise=10
        )
        assert 23 + ((core / 30.64e-3) ** (1 / 3) - 1) / 265e-6 == pytest.approx(celsius, abs=0.5)


def test_the_gel_line_is_the_line_of_least_squares():
    """JCGM 100:2008, H.3: intercept -0.1712, slope 0.00218, s 0.0035 of 11 points; in 1/T and ln t here."""
    readings = [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511]
    corrections = [
        -0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160
    ]  # fmt: skip
    line = gel_clock.gel_line(
        temperatures=[1.0 / (1e-5 * (t - 20.0) + 1.0 / 393.15) for t in readings],
        times=np.exp(corrections).tolist(),
    )
    assert line.a == pytest.approx(-0.1712, abs=5e-5)
    assert 1e-5 * line.b == pytest.approx(0.00218, abs=5e-6)
    assert line.scatter == pytest.approx(0.0035, abs=5e-5)
    assert line.dof == 9


@pytest.mark.parametrize("temperatures", [[393.15], [393.15, 393.15]])
def test_a_gel_line_needs_two_temperatures(temperatures):
    with pytest.raises(ValueError, match="two temperatures"):
        gel_clock.gel_line(temperatures=temperatures, times=[60.0] * len(temperatures))


def test_a_value_on_its_limit_is_not_beyond_it():
    """More than three sigma: NIST/SEMATECH e-Handbook, 6.3.2."""
    assert beyond_limits(values=[3.0, -3.0, 3.5, -3.5], centre=0.0, sigma=1.0) == [2, 3]


def test_equal_values_do_not_alternate():
    assert fourteen_alternating(values=[1.0] * 20) == []
    assert fourteen_alternating(values=[0.0, 1.0] * 6 + [1.0, 1.0, 0.0, 1.0]) == []


@pytest.mark.parametrize("size", [1e-6, 1.0, 1e6])
def test_values_that_may_not_differ_are_held_to_their_own_size(size):
    """Without any variance a difference of 1e-12 of the values is rounding, one of 1e-6 is none."""
    exact = [[0.0, 0.0], [0.0, 0.0]]
    assert consistency(values=[size, size * (1.0 + 1e-12)], covariance=exact).chance == 1.0
    assert consistency(values=[size, size * (1.0 + 1e-6)], covariance=exact).chance == 0.0


@pytest.mark.parametrize("confidence", [0.90, 0.95, 0.99, 0.999])
@pytest.mark.parametrize("dof", [1.0, 2.5, 30.0, 999.0, 1000.0, 1500.0, 1e5])
def test_a_coverage_factor_and_its_degrees_of_freedom(confidence, dof):
    factor = students_t(confidence=np.array([confidence]), dof=dof)
    assert factor[0] == pytest.approx(stats.t.ppf((1.0 + confidence) / 2.0, dof), rel=2e-13)
    found = degrees_of_factor(factor=factor, confidence=confidence)
    assert found[0] == pytest.approx(dof, rel=1e-9)


@pytest.mark.parametrize("factor", [0.0, 1.0, 1.959963984540054])
def test_a_factor_of_the_normal_distribution_has_endless_degrees(factor):
    assert degrees_of_factor(factor=factor, confidence=0.95) == math.inf


def test_at_its_pressure_a_room_is_in_balance():
    room = {
        "cores": [0.52, 0.54], "bulk_moduli": [0.9e9, 1.1e9], "bulk_modulus_rises": [10.0, 8.0],
        "room": 1.0, "give": 2e-10,
    }  # fmt: skip
    full = press.pressure(**room)
    laws = zip(room["cores"], room["bulk_moduli"], room["bulk_modulus_rises"], strict=True)
    squeezed = [
        core * press.compression(pressure=full, bulk_modulus=modulus, bulk_modulus_rise=rise)
        for core, modulus, rise in laws
    ]
    assert full > 0.0
    assert sum(squeezed) - room["room"] - room["give"] * full == pytest.approx(0.0, abs=1e-12)
    assert press.pressure(**room | {"cores": [0.45, 0.54]}) == 0.0


def test_each_term_has_its_degrees_of_freedom():
    with pytest.raises(ValueError, match="argument 2 is longer"):
        expanded_by_terms(contributions=[1.0, 2.0], dofs=[3.0], confidence=0.95)


@pytest.mark.parametrize("size", [1e-6, 1.0, 1e6])
def test_scatter_is_held_to_what_was_stated_in_any_unit(size):
    """F(95 %; 2, 20) = 3.493, NIST/SEMATECH e-Handbook 1.3.6.7.3: s/sigma up to 1.869."""
    for ratio, more in ((1.86, False), (1.88, True)):
        assert scatters_more(deviation=ratio * size, dof=2.0, stated=size, stated_dof=20.0) is more
