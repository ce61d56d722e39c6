"""The description of the API (OpenAPI 3.1), from the tables of `shapes.toml`."""

from __future__ import annotations

import re
from pathlib import Path

from contactread import __version__
from contactread.handbook.shapes import Schema, Shapes

PREFIX = "/api/v1"
_ADVICE: Schema = {
    "type": "object", "description": "As in `contactread read --json`.",
    "required": ["verdict", "headline", "moves", "diagnosis", "next_steps", "cautions"],
}  # fmt: skip
_BODIES: Schema = {  # of what is posted, by the last part of its path
    "photos": {"application/octet-stream": {"schema": {"type": "string", "format": "binary"}}},
    "correction": {"application/json": {"schema": {"$ref": "#/components/schemas/Correction"}}},
}


def openapi() -> Schema:
    """The whole description."""

    def refer(name: str) -> Schema:
        return _ref(name) if name[0].isupper() else shapes.of_table(name)

    shapes = Shapes(Path(__file__).with_name("shapes.toml"), {}, refer)
    operations, asks = shapes.tables.pop("operations"), shapes.tables.pop("asks")
    paths: Schema = {}
    for way, operation in operations.items():
        method, path = way.split()
        held = [_parameter(name, "path", shapes.of(f"{name}_held")) for name in re.findall(r"{(\w+)}", path)]
        for name in operation["asks"]:
            kind, _, says = asks[name].partition(": ")
            held.append(_parameter(name, "query", shapes.of(kind)) | {"description": says})
        paths[PREFIX + path] = {method: {
            "summary": operation["summary"],
            "parameters": held,
            "responses": {
                "200": _answer("Done.", operation["answers"]),
                "default": _answer("Not done, and why.", "Error"),
            },
        }}  # fmt: skip
        if method == "post":
            body = {"required": True, "content": _BODIES[path.rpartition("/")[2]]}
            paths[PREFIX + path][method]["requestBody"] = body
    named = {name: shapes.of_table(name) for name in shapes.tables if name[0].isupper()}
    says = "For paired phones only: the cookie of the page is needed."
    return {
        "openapi": "3.1.0",
        "info": {"title": "contactread", "version": __version__, "description": says},
        "paths": paths,
        "components": {"schemas": named | {"Advice": _ADVICE}},
    }


def _parameter(name: str, place: str, schema: Schema) -> Schema:
    return {"name": name, "in": place, "required": place == "path" or name == "photo", "schema": schema}


def _answer(says: str, shape: str) -> Schema:
    return {"description": says, "content": {"application/json": {"schema": _ref(shape)}}}


def _ref(name: str) -> Schema:
    return {"$ref": f"#/components/schemas/{name}"}
