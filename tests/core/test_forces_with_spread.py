"""Forces and pressures of inputs with a ± carry theirs, held to differences of the answer itself."""

import json
import tomllib
from importlib.resources import files

import pytest

import laminate as lam
from laminate.cli import app
from laminate.show.numbers import with_size

PART = files("laminate.examples") / "mast" / "part.toml"
MODULUS, U, STEP = 0.85, 0.02, 0.002


def core(modulus):
    """Of the example with every ± taken out but that of the bulk modulus."""
    part = exact(tomllib.loads(PART.read_text("utf-8")))
    part["core"]["fore"]["bulk_modulus"] = modulus
    for prepreg in part["prepreg"].values():
        prepreg.pop("ply_scatter", None)
    return lam.core(part, draws=20_000).to_dict()


def exact(given):
    if isinstance(given, dict):
        return {key: exact(value) for key, value in given.items()}
    return given.partition("±")[0].strip() if isinstance(given, str) and "±" in given else given


def figures(answer):
    (fore,) = answer["cores"]
    force = answer["press"]["opening_force"]
    return {
        "at_gel": force["at_gel"],
        "at_worst": force["at_worst"],
        "of_the_core": fore["press"]["opening_force"]["at_worst"],
        "resin": fore["vapor"]["resin_pressure_absolute"],
        "with_clamp": fore["pressure_with_clamp"],
    }


def test_what_the_bulk_modulus_moves_has_its_uncertainty():
    told = figures(core(f"{MODULUS} GPa ± {U} (standard)"))
    above, below = (figures(core(f"{MODULUS + step} GPa")) for step in (STEP, -STEP))
    for name, figure in told.items():
        slope = (above[name]["value"] - below[name]["value"]) / (2 * STEP)
        by_draws = 0.02 if name == "with_clamp" else 1e-3  # of 20 000
        assert figure["standard_uncertainty"] == pytest.approx(abs(slope) * U, rel=by_draws)
        assert slope > 0


def test_a_force_conforms_with_its_uncertainty_or_not_at_all():
    forces = lam.core(PART, draws=2000).press.opening_force
    force = forces.at_worst
    assert force.u > 50
    assert lam.judge(force, max=(force.value + force.u, "kN")).decision == "undecided"
    assert lam.judge(force, max=(force.value + 2 * force.u, "kN")).decision == "conforms"


def test_the_screens_have_the_forces_with_their_spread(capsys):
    for command in ("core", "fill"):
        assert app.status([command, str(PART), "--json"]) in (0, 1)
        force = json.loads(capsys.readouterr().out)["press"]["opening_force"]
        assert app.status([command, str(PART)]) in (0, 1)
        screen = capsys.readouterr().out
        quantities = [force["at_gel"], force["at_worst"]]
        both = [with_size(q["value"], 1.959964 * q["standard_uncertainty"], "kN") for q in quantities]
        assert [text for text in both if text not in screen] == []
