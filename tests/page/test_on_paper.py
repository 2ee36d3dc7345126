"""An auditor computes a coupon again from the page alone: readings, settings, materials and formulas."""

import math
import re
import shutil
from html.parser import HTMLParser

import pytest

from .conftest import page_of

RESULTS = "Results of each coupon with expanded uncertainty U = k u"
T_95 = {math.inf: 1.959964, 1: 12.7062}  # Student, two-sided; any table


class Tables(HTMLParser):
    """Rows of a page, each as the texts of its cells, by the caption of their table."""

    def __init__(self, page):
        super().__init__()
        self.found, self.at, self.hidden, self.rows = {}, "", 0, []
        self.feed(page)

    def handle_starttag(self, tag, attributes):
        if tag == "table":
            self.rows = []
        elif tag == "tr":
            self.rows.append([])
        elif tag in ("td", "th"):
            self.rows[-1].append("")
        given = dict(attributes)
        if tag == "span":
            self.hidden += bool(self.hidden) or given.get("class") == "label"
            if given.get("class") == "line" and self.rows and self.rows[-1] and self.rows[-1][-1]:
                self.rows[-1][-1] += "\n"
        self.at = tag

    def handle_endtag(self, tag):
        if tag == "table":
            self.found.setdefault(self.caption, []).extend(self.rows)
            self.rows = []
        if tag == "span" and self.hidden:
            self.hidden -= 1
        self.at = ""

    def handle_data(self, text):
        if self.at == "caption":
            self.caption = text.partition(":")[0]
        elif not self.hidden and self.rows and self.rows[-1]:
            self.rows[-1][-1] += text.strip().replace("\xa0", " ")


def beside(rows, specimen):
    """Texts of one specimen by what begins their row; where specimens stand beside each other."""
    found, at = {}, None
    for row in rows:
        if specimen in row:
            at = row.index(specimen)
        elif row[0] in ("column", "attribute"):
            at = None
        elif at is not None:
            found[row[0]] = row[at]
    return found


def stated(rows):
    return {row[0]: row[1] for row in rows[1:]}


def value(text):
    """Number, standard uncertainty and unit of a value as written."""
    match = re.match(r"([\d.]+) ?(\S*?)(?: ± ([\d.]+) \((.*)\))?$", text)
    assert match, text
    number, unit, spread, meaning = match.groups()
    divisor = {"k=2": 2, "standard": 1, "tolerance": 3**0.5, None: 1}[meaning]
    return float(number), float(spread or 0) / divisor, unit


def spread(text):
    """Standard uncertainty of an instrument as written; milligrams in grams."""
    number, unit, meaning = re.match(r"([\d.]+) (\S+) \((.*)\)", text).groups()
    return float(number) / {"k=2": 2, "standard": 1, "tolerance": 3**0.5}[meaning] * {"mg": 1e-3}.get(unit, 1)


def last_decimal(text):
    return 10.0 ** -len(text.partition(".")[2]) / 12**0.5


def water(t):
    return 0.99997495 * (1 - (t - 3.983035) ** 2 * (t + 301.797) / (522528.9 * (t + 69.34881)))


def by_formulas(x):
    """The page's formulas, letter by letter."""
    f = 1 - x["N"] * (x["d"] / x["D"]) ** 2 if x["N"] else 1.0
    a, b, s = (x[name] + x["balance"] for name in "abs")
    density = a * (water(x["t"]) - x["air"]) / ((a + s - b if x["s"] else a - b) * f) + x["air"]
    size, left = x["full"] - x["empty"], x["burnt"] - x["empty"]
    if not x["empty"]:
        size, left = size + x["balance"], left + x["balance"]
    fiber = (left - x["r"] * size) / ((1 - x["l"] - x["r"]) * size)
    v_f, v_r = fiber * density / x["rho_f"], (1 - fiber) * density / x["rho_r"]
    return {"density": density, "fiber volume": 100 * v_f, "void content": 100 * (1 - v_f - v_r)}


def result(moved, inputs):
    """Each result and its U: every input moved by its u, from one side to the other."""
    base = by_formulas(inputs)
    found = {}
    for name in base:
        moves = []
        for key, (u, dof) in moved.items():
            up, down = (by_formulas({**inputs, key: inputs[key] + sign * u})[name] for sign in (1, -1))
            moves.append(((up - down) / 2, T_95[dof]))
        found[name] = base[name], math.hypot(*(t * move for move, t in moves))
    return found


@pytest.fixture
def tables(checkout, tmp_path):
    def read(case):
        shutil.copytree(checkout / "examples" / case, tmp_path / case)
        return Tables(page_of(tmp_path / case)).found

    return read


def weighed(readings, stated_):
    """Inputs and their standard uncertainties of a coupon weighed in water, from two tables of the page."""
    of_balance = spread(stated_["balance, repeatability"])
    inputs = {
        "a": float(readings["mass in air"]), "b": float(readings["mass in liquid"]),
        "s": float(readings.get("sinker mass in liquid", 0)), "balance": 0.0,
        "air": value(stated_["air density"])[0], "N": int(stated_["wires through the surface"]),
        "d": 0.0, "D": 1.0,
    }  # fmt: skip
    u = math.hypot(of_balance, last_decimal(readings["mass in air"]))
    moved = {"a": (u, math.inf), "b": (u, math.inf)}
    moved |= {"s": (u, math.inf)} if inputs["s"] else {}
    moved["balance"] = spread(stated_["balance, calibration"]), math.inf
    thermometer = [spread(stated_[f"thermometer, {what}"]) for what in ("repeatability", "calibration")]
    return inputs, moved, u, thermometer


def compared(found, page):
    for name, (number, expanded) in found.items():
        text = page[name].partition("\n")[0]
        said, u = re.match(r"(-?[\d.]+) ± ([\d.]+) ", text).groups()
        assert number == pytest.approx(float(said), abs=0.51 * 10.0 ** -len(said.partition(".")[2])), name
        assert expanded == pytest.approx(float(u), abs=0.55 * 10.0 ** -len(u.partition(".")[2])), name


def test_the_first_coupon_of_the_mast(tables):
    page = tables("mast")
    readings = beside(page["Readings as they were typed"], "0101")
    told = stated(page["Instruments, liquid and blanks as stated"])
    materials = stated(page["Material values"])
    inputs, moved, u, thermometer = weighed(readings, told)
    inputs |= {
        "t": float(readings["liquid temperature"]), "d": value(told["wire diameter"])[0],
        "D": value(told["beaker diameter"])[0], "empty": 0.0, "full": float(readings["specimen mass"]),
        "burnt": float(readings["residue mass"]),
    }  # fmt: skip
    moved["t"] = math.hypot(*thermometer, last_decimal(readings["liquid temperature"])), math.inf
    moved |= {"full": (u, math.inf), "burnt": (u, math.inf)}
    for key, name in (("r", "residue share of neat resin"), ("l", "loss of bare fiber")):
        number, size, _ = value(told[name])
        inputs[key], moved[key] = number / 100, (size / 100, math.inf)
    for key, name in (("rho_f", "carbon density"), ("rho_r", "epoxy density")):
        inputs[key], size, _ = value(materials[name])
        moved[key] = size, math.inf
    compared(result(moved, inputs), beside(page[RESULTS], "0101"))


def test_the_first_coupon_of_the_glass_panel(tables):
    """US units, a sinker, a crucible, and blanks in the table: two of each, one degree of freedom."""
    page = tables("glass")
    rows = page["Readings as they were typed"]
    readings = beside(rows, "G1")
    told = stated(page["Instruments, liquid and blanks as stated"])
    materials = stated(page["Material values"])
    inputs, moved, u, thermometer = weighed(readings, told)
    crucible = {"empty": "crucible mass", "full": "crucible with specimen", "burnt": "crucible with residue"}
    inputs |= {key: float(readings[name]) for key, name in crucible.items()}
    moved |= dict.fromkeys(crucible, (u, math.inf))
    inputs["t"] = (float(readings["liquid temperature"]) - 32) / 1.8
    moved["t"] = math.hypot(*thermometer, last_decimal(readings["liquid temperature"]) / 1.8), math.inf
    for key, kind, names in (("r", "blank resin", ("B1", "B2")), ("l", "blank fiber", ("B3", "B4"))):
        shares = []
        for name in names:
            cells = beside(rows, f"{name} ({kind})")
            empty, full, burnt = (float(cells[what].partition("\n")[0]) for what in crucible.values())
            left = (burnt - empty) / (full - empty)
            shares.append(left if key == "r" else 1 - left)
        inputs[key], moved[key] = sum(shares) / 2, (abs(shares[0] - shares[1]) / 2, 1)
    for key, name in (("rho_f", "glass density"), ("rho_r", "epoxy density")):
        number, size, unit = value(materials[name])
        assert unit == "lb/in³"
        inputs[key], moved[key] = number * 27.679905, (size * 27.679905, math.inf)
    compared(result(moved, inputs), beside(page[RESULTS], "G1"))


DOFS = {"mast": {"scatter": 2}, "glass": {"scatter": 4, "residue": 1, "fiber": 1}}
T_OF = {**T_95, 2: 4.3027, 4: 2.7764}


def held(rows, limits):
    """The decision on values with their U, held to limits as the page writes them."""
    low, high = (re.search(pattern, limits) for pattern in (r"([\d.]+) to ", r"(?:to|at most) ([\d.]+)"))
    low, high = (float(found[1]) if found else end for found, end in ((low, -math.inf), (high, math.inf)))
    numbers = [tuple(map(float, re.match(r"(-?[\d.]+) ± ([\d.]+)", row).groups())) for row in rows]
    if all(low <= value - u and value + u <= high for value, u in numbers):
        return "conforms"
    beyond = any(value + u < low or value - u > high for value, u in numbers)
    return "does not conform" if beyond else "undecided"


@pytest.mark.parametrize("case", DOFS)
def test_averages_and_decisions(tables, case):
    """The average of coupons, its U from the contributions shown, and the decision from them and limits."""
    page = tables(case)
    averages = next(rows for caption, rows in page.items() if caption.startswith("Averages of zone"))
    budgets = [rows for caption, rows in page.items() if caption.startswith("Where the standard")]
    summary = page["Every characteristic against its limits; ± is the expanded uncertainty"][1:]
    results = page[RESULTS]
    names = [name for row in results if row[0] == "attribute" for name in row[2:]]
    assert len(budgets) == 3
    for (title, limits, _, decision), budget in zip(summary, budgets, strict=False):
        attribute = title.partition(",")[0]
        each = [beside(results, name)[attribute].partition("\n")[0] for name in names]
        told = next(row[1] for row in averages if row[0] == attribute)
        mean, expanded = map(float, re.match(r"([\d.]+) ± ([\d.]+)", told).groups())
        digit = 10.0 ** -len(re.match(r"\d+\.?(\d*)", told)[1])
        assert sum(float(one.split()[0]) for one in each) / len(each) == pytest.approx(mean, abs=digit)
        size = math.hypot(
            *(
                T_OF[DOFS[case].get(name.split()[0], math.inf)] * float(contribution.split()[0])
                for name, contribution, _, _ in budget[1:]
            )
        )
        assert size == pytest.approx(expanded, rel=0.03)
        decided = [
            held(each if line.startswith("each") else [told], line.partition(": ")[2])
            for line in limits.split("\n")
        ]
        worst = ("does not conform", "undecided", "conforms")
        assert min(decided, key=worst.index) == decision, title
