"""Layers that count as resin, in zones whose prepregs have several resins."""

import pytest

from laminate.files.part import part_of
from laminate.press.filling import fill
from laminate.press.prediction import predict_zone
from laminate.values.problems import Refused
from tests.press.parts import raw

VINYL = {"density": "1.30 g/cm^3", "liquid_density": "1.17 g/cm^3"}


def mixed(stack: list[str], **more: str):
    """The mast with a resin film, and a prepreg of another resin in its web."""

    def edit(tables: dict) -> None:
        tables["resin"]["vinyl"] = VINYL
        tables["prepreg"]["g300"] = {**tables["prepreg"]["ud150"], "resin": "vinyl"}
        tables["layer"]["film"].update({"counts_as": "resin", **more})
        tables["zone"]["web"] = {
            "gap": "2.95 mm",
            "stack": stack,
            "bleed_limit": "15 %",
            "fill_with": "ud150",
        }

    return part_of(raw(edit), "part.toml")


def thickness(part) -> float:
    return predict_zone(part, "web", 10).value("thickness")


FIRST, LAST = ["3 g300", "1 film"], ["1 ud150", "3 g300", "1 film"]


def test_the_resin_of_a_film_may_be_named():
    """60 g/m^2 over 1.22 or 1.30 g/cm^3, whichever prepreg is listed first."""
    epoxy, vinyl = (mixed(FIRST, resin=resin) for resin in ("epoxy", "vinyl"))
    assert thickness(epoxy) - thickness(vinyl) == pytest.approx(0.06 / 1220 - 0.06 / 1300, rel=1e-9)
    assert thickness(mixed(LAST, resin="vinyl")) - thickness(mixed(LAST)) == pytest.approx(
        0.06 / 1300 - 0.06 / 1220, rel=1e-9
    )
    assert thickness(vinyl) == thickness(mixed(FIRST))


@pytest.mark.parametrize("stated", ["0.045 mm", "0.05 mm", "0.20 mm"])
def test_a_cured_ply_is_as_thick_without_the_resin_of_a_film_whatever_its_own_thickness(stated):
    """Formulas 3 and 4: 150 g/m^2 of fiber over its density and the resin of the plies over theirs."""
    part = mixed(["1 film"], thickness=stated)
    found, bare = predict_zone(part, "web", 10), predict_zone(mixed([]), "web", 10)
    assert found.value("cured_ply_thickness") == pytest.approx(bare.value("cured_ply_thickness"), rel=1e-12)
    assert found.value("thickness") - bare.value("thickness") == pytest.approx(0.06 / 1220, rel=1e-9)


@pytest.mark.parametrize(("stack", "taken"), [(FIRST, "vinyl"), (LAST, "epoxy")])
def test_a_resin_that_is_supposed_is_said(stack, taken):
    part = mixed(stack)
    (said,) = [words for words in predict_zone(part, "web", 10).warnings if "film" in words]
    assert f"taken as {taken}" in said
    assert said in fill(part, "part.toml", zones=["web"], draws=100, inverse=False).zones[0].not_measured
    named = mixed(stack, resin=taken)
    assert not predict_zone(named, "web", 10).warnings
    alike = raw(lambda tables: tables["layer"]["film"].update(counts_as="resin"))
    assert not predict_zone(part_of(alike, "part.toml"), "web", 10).warnings


@pytest.mark.parametrize(
    ("more", "code"),
    [({"resin": "vynil"}, "unknown-name"), ({"resin": "vinyl", "counts_as": "fiber"}, "unused-key")],
)
def test_a_resin_that_is_none_or_is_not_read_is_refused(more, code):
    with pytest.raises(Refused) as refused:
        mixed(FIRST, **more)
    assert [(problem.code, problem.place) for problem in refused.value.problems] == [
        (code, "layer.film.resin")
    ]
