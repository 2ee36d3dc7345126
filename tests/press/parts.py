"""Parts whose pressures were computed by two programs that share nothing, and the press of each."""

import copy
import tomllib
from collections.abc import Callable
from pathlib import Path

from laminate.files.part import part_of
from laminate.press.conditions import Press
from laminate.press.press import press_of

MAST = tomllib.loads((Path(__file__).parent / "data" / "mast_before.toml").read_text("utf-8"))


def raw(edit: Callable[[dict], object] | None = None) -> dict:
    """The tables of the mast after an edit."""
    tables = copy.deepcopy(MAST)
    if edit is not None:
        edit(tables)
    return tables


def press(edit: Callable[[dict], object] | None = None, **more) -> Press:
    """The press of the mast after an edit."""
    return press_of(part_of(raw(edit), "part.toml"), "part.toml", **more)


def _alone(tables: dict) -> None:
    """Without what belongs to the zones of the mast."""
    tables.pop("plan")
    tables["limits"].pop("thickness")
    tables["tool"].pop("clamp_force")
    tables["zone"], tables["core"] = {}, {}
    tables["layer"] = {}


def core(width: str, height: str, length: str, **more: object) -> dict:
    """A core of silicone in a box."""
    return {
        "room": "box", "width": width, "height": height, "length": length, "material": "silicone rubber",
        "expansion": "265e-6 /K", "bulk_modulus": "0.85 GPa", "bulk_modulus_at": "120 degC",
        "bulk_modulus_rise": 10, "temperature": "118 degC", **more,
    }  # fmt: skip


def zone(side: str, plies: int, walls: int = 2, **more: object) -> dict:
    """Plies of ud150 on a side of a box."""
    return {
        "room": "box",
        "side": side,
        "walls": walls,
        "stack": [f"{plies} ud150"],
        "bleed_limit": "15 %",
        **more,
    }


def box(edit: Callable[[dict], object] | None = None) -> Press:
    """The four-walled box: sides of 20 plies, caps of 24, a core of silicone."""

    def change(tables: dict) -> None:
        _alone(tables)
        tables["room"] = {"box": {"width": "46 mm", "height": "34 mm", "length": "600 mm", "opens": "height"}}
        tables["core"] = {"fore": core("39.02 mm", "26.02 mm", "599.0 mm")}
        tables["zone"] = {"side": zone("width", 20), "cap": zone("height", 24)}
        if edit is not None:
            edit(tables)

    return press(change)


def webbed(edit: Callable[[dict], object] | None = None) -> Press:
    """Two cores and a web between them."""

    def change(tables: dict) -> None:
        _alone(tables)
        tables["room"] = {"box": {"width": "72 mm", "height": "34 mm", "length": "600 mm", "opens": "height"}}
        tables["core"] = {
            "fore": core("30.0 mm", "33.8 mm", "599.0 mm"),
            "aft": core("30.4 mm", "33.8 mm", "599.0 mm", bulk_modulus="0.70 GPa"),
        }
        tables["zone"] = {"side": zone("width", 20), "web": zone("width", 16, 1)}
        if edit is not None:
            edit(tables)

    return press(change)


def tube(edit: Callable[[dict], object] | None = None) -> Press:
    """A round room with 12 plies all round."""

    def change(tables: dict) -> None:
        _alone(tables)
        tables["room"] = {"box": {"diameter": "40 mm", "length": "500 mm"}}
        made = core("35.3 mm", "1 mm", "499.5 mm")
        made.pop("height")
        made["diameter"] = made.pop("width")
        tables["core"] = {"fore": made}
        tables["zone"] = {"skin": zone("round", 12)}
        if edit is not None:
            edit(tables)

    return press(change)


def oil(edit: Callable[[dict], object] | None = None) -> Press:
    """An oil-heated tool: a core far hotter than its tool."""

    def change(tables: dict) -> None:
        _alone(tables)
        tables["temperature"] = {"room": "25 degC", "gel": "130 degC", "cure": "130 degC"}
        tables["fiber"]["carbon"]["density"] = "1.80 g/cm^3"
        tables["resin"]["epoxy"] = {"density": "1.21 g/cm^3", "liquid_density": "1.12 g/cm^3"}
        tables["prepreg"]["ud150"].update(
            fiber_areal_weight="150 g/m^2", resin_content="34 %", volatiles="0 %", bulk_factor=1.1
        )
        tables["tool"] = {"expansion": "23.4e-6 /K", "temperature": "122 degC"}
        tables["core"]["fore"] = {
            "material": "silicone rubber", "expansion": "250e-6 /K", "bulk_modulus": "0.8 GPa",
            "bulk_modulus_rise": 10, "held": "sides", "width": "18.4 mm", "temperature": "155 degC",
        }  # fmt: skip
        tables["zone"]["skin"] = {
            "cavity": "25.2 mm", "core": "fore", "walls": 2, "fill_with": "ud150", "bleed_limit": "15 %"
        }  # fmt: skip
        if edit is not None:
            edit(tables)

    return press(change)


def in_room(height, length, clearance):
    """The mast's core in a room with its bare sides."""

    def edit(tables):
        tables["room"] = {"box": {"width": "38.60 mm", "height": height, "length": length, "opens": "width"}}
        own = tables["core"]["fore"]
        for key in ("held", "offset", "projected_area"):
            own.pop(key)
        own.update(room="box", clearance=f"{clearance} mm")
        skin = tables["zone"]["skin"]
        skin.pop("cavity"), skin.pop("core")
        skin.update(room="box", side="width")

    return edit
