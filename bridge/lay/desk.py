"""Messages about markers that stand in the host: how each can be removed, if at all.

A message must not remove more than is ours: where it names no id, nothing is removed
that it could not tell from a marker of the user's.  This file knows nothing about when.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from math import ceil
from operator import attrgetter

from bridge.exact import Length, Place
from bridge.hostmap import CannotHoldError, Field, HostMap, MarkerHeard, Number, Ruler, Said, Step
from bridge.hostmap.template import Fact
from bridge.lay.wanted import Wanted, fill_all, wanted_at, with_handle

__all__ = ["Desk"]


class Desk:
    """Fills in the host map's messages for one song."""

    def __init__(self, ruler: Ruler, host: HostMap) -> None:
        self._ruler = ruler
        self._host = host
        self._unit = host.hears["marker"].unit if "marker" in host.hears else None
        self._removes_by_id = _names_id(host, "remove")
        self._places_with_id = _names_id(host, "place")

    @property
    def removes_by_id(self) -> bool:
        """Whether a marker is removed by its id."""
        return self._removes_by_id

    @property
    def renames(self) -> bool:
        """Whether a marker can be given another name."""
        return any(
            field.name == "name" for said in self._host.says.get("rename", ()) for field in said.fields
        )

    @property
    def renames_by_id(self) -> bool:
        """Whether it takes an id to say which one."""
        return _names_id(self._host, "rename")

    def listing(self) -> tuple[Step, ...]:
        """Return what asks for all markers."""
        return tuple(said.step(_no_field)[0] for said in self._host.says["list"])

    def placing(self, wanted: Wanted, *, free_id: int) -> tuple[Step, ...]:
        """Return what places ``wanted``; ``free_id`` is used where the host wants to be told one."""
        if not self._places_with_id:
            return wanted.steps
        return with_handle(wanted, self._ruler, self._host.says["place"], free_id).steps

    def undoing(self, wanted: Wanted) -> tuple[Step, ...] | None:
        """Return what would remove ``wanted`` without an id; None where that cannot be."""
        said = self._host.says.get("remove")
        if said is None or self._removes_by_id:
            return None
        try:
            return fill_all(
                self._ruler, said, name=wanted.name, place=wanted.place, index=wanted.index, handle=None
            )[0]
        except CannotHoldError:
            return None

    def removing(self, marker: MarkerHeard) -> tuple[Step, ...] | str:
        """Return what removes ``marker``, or why nothing does."""
        said = self._host.says.get("remove")
        if said is None:
            return "the host map has no 'says.remove'; remove it in the host by hand"
        try:
            return self._about(marker, said, name=marker.name, index=0)
        except CannotHoldError as error:
            return f"it cannot be removed: {error.message}"

    def renaming(self, marker: MarkerHeard, wanted: Wanted) -> tuple[Step, ...] | str:
        """Return what gives ``marker`` the name of ``wanted``, or why nothing does."""
        said = self._host.says.get("rename")
        if said is None:
            return "the host map has no 'says.rename'"
        try:
            return self._about(
                marker, said, name=wanted.name, index=wanted.index, facts={"old_name": marker.name}
            )
        except CannotHoldError as error:
            return f"it cannot be renamed: {error.message}"

    def _about(
        self, marker: MarkerHeard, said: tuple[Said, ...], *, name: str, index: int,
        facts: Mapping[str, Fact] | None = None,
    ) -> tuple[Step, ...]:  # fmt: skip
        """Fill in messages about a marker that stands, its place as the host told it."""
        unit = self._unit
        if unit is None:
            raise CannotHoldError("the host tells no markers")
        return fill_all(
            self._ruler,
            said,
            name=name,
            place=self._ruler.place(marker.at.value, unit),
            index=index,
            handle=marker.id,
            raw=(unit, marker.at.value),
            facts=facts,
        )[0]

    def beyond(self, standing: Sequence[MarkerHeard], name: str, *, count: int) -> tuple[Wanted, ...]:
        """Return ``count`` markers at barlines after the song and all that stands."""
        unit = self._unit
        if unit is None:
            return ()
        told = (self._ruler.place(marker.at.value, unit) for marker in standing)
        last = max((self._ruler.song.end, *told), key=attrgetter("whole_notes"))
        first = Place(Fraction(ceil(last.whole_notes) + 1))
        return tuple(
            wanted_at(
                self._ruler, self._host.says["place"], unit, name=name, place=first + Length(n), index=n
            )
            for n in range(count)
        )

    def would_hit(self, steps: tuple[Step, ...], marker: MarkerHeard) -> bool:
        """Whether ``steps``, which remove one marker, would remove ``marker`` as well."""
        return not self._removes_by_id and self.removing(marker) == steps

    def would_hit_wanted(self, steps: tuple[Step, ...], wanted: Wanted) -> bool:
        """Whether ``steps``, which remove one marker, would remove ``wanted`` once it stands."""
        if self._removes_by_id or self._unit is None:
            return False
        return self.would_hit(steps, MarkerHeard(None, wanted.name, Number(wanted.at, wanted.step)))

    def describe(self, wanted: Wanted, told: MarkerHeard) -> str:
        """Say how ``told`` differs from what was asked for."""
        if told.name != wanted.name:
            return f"it stands under another name: {told.name!r}"
        there = self._ruler.seconds(told.at.value, self._unit) if self._unit else Fraction(0)
        off = float(there - self._ruler.count.seconds(wanted.place))
        return f"it stands {abs(off) * 1000:.4g} ms {'after' if off > 0 else 'before'} its place"


def _no_field(field: Field) -> int:
    raise CannotHoldError(f"'says.list' cannot use the field {field.name!r}: it is about no marker")


def _names_id(host: HostMap, key: str) -> bool:
    return any(field.name == "id" for said in host.says.get(key, ()) for field in said.fields)
