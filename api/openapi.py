"""The OpenAPI document, with the bodies that routes read themselves.

`python -m ringset.api.openapi > api/openapi.json` writes it; a test holds that file and the service together.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Sequence
from typing import Any

from fastapi import FastAPI
from fastapi.openapi.utils import get_openapi
from fastapi.routing import APIRoute
from starlette.routing import BaseRoute

import ringset
from ringset.api.contract.assistance import AdviceRequest, GroundsRequest
from ringset.api.contract.studies import CompareRequest, JudgeRequest, RateRequest
from ringset.api.contract.submission import StudyRequest
from ringset.api.contract.sweeps import SweepRequest
from ringset.api.problems import ProblemDetails
from ringset.api.routes import ROUTERS

TITLE = "Ringset"
DESCRIPTION = (
    "Sizing aid only: a nominal error budget with assumed inputs, not a safety assessment. Every answer "
    "carries its cautions."
)


def openapi_document(routes: Sequence[BaseRoute]) -> dict[str, Any]:
    """Return the document of some routes."""
    document = get_openapi(
        title=TITLE,
        version=ringset.__version__,
        summary="Sizes the toothed target rings of a whole robot at once, with proof.",
        description=DESCRIPTION,
        routes=routes,
        separate_input_output_schemas=False,
    )
    for route in (route for router in ROUTERS for route in router.routes):
        if isinstance(route, APIRoute) and route.openapi_extra:  # the framework drops its nulls
            for method in route.methods or ():
                document["paths"][route.path][method.lower()] |= route.openapi_extra
    schemas = document.setdefault("components", {}).setdefault("schemas", {})
    for model in (
        StudyRequest,
        RateRequest,
        JudgeRequest,
        CompareRequest,
        SweepRequest,
        AdviceRequest,
        GroundsRequest,
        ProblemDetails,
    ):
        schema = model.model_json_schema(ref_template="#/components/schemas/{model}")
        schemas |= schema.pop("$defs", {}) | {model.__name__: schema}
    for name in ("HTTPValidationError", "ValidationError"):  # the framework's shape, not ours
        schemas.pop(name, None)
    for operation in (o for path in document["paths"].values() for o in path.values()):
        if "HTTPValidationError" in json.dumps(operation["responses"].get("422", {})):
            del operation["responses"]["422"]  # for a path that can be any text
    document["components"]["schemas"] = dict(sorted(schemas.items()))
    document["components"]["securitySchemes"] = {"key": {"type": "http", "scheme": "bearer"}}
    document["security"] = [{}, {"key": []}]
    return document


def main() -> None:
    """Print the document of all routes."""
    app = FastAPI()
    for router in ROUTERS:
        app.include_router(router)
    sys.stdout.write(json.dumps(openapi_document(app.routes), indent=1) + "\n")


if __name__ == "__main__":
    main()
