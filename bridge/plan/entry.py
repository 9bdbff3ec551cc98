"""What every group of keys in the plan file shares: keys checked, places kept.

A pydantic model that is made from a node of the YAML tree.  It refuses unknown and
missing keys itself, so that its messages have a place and a hint.  This file knows
no key by name.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar, Self

from pydantic import BaseModel, ConfigDict, ModelWrapValidatorHandler, PrivateAttr, model_validator

from bridge.errors import PlanError, Where
from bridge.plan.hints import missing_space, refuse_unknown_keys
from bridge.plan.nodes import MapNode, TextNode, kind_of

__all__ = ["Entry"]


class Entry(BaseModel):
    """A group of keys: declare the fields, and what to say when it is not a group."""

    model_config = ConfigDict(
        frozen=True, extra="forbid", arbitrary_types_allowed=True, use_attribute_docstrings=True
    )

    what: ClassVar[str] = "this group"
    """How messages call it."""
    instead: ClassVar[str] = ""
    """The hint when something else stands in its place."""
    elsewhere: ClassVar[Mapping[str, str]] = {}
    """Keys that belong into another group, with the hint that says so."""

    _where: Where = PrivateAttr()
    _keys: dict[str, Where] = PrivateAttr()
    _values: dict[str, Where] = PrivateAttr()

    @property
    def where(self) -> Where:
        """Where the group begins."""
        return self._where

    @property
    def key_places(self) -> dict[str, Where]:
        """Where each key stands."""
        return self._keys

    def place_of(self, key: str) -> Where:
        """Where the value of ``key`` stands; the group's own place when it is not given."""
        return self._values.get(key, self._where)

    @model_validator(mode="wrap")
    @classmethod
    def _from_node(cls, node: Any, handler: ModelWrapValidatorHandler[Self]) -> Self:
        group = cls._checked(node)
        made = handler({key.text: value for key, value in group})
        made._remember(group)  # noqa: SLF001  of the class itself
        return made

    def _remember(self, group: MapNode) -> None:
        self._where = group.where
        self._keys = {key.text: key.where for key, _ in group}
        self._values = {key.text: value.where for key, value in group}

    @classmethod
    def _checked(cls, node: Any) -> MapNode:
        allowed = cls._allowed()
        if not isinstance(node, MapNode):
            glued = missing_space(node.text, allowed) if isinstance(node, TextNode) else None
            raise PlanError(
                f"{cls.what} is a group of keys ({', '.join(allowed)}), not {kind_of(node)}",
                hint=glued or cls.instead or None,
                where=node.where,
            )
        refuse_unknown_keys(node, allowed, what=cls.what, elsewhere=cls.elsewhere)
        cls._refuse_missing(node)
        return node

    @classmethod
    def _refuse_missing(cls, node: MapNode) -> None:
        for name, field in cls.model_fields.items():
            key = field.alias or name
            if cls._needs(key, required=field.is_required(), node=node) and node.get(key) is None:
                title = node.get("name")
                who = f"{cls.what} {title.text[:40]!r}" if isinstance(title, TextNode) else cls.what
                raise PlanError(
                    f"{who} lacks the key {key!r}", hint=f"Add '{key}: ...' to it.", where=node.where
                )

    @classmethod
    def _needs(cls, key: str, *, required: bool, node: MapNode) -> bool:  # noqa: ARG003  for who overrides it
        """Tell whether ``key`` must stand in the group; by default, what has no default must."""
        return required

    @classmethod
    def _allowed(cls) -> list[str]:
        return [field.alias or name for name, field in cls.model_fields.items()]
