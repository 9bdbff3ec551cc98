"""``pulsebridge pairings``: which layers sound together, and a fresh order of them."""

from __future__ import annotations

from typing import Annotated, Any

import typer

from bridge.cli.craft_lines import Strokes, decimal, short, table, wrapped
from bridge.cli.layer_options import named_layers, read, read_layers, read_meters
from bridge.cli.output import note, plain_ascii, print_json, write_lines
from bridge.craft.fresh import NoOrder, Order, fresh_order
from bridge.craft.pairing import Pairing, pairings
from bridge.cycles import Layer, good_lengths
from bridge.exact import Meters, parse_whole

__all__ = ["command"]

_NAME = 14
_ACROSS = 20


def command(
    *,
    layer: Annotated[
        list[str] | None, typer.Option(help="NAME=CYCLE[@START][xRATE]; once for each.", metavar="LAYER")
    ] = None,
    meter: Annotated[str, typer.Option(help="4/4, 2+2+3/8, or a repeating list: 4/4,4/4,7/8.")] = "4/4",
    sizes: Annotated[str, typer.Option(help="How many layers sound together: 2, or 2,3.")] = "2",
    sections: Annotated[
        str | None, typer.Option(help="Order them over so many sections.", metavar="N")
    ] = None,
    without: Annotated[
        list[str] | None, typer.Option(help="A pairing to leave out: band+bells.", metavar="NAME+NAME")
    ] = None,
    first: Annotated[str | None, typer.Option(help="The pairing to begin with.", metavar="NAME+NAME")] = None,
    json: Annotated[bool, typer.Option("--json", help="One JSON object on stdout.")] = False,
) -> int:
    """List the pairings of the layers, and order them so that a passage stays fresh.

    In the order (--sections) each section differs from the last by one layer, every pairing is heard
    once before any comes back, and nobody stays on longer than must be: what experienced
    writers do to keep a long passage moving without a break in it.

    \b
    Example:
      pulsebridge pairings --layer a=4bars --layer b=3/16 --layer c=5/8
    """
    meters = read_meters(meter)
    layers = read_layers(layer or [], meters)
    counts = read("--sizes", lambda: [parse_whole(one, what="a size", least=2) for one in sizes.split(",")])
    found = read("--sizes", lambda: pairings(layers, sizes=counts))
    order = None
    if sections is not None:
        order = fresh_order(
            [one.name for one in layers],
            sections=read("--sections", lambda: parse_whole(sections, what="a number of sections", least=1)),
            sizes=counts,
            without=[_names("--without", text, layers) for text in without or []],
            first=None if first is None else _names("--first", first, layers),
        )
    if json:
        print_json(_record(found, meters, order))
    else:
        write_lines(_lines(found, meters))
        if isinstance(order, Order):
            write_lines(["", *_drawing(order, layers)])
        elif order is not None:
            note(f"pulsebridge: {order.why}.")
    return 1 if isinstance(order, NoOrder) else 0


def _names(option: str, text: str, layers: tuple[Layer, ...]) -> list[str]:
    return [layer.name for layer in named_layers(option, text.split("+"), layers)]


def _record(found: list[Pairing], meters: Meters, order: Order | NoOrder | None) -> dict[str, Any]:
    return {
        "pairings": [
            {
                "layers": list(one.names),
                "period_whole_notes": str(one.period),
                "period_bars": _bars(one, meters),
                "first_meeting_whole_notes": None if one.first_meeting is None else str(one.first_meeting),
                "meetings": one.meetings,
                "onsets": one.onsets,
                "shared": one.shared,
                "onsets_per_whole_note": str(one.density),
            }
            for one in found
        ],
        "order": [list(names) for names in order.pairings] if isinstance(order, Order) else None,
        "longest_stay": order.longest_stay if isinstance(order, Order) else None,
        "proven": None if order is None else order.proven,
        "why": order.why if isinstance(order, NoOrder) else None,
    }


def _bars(one: Pairing, meters: Meters) -> int | None:
    """Return after how many bars the good lengths of a pairing repeat; None where none is good."""
    return good_lengths(meters, one.layers).period_bars


def _lines(found: list[Pairing], meters: Meters) -> list[str]:
    heads = ["pairing", "home every", "meetings", "onsets", "at once", "a whole note"]
    rows = []
    for one in found:
        bars = _bars(one, meters)
        rows.append(
            [
                " + ".join(short(name) for name in one.names),
                "never" if bars is None else f"{bars} bar{'' if bars == 1 else 's'}",
                str(one.meetings),
                str(one.onsets),
                str(one.shared),
                decimal(one.density),
            ]
        )
    lines = table(heads, rows, right=range(1, len(heads)))
    return [*lines, *wrapped("Counted until each pairing repeats; at once: hits that two or more play.")]


def _drawing(order: Order, layers: tuple[Layer, ...]) -> list[str]:
    """Draw who sounds in which section, a column each."""
    signs = Strokes.of(plain=plain_ascii())
    lines = []
    for start in range(0, len(order.pairings), _ACROSS):
        part = order.pairings[start : start + _ACROSS]
        lines.append(
            f"{'section':<{_NAME}} " + "".join(f"{start + number:>3}" for number in range(1, len(part) + 1))
        )
        for layer in layers:
            row = "".join(f"{signs.accent if layer.name in names else signs.rest:>3}" for names in part)
            lines.append(f"{short(layer.name):<{_NAME}} {row}")
        lines.append("")
    sections = "section" if order.longest_stay == 1 else "sections"
    stay = f"Nobody sounds in more than {order.longest_stay} {sections} in a row"
    proof = "no order does with fewer" if order.proven else "whether fewer would do is not proven"
    return [*lines, *wrapped(f"{stay}; {proof}.")]
