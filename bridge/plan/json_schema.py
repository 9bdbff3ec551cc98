"""The JSON Schema of the plan file, so that an editor completes and checks it.

JSON Schema 2020-12, https://json-schema.org/draft/2020-12/schema.  It says what can be
said about one key at a time; names that must exist, and bars that must fit, are for the
loader.  This file knows no key by name.
"""

from __future__ import annotations

from typing import Any

from pydantic.json_schema import GenerateJsonSchema, JsonSchemaValue
from pydantic_core import core_schema

from bridge.plan.models import PlanFile

__all__ = ["plan_schema"]


def plan_schema() -> dict[str, Any]:
    """Return the schema of a whole plan file."""
    made = PlanFile.model_json_schema(schema_generator=_PlainSchema)
    return {"$schema": GenerateJsonSchema.schema_dialect, **made, "title": "pulsebridge plan"}


class _PlainSchema(GenerateJsonSchema):
    """Pydantic's generator, less what only says how a Python value is kept.

    A key that may be left out has no value then: null is not allowed in its place.
    """

    def nullable_schema(self, schema: core_schema.NullableSchema) -> JsonSchemaValue:
        """Describe the value that is there."""
        return self.generate_inner(schema["schema"])

    def default_schema(self, schema: core_schema.WithDefaultSchema) -> JsonSchemaValue:
        """Leave the default out: the description says what is meant without the key."""
        return self.generate_inner(schema["schema"])

    def field_title_should_be_set(self, schema: Any) -> bool:  # noqa: ARG002  pydantic's signature
        """Give no titles: the key's own name is the best there is."""
        return False
