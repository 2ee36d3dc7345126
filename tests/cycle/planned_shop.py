"""An invented part over a rubber core, with what heat passes on its way in, and planned cycles.

Values are exact but those that its tests vary: what states no ± would be tried with a usual one.
"""

from laminate.curing.cycling import cycle

PART = """\
format = 1
[part]
number = "T-1"
issue = "A"
[temperature]
room = "23 degC"
gel = "120 degC (exact)"
cure = "125 degC"
maximum = "130 degC"
[fiber.carbon]
kind = "carbon"
density = "1.79 g/cm^3 (exact)"
[resin.epoxy]
density = "1.22 g/cm^3 (exact)"
liquid_density = "1.12 g/cm^3 (exact)"
releases = "nothing"
gel_time = [["120 degC", "28 min ± 3 (tolerance)"], ["150 degC", "10 min ± 1 (tolerance)"]]
gel_test = "prepreg"
out_life = { time = "30 d", temperature = "23 degC", share = "20 % ± 10 (tolerance)" }
[prepreg.ud150]
fiber = "carbon"
resin = "epoxy"
packing_limit = "68 %"
fiber_areal_weight = "150 g/m^2 (exact)"
resin_content = "33 % (exact)"
resin_basis = "as received"
bulk_factor = 1.10
[tool]
material = "aluminium 6061"
expansion = "23.6e-6 /K (exact)"
clamp_force = "900 kN"
pressure_limit = "25 MPa"
[room.tube]
width = "38.60 mm (exact)"
height = "60.00 mm (exact)"
length = "600.0 mm"
corner_radius = "0 mm"
opens = "width"
[core.fore]
room = "tube"
material = "silicone rubber"
expansion = "265e-6 /K (exact)"
bulk_modulus = "0.85 GPa ± 0.2 (tolerance)"
bulk_modulus_rise = 10
width = "31.20 mm (exact)"
height = "60.00 mm (exact)"
length = "600.0 mm"
corner_radius = "0 mm"
[zone.skin]
room = "tube"
side = "width"
walls = 2
stack = ["20 ud150"]
bleed = "0 %"
bleed_limit = "0 %"
sensors = { laminate = 1, platen = 1, tool = 0, core = 0, "clamp force" = 0, "ram pressure" = 0, \
"resin pressure" = 0 }
[heat.tool]
conductivity = "167 W/m/K (exact)"
heat_capacity = "2.43e6 J/m^3/K (exact)"
thickness = "20 mm"
contact = { platen = "1000 W/m^2/K ± 600 (tolerance)", laminate = "2000 W/m^2/K ± 1000 (tolerance)" }
[heat.laminate]
conductivity = "0.6 W/m/K (exact)"
heat_capacity = "1.6e6 J/m^3/K (exact)"
[heat.core.fore]
conductivity = "0.25 W/m/K (exact)"
heat_capacity = "1.6e6 J/m^3/K (exact)"
contact = { laminate = "1000 W/m^2/K ± 600 (tolerance)" }
[cycle.slow]
platen = [["0 min", "23 degC"], ["34 min", "90 degC"], ["90 min", "90 degC"], ["105 min", "125 degC"],
          ["240 min", "125 degC"]]
"""


def planned(folder, part=PART, **settings):
    """The whole answer."""
    (folder / "part.toml").write_text(part, "utf-8")
    return cycle(folder / "part.toml", **settings)


def first(folder, part=PART, **settings):
    """The answer at the humidity as given, of the first cycle and zone."""
    return planned(folder, part, **settings).zones[0]
