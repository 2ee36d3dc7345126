"""Part files with one mistake each: the exact sentence, its parts in JSON, and exit status 2."""

import pytest

from laminate.values.problems import did_you_mean

MEANING = "(tolerance), (standard), (standard, dof=9), (k=2) or (95 %) after it"
LAST_DIGITS = "or 1.790(5) for a standard uncertainty in the last digits"
BASIS = "'as received', 'volatile-free' or 'with volatiles', as the certificate says"
METHODS = ("immersion, saturated immersion, density given, digestion, ignition, thickness, areal weight, "
           "point count")  # fmt: skip

# text, what a person made of it, code, place, found, expected, hint
CASES = {
    "a bare ±": ("1.79 g/cm^3 ± 0.01 (k=2)", "1.79 g/cm^3 ± 0.01", "unreadable-value", "fiber.carbon.density",
                 "'1.79 g/cm^3 ± 0.01', whose ± does not say what it means", f"{MEANING}, {LAST_DIGITS}", ""),
    "a mass for a length": ("2.95 mm ± 0.03", "2.95 g ± 0.03", "unreadable-value", "zone.web.gap",
                            "'2.95 g ± 0.03 (tolerance)', a mass", 'a length, such as "2.95 mm"', ""),
    "no unit": ('clamp_force = "900 kN"', "clamp_force = 600", "unreadable-value", "tool.clamp_force",
                "'600' without a unit", 'a force with its unit, such as "600 kN"', ""),
    "infinite": ('"900 kN"', '"inf kN"', "unreadable-value", "tool.clamp_force",
                 "'inf kN'", 'a finite number, as in "600 kN"', ""),
    "not a number": ('"900 kN"', '"nan kN"', "unreadable-value", "tool.clamp_force",
                     "'nan kN'", 'a finite number, as in "600 kN"', ""),
    "an unknown key": ("bulk_factor", "bulk_facter", "unknown-key", "prepreg.ud150.bulk_facter",
                       "the unknown key 'bulk_facter'", "a known key", "did you mean 'bulk_factor'?"),
    "an unknown word": ('kind = "carbon"', 'kind = "carbn"', "wrong-word", "fiber.carbon.kind",
                        "'carbn'", "one of 'carbon', 'glass', 'aramid', 'other'", "did you mean 'carbon'?"),
    "both areal weights": ("fiber_areal_weight =", 'prepreg_areal_weight = "225 g/m^2"\nfiber_areal_weight =',
                           "both-given", "prepreg.ud150.prepreg_areal_weight",
                           "both fiber_areal_weight and prepreg_areal_weight",
                           "one of them: of the fiber alone, or of the prepreg", ""),
    "no areal weight": ('fiber_areal_weight = "150 g/m^2 ± 2 (tolerance)"\n', "", "missing-key",
                        "prepreg.ud150", "neither fiber_areal_weight nor prepreg_areal_weight",
                        "one of them: of the fiber alone, or of the prepreg", ""),
    "volatiles without a basis": ('resin_basis = "as received"\n', "", "missing-key", "prepreg.ud150",
                                  "volatiles without 'resin_basis'", BASIS, ""),
    "confidence and factor": ('confidence = "95 %"', 'confidence = "95 %"\ncoverage_factor = 2', "both-given",
                              "limits.coverage_factor", "both confidence and coverage_factor",
                              "one of them", ""),
    "an unknown attribute": ("[limits.void_content]", "[limits.void_contents]", "unknown-key",
                             "limits.void_contents", "the unknown key 'void_contents'", "a known key",
                             "did you mean 'void_content'?"),
    "a limit with ±": ('max = "2 %"', 'max = "2 % ± 0.1 (k=2)"', "limit-with-tolerance",
                       "limits.void_content.individual.max", "'2 % ± 0.1 (k=2)'", "a limit without ±",
                       "a limit is exact; the ± of what is measured is computed"),
    "limits the wrong way round": ('min = "2.75 mm", max = "2.95 mm"', 'min = "2.95 mm", max = "2.75 mm"',
                                   "min-above-max", "limits.thickness.web.individual",
                                   "min '2.95 mm' not below max '2.75 mm'", "min below max", ""),
    "limits of two kinds": ('min = "122 degC", max = "128 degC"', 'min = "122 degC", max = "128 MPa"',
                            "wrong-kind", 'limits.process."cure temperature".individual',
                            "min '122 degC' and max '128 MPa'", "two values of one kind of quantity", ""),
    "a plan of no zone": ("[plan.web]", "[plan.wep]", "unknown-name", "plan.wep", "'wep'",
                          "the name of a zone", "did you mean 'web'?"),
    "an unknown method": ('["immersion"', '["imersion"', "unknown-name", "plan.web.methods[1]", "'imersion'",
                          f"one of {METHODS}", "did you mean 'immersion'?"),
    "an unknown prepreg": ('"4 ud150", "1 film"', '"4 ud15", "1 film"', "unknown-name", "zone.web.stack[1]",
                           "'ud15'", "the name of a prepreg or layer", "did you mean 'ud150'?"),
    "a count without a name": ('"1 film"', '"film"', "unreadable-value", "zone.web.stack[2]", "'film'",
                               'a count and a name, such as "4 ud150"', ""),
    "another format": ("format = 1", "format = 2", "wrong-format", "format", "2",
                       "format = 1, the one that this program reads", ""),
    "a number for text": ('number = "MAST-04"', "number = 4", "wrong-type", "part.number", "4",
                          "text in quotes", ""),
    "text for a number": ("coupons = 3", 'coupons = "3"', "wrong-type", "plan.web.coupons", "'3'",
                          "a whole number", ""),
    "no coupon": ("coupons = 3", "coupons = 0", "wrong-value", "plan.web.coupons", "0", "1 or more", ""),
    "three walls": ("walls = 2", "walls = 3", "wrong-value", "zone.skin.walls", "3", "2 or less", ""),
    "denser when liquid": ("1.12 g/cm^3 ± 0.02", "1.25 g/cm^3 ± 0.02", "liquid-above-cured",
                           "resin.epoxy.liquid_density",
                           "'1.25 g/cm^3 ± 0.02 (tolerance)', denser than the cured resin "
                           "'1.22 g/cm^3 ± 0.01 (k=2)'",
                           "a liquid density at gel temperature below the cured density", ""),
    "no fiber left": ('resin_content = "33 % ± 1 (tolerance)"', 'resin_content = "99.8 %"', "no-fiber",
                      "prepreg.ud150.resin_content", "'99.8 %' and volatiles '0.4 % ± 0.2 (tolerance)'",
                      "less than 100 % together", ""),
    "no TOML": ("format = 1", "format 1", "not-toml", "line 2, column 8",
                "a key without = and a value", "key = value, text in quotes", ""),
}  # fmt: skip


def sentence(place, found, expected, hint, file="part.toml"):
    text = f"{file}: {place}: found {found}, expected {expected}"
    return f"{text}; {hint}\n" if hint else f"{text}\n"


@pytest.mark.parametrize("case", CASES)
@pytest.mark.parametrize("command", ["predict", "fill"])
def test_one_mistake_in_a_part_file(case, command, shop):
    old, new, code, *words = CASES[case]
    shop.change("part.toml", old, new)
    answer = shop.run(command, "part.toml")
    assert (answer.status, answer.out, answer.err) == (2, "", sentence(*words))
    (problem,) = shop.json(command, "part.toml", status=[2])["problems"]
    place, found, expected, hint = words
    assert problem == {
        "code": code,
        "file": "part.toml",
        "place": place,
        "found": found,
        "expected": expected,
        "hint": hint,
    }


def test_a_part_file_that_is_not_there_or_is_no_file(shop):
    answer = shop.run("predict", "prt.toml")
    assert answer.err == "prt.toml: found no such file, expected a TOML file; did you mean 'part.toml'?\n"
    (shop.folder / "parts.toml").mkdir()
    answer = shop.run("predict", "parts.toml")
    assert answer.err == "parts.toml: found a directory, expected a TOML file; name the file inside it\n"
    shop.write("part.toml", "\n")
    answer = shop.run("predict", "part.toml")
    assert answer.err == "part.toml: found an empty file, expected format = 1 and the tables of this file\n"
    (shop.folder / "part.toml").write_bytes(b'format = 1\n[part]\nname = "caf\xe9"\n')
    answer = shop.run("predict", "part.toml")
    assert answer.err == "part.toml: line 3: found bytes that are not UTF-8, expected a file saved as UTF-8\n"
    assert answer.status == 2


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
