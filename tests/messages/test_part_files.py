"""Part files with one mistake each: code, place, what the catalog says, and exit status 2."""

import pytest

from laminate.values.problems import did_you_mean

GEL = 'gel_time = [["120 degC", "28 min"], ["150 degC", "10 min"]]\n'
TESTED = 'gel_test = "prepreg"\nreleases = "nothing"\n'
INSERT = 'inner_material = "steel 4140"\ninner_half_width = "16 mm"\nouter_half_width = "15 mm"\n'
FILM = 'thickness = "0.05 mm"\ncounts_as = "neither"'
STANDING = '[["0 min", "23 degC"], ["0 min", "120 degC"]]'

# case of the catalog, which holds code and place -> text, what a person made of it
CASES = {
    "a bare ±": ("1.79 g/cm^3 ± 0.01 (k=2)", "1.79 g/cm^3 ± 0.01"),
    "a mass for a length": ("2.95 mm ± 0.03", "2.95 g ± 0.03"),
    "no unit": ('clamp_force = "900 kN"', "clamp_force = 600"),
    "infinite": ('"900 kN"', '"inf kN"'),
    "not a number": ('"900 kN"', '"nan kN"'),
    "an unknown key": ("bulk_factor", "bulk_facter"),
    "an unknown word": ('kind = "carbon"', 'kind = "carbn"'),
    "both areal weights": (
        "fiber_areal_weight =",
        'prepreg_areal_weight = "225 g/m^2"\nfiber_areal_weight =',
    ),
    "no areal weight": ('fiber_areal_weight = "150 g/m^2 ± 2 (tolerance)"\n', ""),
    "volatiles without a basis": ('resin_basis = "as received"\n', ""),
    "confidence and factor": ('confidence = "95 %"', 'confidence = "95 %"\ncoverage_factor = 2'),
    "an unknown attribute": ("[limits.void_content]", "[limits.void_contents]"),
    "a limit with ±": ('max = "2 %"', 'max = "2 % ± 0.1 (k=2)"'),
    "limits the wrong way round": ('min = "2.75 mm", max = "2.95 mm"', 'min = "2.95 mm", max = "2.75 mm"'),
    "limits of two kinds": ('min = "122 degC", max = "128 degC"', 'min = "122 degC", max = "128 MPa"'),
    "an average limit of another kind": (
        '{ min = "122 degC", max = "128 degC" }',
        '{ min = "122 degC", max = "128 degC" }\naverage = { min = "124" }',
    ),
    "a plan of no zone": ("[plan.web]", "[plan.wep]"),
    "an unknown method": ('["immersion"', '["imersion"'),
    "an unknown prepreg": ('"4 ud150", "1 film"', '"4 ud15", "1 film"'),
    "a count without a name": ('"1 film"', '"film"'),
    "another format": ("format = 1", "format = 2"),
    "a number for text": ('number = "MAST-04"', "number = 4"),
    "text for a number": ("coupons = 3", 'coupons = "3"'),
    "no coupon": ("coupons = 3", "coupons = 0"),
    "three walls": ("walls = 2", "walls = 3"),
    "denser when liquid": ("1.12 g/cm^3 ± 0.02", "1.25 g/cm^3 ± 0.02"),
    "no fiber left": ('resin_content = "33 % ± 1 (tolerance)"', 'resin_content = "99.8 %"'),
    "nothing but resin": ('resin_content = "33 % ± 1 (tolerance)"', 'resin_content = "100 %"'),
    "no TOML": ("format = 1", "format 1"),
    "gel hotter than cure": ('gel = "120 degC', 'gel = "128 degC'),
    "a gap and a room": ('wanted_pressure = "0.7 MPa"', 'room = "skin"\nside = "length"'),
    "a cavity without a core": ('gap = "2.95 mm', 'cavity = "38.60 mm"\ngap = "2.95 mm'),
    "one half-width": ('gap = "2.95 mm', 'inner_half_width = "3 mm"\ngap = "2.95 mm'),
    "a share without a room": ('gap = "2.95 mm', 'share = "50 %"\ngap = "2.95 mm'),
    "a sensor of nothing": ('gap = "2.95 mm', 'sensors = { laminat = 1 }\ngap = "2.95 mm'),
    "methods named twice": ("coupons = 3", "coupons = { immersion = 3 }"),
    "fields of no count of points": ("coupons = 3", "coupons = 3\nfields = 3"),
    "a scatter of nothing": ("coupons = 3", 'coupons = 3\npooled_scatter = { thikness = "1 mm" }'),
    "represented by nothing": ('represented_by = "web"', 'represented_by = "wep"'),
    "a tool above the maximum": ("[tool]\n", '[tool]\nmaximum = "150 degC"\n'),
    "a core below its mean": ('maximum = "130 degC ± 2', 'maximum = "100 degC ± 2'),
    "a volume beside sizes": ("[core.fore]\n", '[core.fore]\nvolume = "30 cm^3"\n'),
    "a gel time without its test": ("[resin.epoxy]\n", f'[resin.epoxy]\nreleases = "nothing"\n{GEL}'),
    "one gel time": ("[resin.epoxy]\n", f"[resin.epoxy]\n{TESTED}{GEL.partition(', [')[0]}]\n"),
    "gel times that rise": ("[resin.epoxy]\n", f"[resin.epoxy]\n{TESTED}{GEL.replace('28', '2')}"),
    "times that stand": ("[plan.web]", f"[cycle.slow]\nplaten = {STANDING}\n[plan.web]"),
    "a plan of one point": ("[plan.web]", '[cycle.slow]\nplaten = [["0 min", "23 degC"]]\n[plan.web]'),
    "a time without its value": (
        "[plan.web]",
        '[cycle.a]\nplaten = [["0 min"], ["9 min", "23 degC"]]\n[plan.web]',
    ),
    "a layer of nearly nothing": ('thickness = "0.05 mm"', 'thickness = "50 mm"'),
    "a layer denser than any metal": ('areal_weight = "60 g/m^2"', 'areal_weight = "60 oz/yd^2"'),
    "a resin film of tenfold thickness": (FILM, FILM.replace("0.05", "0.5").replace("neither", "resin")),
    "a scrim of 25-fold thickness": (FILM, FILM.replace("0.05 mm", "0.05 in").replace("neither", "fiber")),
    "an expansion ten times that of its material": ('"23.6e-6 /K', '"23.6e-5 /K'),
    "an expansion of the other sign": ('"23.6e-6 /K', '"-23.6e-6 /K'),
    "a projected area of another unit": ('projected_area = "0.006 m^2', 'projected_area = "0.006 cm^2'),
    "a core wider than its tool": ('gap = "2.95 mm', f'{INSERT}gap = "2.95 mm'),
    "asked of no table": ("[part]\n", '[part]\nasks = ["lots.ud150.resin_content"]\n'),
    "a zone that is no table": ("[plan.web]", "[zone]\ntip = 3\n[plan.web]"),
}


@pytest.mark.parametrize("case", CASES)
@pytest.mark.parametrize("command", ["predict", "fill"])
def test_one_mistake_in_a_part_file(case, command, shop):
    shop.change("part.toml", *CASES[case])
    (problem,) = shop.refused(f"part file: {case}", command, "part.toml")
    assert problem["file"] == "part.toml"


def test_layers_that_leave_a_cured_ply_nothing(shop):
    """600 g/m^2 are 0.49 mm of epoxy, of which 60 % bleed; a ply of 150 g/m^2 has 0.15 mm."""
    film = FILM.replace("0.05 mm", "0.5 mm").replace("neither", "resin")
    shop.change("part.toml", f'areal_weight = "60 g/m^2"\n{FILM}', f'areal_weight = "600 g/m^2"\n{film}')
    shop.change("part.toml", '"4 ud150", "1 film"', '"1 ud150", "1 film"')
    bled = ("--bleed", "60 %", "--plies")
    shop.refused("part file: layers that leave a ply nothing", "predict", "part.toml", *bled, "web=1")
    assert shop.json("predict", "part.toml", *bled, "web=3")["zones"][0]["plies"] == 3


def test_a_part_file_that_is_not_there_or_is_no_file(shop):
    shop.refused("part file: not there", "predict", "prt.toml")
    (shop.folder / "parts.toml").mkdir()
    shop.refused("part file: a folder", "predict", "parts.toml")
    shop.write("part.toml", "\n")
    shop.refused("part file: empty", "predict", "part.toml")
    (shop.folder / "part.toml").write_bytes(b'format = 1\n[part]\nname = "caf\xe9"\n')
    (problem,) = shop.refused("part file: not UTF-8", "predict", "part.toml")
    assert problem["place"] == "line 3"


def test_the_hint_of_a_word_that_is_near_nothing_is_the_list():
    assert did_you_mean("xyz", ["web", "skin"]) == "known: skin, web"


def test_ten_mistakes_are_ten_findings(shop):
    """Each once, whichever check sees it, none hidden behind another."""
    changes = [
        ('kind = "carbon"', 'kind = "carbn"'),
        ("1.22 g/cm^3 ± 0.01 (k=2)", "1.22 g/cm^3 ± 0.01"),
        ('form = "unidirectional"', 'from = "unidirectional"'),
        ("bulk_factor = 1.10", "bulk_factor = 0.9"),
        ('thickness = "0.05 mm"', 'thickness = "0.05"'),
        ('clamp_force = "900 kN"', 'clamp_force = "600 MPa"'),
        ("walls = 2", "walls = 3"),
        ('"1 film"', '"1 fill"'),
        ("coupons = 3", "coupons = 0"),
        ('max = "2 %"', 'max = "2 % ± 1 (k=2)"'),
    ]
    for old, new in changes:
        shop.change("part.toml", old, new)
    problems = shop.json("predict", "part.toml", status=[2])["problems"]
    places = [
        "fiber.carbon.kind", "resin.epoxy.density", "prepreg.ud150.from", "prepreg.ud150.bulk_factor",
        "layer.film.thickness", "tool.clamp_force", "zone.skin.walls", "zone.web.stack[2]",
        "plan.web.coupons", "limits.void_content.individual.max",
    ]  # fmt: skip
    assert sorted(p["place"] for p in problems) == sorted(places)
    assert len(shop.run("predict", "part.toml").err.splitlines()) == 10
