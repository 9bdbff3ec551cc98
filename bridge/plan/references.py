"""Names of sections looked up: each once, payoffs backwards, equal lengths without circles.

This file knows nothing about layers.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from bridge.errors import PlanError
from bridge.plan.hints import did_you_mean, listed
from bridge.plan.models import SectionEntry
from bridge.plan.values import Word

__all__ = ["index_of_sections", "length_links", "refuse_same_letters", "section_before"]


def index_of_sections(sections: Sequence[SectionEntry]) -> dict[str, int]:
    """Map each section's name to its index; PlanError for a name that stands twice."""
    index: dict[str, int] = {}
    for number, section in enumerate(sections):
        name = section.name
        if name.text in index:
            first = sections[index[name.text]].name.where.line
            raise PlanError(
                f"there are two sections named {name.text!r}, the first on line {first}",
                hint=f"Names are unique: call it '{name.text[:40]} 2', or the like.",
                where=name.where,
            )
        index[name.text] = number
    return index


def refuse_same_letters(sections: Sequence[SectionEntry]) -> None:
    """Refuse a rehearsal letter that two sections have: 'from B' must mean one place."""
    owners: dict[str, SectionEntry] = {}
    for section in sections:
        if section.letter is None:
            continue
        if section.letter in owners:
            first = owners[section.letter].name.text
            raise PlanError(
                f"two sections have the letter {section.letter!r}; {first!r} is the first",
                hint=f"Give {section.name.text!r} a letter of its own.",
                where=section.key_places["letter"],
            )
        owners[section.letter] = section


def section_before(word: Word, here: int, index: Mapping[str, int]) -> int:
    """Return the index of the section that ``word`` names; PlanError unless it comes before ``here``."""
    found = _find(word, index)
    if found >= here:
        stands = "this section itself" if found == here else "a later section"
        raise PlanError(
            f"{word.text!r} is {stands}; a payoff answers earlier ones",
            hint=f"Earlier are {listed(name for name, at in index.items() if at < here) or 'none'}.",
            where=word.where,
        )
    return found


def length_links(sections: Sequence[SectionEntry]) -> tuple[int | None, ...]:
    """Return for each section the index of the one whose bars it takes, or None.

    Chains may run either way; PlanError for a circle.
    """
    index = index_of_sections(sections)
    links = tuple(
        _find(section.same_length_as, index) if section.same_length_as else None for section in sections
    )
    settled: set[int] = set()
    for start in range(len(sections)):
        chain = [start]
        while (following := links[chain[-1]]) is not None and following not in settled:
            if following in chain:
                raise _circle(sections, [*chain[chain.index(following) :], following])
            chain.append(following)
        settled.update(chain)
    return links


def _find(word: Word, index: Mapping[str, int]) -> int:
    if word.text not in index:
        raise PlanError(
            f"there is no section {word.text!r}; there are {listed(index)}",
            hint=did_you_mean(word.text, index),
            where=word.where,
        )
    return index[word.text]


def _circle(sections: Sequence[SectionEntry], chain: list[int]) -> PlanError:
    names = [repr(sections[index].name.text) for index in chain]
    text = (
        f"{names[0]} takes its length from itself"
        if len(chain) == 2
        else f"these take their length from one another in a circle: {listed(names)}"
    )
    return PlanError(
        text,
        hint="Give one of them a length of its own.",
        where=sections[chain[0]].key_places["same_length_as"],
    )
