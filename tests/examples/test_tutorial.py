"""The tutorial runs from top to bottom, and says what the example's files say."""

import runpy


def test_it_runs_in_the_folder_of_the_example(shop, checkout):
    made = runpy.run_path(str(checkout / "examples" / "tutorial.py"))
    assert made["zone"].use == 20
    assert made["report"].answer == shop.json("report", "batch.toml")["answer"] == "conforms"
    assert {problem["place"] for problem in made["wrong"].to_dict()["warnings"]} != set()
    assert made["measured"].to_dict()["warnings"] == []
    assert made["ply"].plies == 20
