"""The published schemas say what every field means, and the demo job agrees with all of them."""

import json

import pytest
from jsonschema import Draft202012Validator

from wainscribe.demo import demo_source
from wainscribe.described import MEANINGS, fields, key_of
from wainscribe.schema import NAMES, schema_of


def ways(name: str) -> list[tuple[tuple[str, ...], str]]:
    """Each field's way through a schema, and what is said of it."""
    found = fields(schema_of(name), ("Job",) if name == "job" else ())
    return [(way, record[field].get("description", "")) for way, record, field in found]


@pytest.mark.parametrize("name", NAMES)
def test_every_field_says_what_it_means_and_the_whole_what_it_is(name):
    assert len(ways(name)) > 5
    assert [way for way, told in ways(name) if key_of(way, MEANINGS[name]) is None or not told] == []
    assert len(schema_of(name)["description"]) > 20


@pytest.mark.parametrize("name", NAMES)
def test_no_meaning_is_left_over(name):
    assert set(MEANINGS[name]) == {key_of(way, MEANINGS[name]) for way, _ in ways(name)}


def test_a_meaning_keeps_the_unit_of_its_field():
    top = schema_of("job")["$defs"]["Scheme"]["properties"]["top"]
    assert top["description"] == "top of all, above the finished floor; inches as an exact fraction, such as 73/2"
    assert top["default"] == "36"


def test_the_demo_job_agrees_with_the_schema_of_the_job_file():
    job = json.loads((demo_source() / "job.json").read_text(encoding="utf-8"))
    assert list(Draft202012Validator(schema_of("job")).iter_errors(job)) == []
