"""The example's YAML files fit the schemas that the package ships."""

import json
from importlib import resources
from pathlib import Path

import jsonschema
import pytest
import yaml

DUNLIN = Path(__file__).parents[2] / "layouts" / "dunlin"


@pytest.mark.parametrize("name", ["design", "signals", "themes"])
def test_file_fits_its_schema(name):
    schema = json.loads(resources.files("hmic.model").joinpath(f"schema/{name}.json").read_text("utf-8"))
    data = yaml.safe_load((DUNLIN / f"{name}.yaml").read_text(encoding="utf-8"))
    assert [error.message for error in jsonschema.Draft202012Validator(schema).iter_errors(data)] == []
