"""``pulsebridge recipe``: build a plan from a recipe, a short script with parameters."""

from __future__ import annotations

import inspect
from collections.abc import Callable
from dataclasses import dataclass
from difflib import get_close_matches
from importlib.util import module_from_spec, spec_from_file_location
from pathlib import Path
from typing import Annotated, Any

import typer

from bridge.cli.craft_lines import wrapped
from bridge.cli.output import note, print_json, safe, write_lines
from bridge.errors import InternalError, UsageError
from bridge.plan import load
from bridge.plan.fields import plan_text
from bridge.store import shipped, write_atomically

__all__ = ["command"]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Recipe:
    """A shipped recipe: what it is for, its settings with their defaults, and how it builds."""

    name: str
    about: str
    settings: dict[str, str]
    build: Callable[..., dict[str, object]]


def command(
    recipe: Annotated[
        str | None, typer.Argument(help="The recipe; without one, all are listed.", metavar="NAME")
    ] = None,
    *,
    settings: Annotated[
        list[str] | None,
        typer.Option("--set", help="A setting of the recipe; once for each.", metavar="NAME=VALUE"),
    ] = None,
    out: Annotated[
        Path | None, typer.Option(help="Write the plan to a new file, not to stdout.", metavar="FILE")
    ] = None,
    json: Annotated[bool, typer.Option("--json", help="One JSON object on stdout.")] = False,
) -> None:
    """Build a plan from a recipe: a section that realigns, an entrance, a drift, a landing.

    The result is a plan like any other: solve it, lay it, change it. Each recipe is a short
    script that can also be run, or copied and changed, as plain Python.

    \b
    Example:
      pulsebridge recipe realign --set tempo=120 --out bridge-section.yaml
    """
    if recipe is None:
        if settings or out:
            raise UsageError("no recipe is named", hint=f"There are {', '.join(_names())}.")
        _list(json)
        return
    found = _read(_known(recipe))
    given = _given(found, settings or [])
    text = plan_text(found.build(**given))
    load(text, source=f"recipe {found.name}")
    if out is not None:
        _write(out, text)
    if json:
        print_json({"recipe": found.name, "settings": found.settings | given, "plan": text})
    elif out is None:
        write_lines(text.splitlines())


def _list(json: bool) -> None:
    recipes = [_read(name) for name in _names()]
    if json:
        print_json(
            {"recipes": [{"name": one.name, "about": one.about, "settings": one.settings} for one in recipes]}
        )
        return
    lines: list[str] = []
    for one in recipes:
        lines += [one.name, *(f"  {line}" for line in wrapped(one.about.partition("\n\n")[0], narrower=2))]
        lines += [f"    {name}={value}" for name, value in one.settings.items()]
        lines.append("")
    write_lines([*lines, "Change a setting with --set NAME=VALUE."])


def _names() -> list[str]:
    return sorted(path.stem for path in shipped("recipes").glob("[a-z]*.py"))


def _known(name: str) -> str:
    names = _names()
    if name in names:
        return name
    near = get_close_matches(name, names, n=1)
    raise UsageError(
        f"there is no recipe {name[:40]!r}; there are {', '.join(names)}",
        hint=f"Did you mean {near[0]!r}?" if near else "See 'pulsebridge recipe' for what each does.",
    )


def _read(name: str) -> _Recipe:
    path = shipped(f"recipes/{name}.py")
    spec = spec_from_file_location(f"bridge_recipe_{name}", path)
    if spec is None or spec.loader is None:
        raise InternalError(f"the recipe {name} cannot be loaded", hint="Install pulsebridge again.")
    module: Any = module_from_spec(spec)
    spec.loader.exec_module(module)
    parameters = inspect.signature(module.build).parameters.values()
    return _Recipe(
        name=name,
        about=inspect.getdoc(module) or "",
        settings={parameter.name: parameter.default for parameter in parameters},
        build=module.build,
    )


def _given(recipe: _Recipe, texts: list[str]) -> dict[str, str]:
    found: dict[str, str] = {}
    for text in texts:
        name, equals, value = text.partition("=")
        name = name.strip().replace("-", "_")
        if not equals:
            raise UsageError(f"--set takes NAME=VALUE, not {text[:40]!r}", hint="As in --set tempo=120.")
        if name not in recipe.settings:
            near = get_close_matches(name, recipe.settings, n=1)
            raise UsageError(
                f"the recipe {recipe.name} has no setting {name[:40]!r}; it has {', '.join(recipe.settings)}",
                hint=f"Did you mean {near[0]!r}?" if near else None,
            )
        found[name] = value.strip()
    return found


def _write(path: Path, text: str) -> None:
    if path.exists():
        raise UsageError(f"{str(path)!r} exists already", hint="Give the name of a new file.")
    write_atomically(path, text.encode())
    note(f"written to {safe(str(path))}; solve it with: pulsebridge plan {safe(str(path))}")
