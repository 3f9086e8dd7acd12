"""An answer goes out as its type says, and the description says the same."""

from __future__ import annotations

from typing import Any, NamedTuple, TypedDict

from fastapi import APIRouter, FastAPI

from tapedown.values.results import MANY, Part
from tapedown.web.answers import answers, told_as
from tapedown.web.app import create_app
from tapedown.work.networks import OpenNetwork
from tests.web.conftest import Browser


class Nail(NamedTuple):
    """A nail in a fence."""

    height_m: float
    marks: tuple[tuple[str, int], ...] = ()


class FenceJson(TypedDict):
    """A fence with fences behind it."""

    name: str
    nails: list[Nail]
    lowest: Nail | None
    part: Part
    said: dict[str, Any]
    behind: list[FenceJson]


def fence(name: str, *behind: FenceJson) -> FenceJson:
    nails = [Nail(1, (("paint", 2),)), Nail(2.5)]
    return {"said": {"b": 1, "a": (2,)}, "part": Part("", "feel", 0.01, MANY), "lowest": None, "behind": list(behind),
            "nails": nails, "name": name}  # fmt: skip


def asked() -> FastAPI:
    """An office of one route."""
    router, app = APIRouter(), FastAPI()

    @answers(router, "/fence.json", tags=["fences"])
    def fence_json() -> FenceJson:
        """A fence."""
        return fence("north", fence("south"))

    app.include_router(router)
    return app


def test_an_answer_keeps_the_order_and_the_numbers_of_its_type() -> None:
    text = Browser(asked()).get("/fence.json").text
    nails = '"nails":[{"height_m":1.0,"marks":[["paint",2]]},{"height_m":2.5,"marks":[]}],"lowest":null,'
    part = '"part":{"key":"","what":"feel","u_m":0.01,"dof":null,"source":""},"said":{"b":1,"a":[2]},'
    south = f'{{"name":"south",{nails}{part}"behind":[]}}'
    assert text == f'{{"name":"north",{nails}{part}"behind":[{south}]}}'


def test_the_description_of_an_answer_is_its_type() -> None:
    described = asked().openapi()
    schemas = described["components"]["schemas"]
    found = schemas["FenceShape"]
    assert found["description"] == "A fence with fences behind it."
    assert found["required"] == ["name", "nails", "lowest", "part", "said", "behind"]
    assert found["properties"]["behind"]["items"] == {"$ref": "#/components/schemas/FenceShape"}
    assert found["properties"]["lowest"]["anyOf"] == [{"$ref": "#/components/schemas/NailShape"}, {"type": "null"}]
    assert schemas["PartShape"]["properties"]["dof"]["anyOf"] == [{"type": "number"}, {"type": "null"}]
    assert schemas["PartShape"]["properties"]["u_m"]["type"] == "number"
    assert set(described["paths"]["/fence.json"]["get"]["responses"]) == {
        "200",
        "400",
        "401",
        "403",
        "404",
        "422",
        "503",
    }


def test_what_a_type_does_not_name_does_not_go_out() -> None:
    given = {**fence("north"), "key": "at the mill"}
    assert list(told_as(FenceJson)(given)) == ["name", "nails", "lowest", "part", "said", "behind"]


def test_every_json_address_of_the_office_says_what_it_answers(fen: OpenNetwork) -> None:
    app = create_app(fen.record.where, device="desk")
    bare = {"/signed/{entry_id}/proofs/{of_id}.json"}  # a file to be saved, of a form of its own
    for path, ways in app.openapi()["paths"].items():
        if path.endswith(".json") and path not in bare:
            schema = ways["get"]["responses"]["200"]["content"]["application/json"]["schema"]
            assert {"$ref", "items", "additionalProperties"} & set(schema), path
    app.state.office.record.close()
