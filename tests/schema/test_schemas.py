"""The schemas accept what the program accepts and reject what it does not know."""

import datetime as dt
import json
import re
import tomllib
from typing import Annotated, get_args

import jsonschema
import pytest

from laminate.files.limits import NUMBERS, SHARES
from laminate.files.part import part_of
from laminate.show.schemas import KINDS, schema
from laminate.values.problems import Refused
from laminate.values.quantities import ATTRIBUTES
from tests.messages.wording import begins, says

Validator = jsonschema.Draft202012Validator


def plain(value):
    """What a TOML file holds, as JSON holds it."""
    if isinstance(value, dict):
        return {key: plain(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [plain(inner) for inner in value]
    return value.isoformat() if isinstance(value, dt.date) else value


def findings(kind, content):
    return [error.json_path for error in Validator(schema(kind)).iter_errors(content)]


@pytest.fixture
def part(checkout):
    return tomllib.loads((checkout / "examples/mast/part.toml").read_text("utf-8"))


@pytest.fixture
def batch(checkout):
    return plain(tomllib.loads((checkout / "examples/mast/batch.toml").read_text("utf-8")))


@pytest.mark.parametrize("kind", KINDS)
def test_each_is_a_schema(kind):
    Validator.check_schema(schema(kind))
    assert json.loads(json.dumps(schema(kind))) == schema(kind)


def tables_of(kind):
    """Every table of a file's schema by its name, the file itself among them."""
    whole = schema(kind)
    return {kind.capitalize(): whole, **whole["$defs"]}


def keys_of(node):
    """Every key of a schema with what is said of it, those of tables inside tables too."""
    if isinstance(node, list):
        node = dict(enumerate(node))
    if isinstance(node, dict):
        named = node.get("properties", {})
        yield from named.items()
        for key, inner in [*named.items(), *((k, v) for k, v in node.items() if k != "properties")]:
            if key != "examples":
                yield from keys_of(inner)


@pytest.mark.parametrize("kind", KINDS)
def test_every_key_has_a_meaning(kind):
    keys = list(keys_of(schema(kind)))
    assert len(keys) > (50 if kind != "extract" else 5)
    assert [key for key, told in keys if not told.get("description")] == []


@pytest.mark.parametrize("kind", KINDS)
def test_every_key_has_an_example_that_its_schema_takes(kind):
    whole = schema(kind)
    for key, told in keys_of(whole):
        examples = told.get("examples") or told.get("enum") or [told["const"]]
        validator = Validator({**told, "$defs": whole.get("$defs", {})})
        assert [fault.message for fault in validator.iter_errors(examples[0])] == [], key


@pytest.mark.parametrize("kind", ["part", "batch"])
def test_every_example_in_a_schema_is_what_the_file_takes(kind):
    """Held against the file's own model: its type, units and range of one key alone."""
    import pydantic

    from laminate.files import batch, part

    whole = part.Part if kind == "part" else batch.Batch
    models, queue = {}, [whole]
    while queue:
        model = queue.pop()
        models[model.__name__] = model
        for field in model.model_fields.values():
            queue += [one for one in models_in(field.annotation) if one.__name__ not in models]
    held = 0
    for name, table in tables_of(kind).items():
        for key, told in table.get("properties", {}).items() if name in models else ():
            fields = models[name].model_fields
            if key == "limits":
                continue
            field = fields.get(key) or next(f for f in fields.values() if f.alias == key)
            taken = pydantic.TypeAdapter(
                Annotated[field.annotation, *field.metadata] if field.metadata else field.annotation
            )
            for example in told.get("examples", ()):
                dated = "date" in repr(field.annotation) and re.fullmatch(r"\d{4}-\d\d-\d\d", str(example))
                taken.validate_python(dt.date.fromisoformat(example) if dated else example)
                held += 1
    assert held > 60


def models_in(annotation):
    """The models of tables that a field's type names."""
    import pydantic

    if isinstance(annotation, type) and issubclass(annotation, pydantic.BaseModel):
        return [annotation]
    return [model for one in get_args(annotation) for model in models_in(one)]


@pytest.mark.parametrize("kind", ["part", "batch"])
def test_every_example_is_accepted(checkout, kind):
    files = sorted((checkout / "examples").glob(f"*/{kind}.toml"))
    assert files
    for file in files:
        assert findings(kind, plain(tomllib.loads(file.read_text("utf-8")))) == [], file


@pytest.mark.parametrize(
    "keys",
    [
        ["gaurd"],
        ["part", "nubmer"],
        ["fiber", "carbon", "desnity"],
        ["zone", "web", "gpa"],
        ["plan", "web", "coupon"],
        ["limits", "fiber_volme"],
        ["limits", "gaurd"],
        ["limits", "fiber_volume", "individual", "maximum"],
        ["limits", "prepreg", "ud150", "density"],
        ["limits", "process", "cure temperature", "each"],
    ],
)
def test_a_key_that_the_part_file_refuses_is_rejected(part, keys):
    table = part
    for key in keys[:-1]:
        table = table.setdefault(key, {})
    table[keys[-1]] = {"individual": {"max": "1 %"}} if len(keys) == 2 else "1 %"
    assert findings("part", part)
    with pytest.raises(Refused):
        part_of(part, "part.toml")


@pytest.mark.parametrize(
    "keys",
    [["bath"], ["batch", "di"], ["lot", 0, "resin"], ["instrument", "balance", "certifcate"], ["blank", "x"]],
)
def test_a_key_that_the_batch_file_refuses_is_rejected(batch, keys):
    table = batch
    for key in keys[:-1]:
        table = table[key]
    table[keys[-1]] = "x"
    assert findings("batch", batch)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("guard = 1.0", "guard = 11"),
        ("guard = 1.0", 'guard = "1"'),
        ('confidence = "95 %"', 'confidence = "95 %"\ncoverage_factor = 2'),
        ('individual = { max = "2 %" }', "individual = { max = 2 }"),
        ('individual = { max = "2 %" }', "individual = {}"),
        ('kind = "carbon"', 'kind = "carbn"'),
        ('form = "unidirectional"', 'form = "tape"'),
        ("format = 1", "format = 2"),
        ("coupons = 3", "coupons = 0"),
        ('stays = "yes"', 'stays = "maybe"'),
    ],
)
def test_a_value_that_the_part_file_refuses_is_rejected(checkout, old, new):
    text = (checkout / "examples/mast/part.toml").read_text("utf-8")
    assert old in text
    raw = tomllib.loads(text.replace(old, new, 1))
    assert findings("part", raw)
    with pytest.raises(Refused):
        part_of(raw, "part.toml")


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('stays = "yes"', "stays = false"),
        ('confidence = "95 %"', "coverage_factor = 2"),
        ('confidence = "95 %"', 'chance = "85 %"\nchance_holds = "98 %"'),
        ('confidence = "95 %"', '[limits.process."time above"]\ntemperature = "120 degC"\n'
         'individual = { min = "60 min" }'),
        ("bulk_factor = 1.10", 'bulk_factor = "1.10 ± 0.02 (tolerance)"'),
        ('[limits.thickness.web]\nindividual = { min = "2.75 mm", max = "2.95 mm" }', "[limits.density]\n"
         'average = { min = "1.5 g/cm^3" }\nskin = { individual = { min = "1.4 g/cm^3" } }'),
    ],
)  # fmt: skip
def test_what_the_part_file_accepts_is_accepted(checkout, old, new):
    text = (checkout / "examples/mast/part.toml").read_text("utf-8")
    assert old in text
    raw = tomllib.loads(text.replace(old, new, 1))
    assert findings("part", raw) == []
    part_of(raw, "part.toml")


def test_every_attribute_can_be_limited():
    limits = schema("part")["properties"]["limits"]["properties"]
    assert limits.keys() == {*NUMBERS, *SHARES, "prepreg", "process", *ATTRIBUTES}


def test_an_earlier_record_is_named_by_its_digest(batch):
    batch["replaces"] = {"record": "the old one", "reason": "x"}
    assert findings("batch", batch) == ["$.replaces"]
    batch["replaces"]["record"] = "0" * 64
    assert findings("batch", batch) == []


@pytest.mark.parametrize("change", ["more", "less", "kind"])
def test_a_record_that_is_not_one_is_rejected(shop, tmp_path, change):
    from laminate.judging.reported import report
    from laminate.records.record import seal

    content = json.loads(seal(report(tmp_path / "batch.toml")))
    assert findings("record", content) == []
    if change == "more":
        content["characteristics"][0]["color"] = "green"
    elif change == "less":
        del content["inputs"][0]["sha256"]
    else:
        content["answer"] = "perhaps"
    assert findings("record", content)


@pytest.mark.parametrize("kind", KINDS)
def test_the_command_prints_it_alone(shop, kind):
    for options in ([], ["--json"]):
        answer = shop.run("schema", kind, *options)
        assert (answer.status, answer.err) == (0, "")
        assert json.loads(answer.out) == schema(kind)


def test_the_command_lists_the_kinds(shop):
    assert shop.json("schema") == {"format": 1, "schemas": KINDS}
    said = shop.run("schema").out
    assert all(f"{kind}" in said and words in said for kind, words in KINDS.items())
    assert says("schema: the command lists the kinds", said)


def test_the_command_names_the_kind_that_was_meant(shop):
    answer = shop.run("schema", "recrod")
    assert (answer.status, answer.out) == (2, "")
    assert begins("schema: the command names the kind", answer.err)
    assert says("schema: the command names the kind, 2", answer.err)
