"""``tighten`` as it is written: who, which cycles, over how many bars, shared how.

This file knows nothing about turns.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Annotated, ClassVar

from pydantic import Field

from bridge.craft.stages import Share
from bridge.errors import PlanError
from bridge.exact import Length
from bridge.plan import values as take
from bridge.plan.entry import Entry
from bridge.plan.values import Reads, Word

__all__ = ["TightenEntry"]


def _share(what: str) -> Reads:
    """Make a field for how the stages share the bars."""
    known = [share.value for share in Share]

    def parse(text: str) -> Share:
        if text.strip() not in known:
            raise PlanError(f"{what} is one of {', '.join(known)}, not {text[:40]!r}")
        return Share(text.strip())

    return Reads(take.text_reader(parse, what), {"enum": known})


class TightenEntry(Entry):
    """A layer that shortens its cycle over a section's last bars, so that whole turns fill them."""

    what: ClassVar[str] = "a tightening"
    instead: ClassVar[str] = (
        "Write 'tighten: {layer: hand drum, cycles: [5/8, 4/8, 3/8, 2/8], over: 14 bars}'."
    )

    layer: Annotated[Word, take.name("a layer")] = Field(examples=["hand drum"])
    """Who tightens; it sounds in the section."""
    cycles: Annotated[tuple[Length, ...], take.notes("cycle")] = Field(
        examples=[["5/8", "4/8", "3/8", "2/8"]]
    )
    """The shrinking cycles, 2 to 16 of them, in whole notes."""
    over: Annotated[int, take.bars("'over'")] = Field(examples=["14 bars"])
    """Over so many bars, the section's last; before them it plays its own cycle."""
    share: Annotated[Share, _share("'share'")] = Field(default=Share.TURNS, examples=["turns"])
    """turns: equally many of each; near-turns: as equal as fits; time: each as long; quickening."""
    ratio: Annotated[Fraction, take.number("a ratio", limits={"exclusiveMaximum": 1})] | None = Field(
        default=None, examples=["1/2"]
    )
    """For quickening: how long each stage lasts of the one before; half unless said."""
    on_barlines: Annotated[bool, take.flag("'on_barlines'")] = Field(default=False, examples=[True])
    """Whether each change of cycle must fall on a barline."""
