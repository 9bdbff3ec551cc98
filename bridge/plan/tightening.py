"""A section's ``tighten``: whole turns that fill its last bars, worked out or refused with what would fit.

How turns are found is the business of :mod:`bridge.craft.tighten`.  This file knows nothing
about how long the section becomes.
"""

from __future__ import annotations

from bridge.craft.stages import Share, Tighten, Tightened
from bridge.craft.tighten import tighten
from bridge.errors import PlanError
from bridge.exact import Meters, Ratio
from bridge.plan.layer_plan import Tightening
from bridge.plan.tighten_entry import TightenEntry

__all__ = ["tightening"]


def tightening(entry: TightenEntry, layer: str, meters: Meters) -> Tightening:
    """Return the turns with which ``layer`` fills the last bars of a section with these meters.

    PlanError, with its place, where whole turns cannot fill them: it names the nearest
    numbers of bars that can be.
    """
    where = entry.place_of("over")
    _refuse_other_meters(entry, meters)
    try:
        found = tighten(_asked(entry), entry.over, meters)
    except PlanError as error:
        raise error.at(entry.place_of("cycles")) from None
    if isinstance(found, Tightened):
        return Tightening(layer=layer, found=found)
    nearest = next((bars for bars in (found.above, found.below) if bars is not None), None)
    raise PlanError(
        found.why,
        hint=f"Write 'over: {nearest} bars', or another share." if nearest else "Take other cycles.",
        where=where,
    )


def _asked(entry: TightenEntry) -> Tighten:
    if entry.ratio is None:
        return Tighten(cycles=entry.cycles, share=entry.share, on_barlines=entry.on_barlines)
    if entry.share is not Share.QUICKENING:
        raise PlanError(
            f"a ratio belongs to a quickening, but the share is {entry.share.value!r}",
            hint="Write 'share: quickening' beside it, or take it out.",
            where=entry.key_places["ratio"],
        )
    return Tighten(
        cycles=entry.cycles, share=entry.share, ratio=Ratio(entry.ratio), on_barlines=entry.on_barlines
    )


def _refuse_other_meters(entry: TightenEntry, meters: Meters) -> None:
    """In a list of meters, only whole passes last as long wherever in the list they end."""
    row = len(meters.row)
    if row == 1:
        return
    if entry.on_barlines:
        raise PlanError(
            f"changes on barlines cannot be asked for where the meters repeat as a list ({meters})",
            hint="Take 'on_barlines' out, or write the section in one meter.",
            where=entry.key_places["on_barlines"],
        )
    if entry.over % row:
        nearest = max(row, round(entry.over / row) * row)
        raise PlanError(
            f"a tightening lasts {entry.over} bars, but the meters {meters} repeat every {row} bars",
            hint=f"Make it a multiple of {row} bars; the nearest is {nearest} bars.",
            where=entry.place_of("over"),
        )
