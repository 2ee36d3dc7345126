"""A core that heat reaches through walls of several zones: that through others is left out, and said."""

from pathlib import Path

from laminate.curing.planned_cycle import planned as planned_zone

from .planned_shop import PART
from .test_planned import NO_CYCLE, PLATEN, part

BOX = (Path(__file__).parents[2] / "examples" / "box" / "part.toml").read_text("utf-8")
GEL = PART[PART.index("releases =") : PART.index("[prepreg")]
HEAT = NO_CYCLE[NO_CYCLE.index("[heat.tool]") :].replace("[heat.core.fore]", "[heat.core.box]")


def test_heat_through_other_walls_is_said_to_be_left_out(tmp_path):
    text = BOX.replace("[resin.epoxy]\n", f"[resin.epoxy]\n{GEL}") + f"\n{HEAT}[cycle.hold]\n{PLATEN}"
    box = part(tmp_path, text)
    for zone, other in (("sides", "caps"), ("caps", "sides")):
        found = planned_zone(box, "hold", zone, {"sides": 20, "caps": 24}, [None], draws=2)[0]
        (said,) = [words for words in found.screening if words.startswith("heat into the core")]
        assert f"walls of {other} " in said
        assert f"in zone {zone}:" in said
    skin = planned_zone(part(tmp_path, PART), "slow", "skin", {}, [None], draws=2)[0]
    assert not any("heat into the core" in words for words in skin.screening)
