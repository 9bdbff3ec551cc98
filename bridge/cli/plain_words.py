"""Well-formed command lines read without building the full parser, for a quick start.

typer's parser loads pydantic when it is built, which costs more than most commands do.
A command whose options are all text, lists of text or flags needs none of it.  Anything
else (another type, an unknown option, a missing value, ``--help``) is left to typer, so
that there is one place that explains what was wrong.  This file knows no command.
"""

from __future__ import annotations

import inspect
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, get_args, get_type_hints

__all__ = ["read_plainly"]

_TEXT, _MANY, _FLAG = "text", "many", "flag"
_KINDS = {"str": _TEXT, "str | None": _TEXT, "list[str] | None": _MANY, "bool": _FLAG}


@dataclass(frozen=True, slots=True, kw_only=True)
class _Option:
    name: str
    kind: str


def read_plainly(command: Callable[..., Any], words: Sequence[str]) -> dict[str, Any] | None:
    """Return the arguments that ``words`` give ``command``, or None where typer should see to it."""
    parameters = inspect.signature(command).parameters
    options = _options(command, parameters)
    given = None if options is None else _given(options, words)
    if given is None:
        return None
    for name, parameter in parameters.items():
        if name not in given:
            if parameter.default is inspect.Parameter.empty:
                return None
            given[name] = parameter.default
    return given


def _given(options: Mapping[str, _Option], words: Sequence[str]) -> dict[str, Any] | None:
    given: dict[str, Any] = {}
    rest = iter(words)
    for word in rest:
        spelling, equals, value = word.partition("=")
        option = options.get(spelling)
        if option is None or (option.kind == _FLAG and equals):
            return None
        if option.kind == _FLAG:
            given[option.name] = True
            continue
        text = value if equals else next(rest, None)
        if text is None:
            return None
        if option.kind == _MANY:
            given.setdefault(option.name, []).append(text)
        else:
            given[option.name] = text
    return given


def _options(
    command: Callable[..., Any], parameters: Mapping[str, inspect.Parameter]
) -> dict[str, _Option] | None:
    """Return the options by their spelling, or None where one is of a kind not read here."""
    from typer.models import OptionInfo

    options: dict[str, _Option] = {}
    hints = get_type_hints(command, include_extras=True)
    for name in parameters:
        bare, *extras = get_args(hints[name]) or (None,)
        kind = _KINDS.get(bare.__name__ if isinstance(bare, type) and not get_args(bare) else str(bare))
        if kind is None or len(extras) != 1 or not isinstance(extras[0], OptionInfo):
            return None
        info = extras[0]
        spellings = [text for text in (info.default, *(info.param_decls or ())) if isinstance(text, str)]
        if info.callback or info.envvar or (kind == _FLAG and not spellings):
            return None
        for spelling in spellings or [f"--{name.replace('_', '-')}"]:
            options[spelling] = _Option(name=name, kind=kind)
    return options
