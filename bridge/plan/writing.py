"""From a Plan back to the text of a plan file, in one canonical form.

What the text means is kept, exactly; comments and spelling are not.  A text is quoted
wherever another YAML reader could take it for something else.  This file knows nothing
about files.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction

from bridge.craft.stages import Share
from bridge.cycles.layer import Kind
from bridge.exact import Bars, Length, Meters, Ratio
from bridge.plan import spelling as put
from bridge.plan.accepting import READINGS, Accept, Measure
from bridge.plan.model import (
    Free,
    LayerPlan,
    Origin,
    PayOff,
    Plan,
    Section,
    Stay,
    TempoRange,
    Tightening,
    Total,
    Vamp,
    default_resolve,
)
from bridge.plan.writing_cues import cue_list

__all__ = ["write_plan"]

_ONE = Fraction(1)
_QUARTER = Length(Fraction(1, 4))
_NO_TEMPO_NEEDED = "120"
"""Where every section is a free passage, nobody plays at the song's tempo."""


def write_plan(plan: Plan) -> str:
    """Write a plan; see :func:`bridge.plan.dump`."""
    if plan.tempo_range is not None:
        tempo = _range(plan.tempo_range)
    else:
        own = [s for s in plan.sections if s.pivot is None and s.free is None]
        tempo = _most_common([_tempo(section) for section in own] or [_NO_TEMPO_NEEDED])
    meter = _most_common([_meters(section.meters) for section in plan.sections])
    top: put.Fields = [
        ("pulsebridge", "1"),
        ("title", put.text(plan.title)),
        ("tempo", tempo),
        ("meter", meter),
    ]
    if plan.total is not None:
        top.append(("total", put.group(_total(plan.total))))
    if plan.origin != Origin():
        top.append(("origin", put.group(_origin(plan.origin))))
    if plan.accept:
        top.append(("accept", _accepts(plan.accept)))
    lines = [f"{key}: {value}" for key, value in top]
    lines.append("layers:" if plan.layers else "layers: {}")
    lines += [f"  {put.text(layer.name)}: {put.group(_layer(layer))}" for layer in plan.layers.values()]
    lines.append("sections:")
    for section, sounded in _with_sounded(plan):
        fields = _section(section, plan, sounded, song_tempo=tempo, song_meter=meter)
        lines += [f"  {'  ' if index else '- '}{key}: {value}" for index, (key, value) in enumerate(fields)]
    return "\n".join(lines) + "\n"


def _with_sounded(plan: Plan) -> Iterator[tuple[Section, tuple[str, ...]]]:
    """Yield each section with all whose time counts in its run up to its end."""
    for run in plan.runs:
        for section, counting in zip(run, plan.counting(run), strict=True):
            yield section, tuple(name for name in plan.layers if name in counting)


def _default_resolve(section: Section, sounded: tuple[str, ...]) -> tuple[str, ...]:
    return default_resolve(section.layers, sounded=sounded, runs_on=section.runs_on, stays=section.stays)


def _sounding(section: Section, plan: Plan) -> str:
    """Write who sounds, each with what is other about it here."""
    if section.free is not None:
        return put.names(section.free.layers)
    written = []
    for name in section.layers:
        other = _other(plan.layers[name], plan.given(section, name), section.stays.get(name, Stay()))
        written.append(f"{{{put.text(name)}: {put.group(other)}}}" if other else put.text(name))
    return f"[{', '.join(written)}]"


def _other(layer: LayerPlan, given: LayerPlan, stay: Stay) -> put.Fields:
    fields = [] if replace(layer, start=given.start, rate=given.rate) == given else _way(given)
    if given.start != layer.start:
        fields.append(("start", put.note(given.start)))
    if given.rate != layer.rate:
        fields.append(("rate", put.number(given.rate.value)))
    if stay.enters is not None:
        fields.append(("enters", put.cycle(stay.enters)))
    if stay.leaves is not None:
        fields.append(("leaves", put.cycle(stay.leaves)))
    return fields


def _tighten(tightening: Tightening) -> str:
    asked = tightening.found.asked
    fields: put.Fields = [
        ("layer", put.text(tightening.layer)),
        ("cycles", f"[{', '.join(map(put.cycle, asked.cycles))}]"),
        ("over", str(Bars(tightening.found.bars))),
        ("share", asked.share.value),
    ]
    if asked.share is Share.QUICKENING:
        fields.append(("ratio", put.number(asked.ratio.value)))
    if asked.on_barlines:
        fields.append(("on_barlines", "true"))
    return put.group(fields)


def _section(
    section: Section, plan: Plan, sounded: tuple[str, ...], *, song_tempo: str, song_meter: str
) -> put.Fields:
    fields: put.Fields = [("name", put.text(section.name)), ("layers", _sounding(section, plan))]
    if not section.in_range and section.free is None and (tempo := _tempo(section)) != song_tempo:
        fields.append(("tempo", tempo))
    if (meter := _meters(section.meters)) != song_meter:
        fields.append(("meter", meter))
    fields += _lengths(section, plan) if section.free is None else _free(section.free)
    if section.settled:
        fields.append(("settled", "true"))
    if section.runs_on:
        fields.append(("runs_on", "true"))
    if section.resolve != _default_resolve(section, sounded):
        fields.append(("resolve", put.names(section.resolve)))
    if section.meets_once:
        fields.append(("meets", "once"))
    if section.tighten is not None:
        fields.append(("tighten", _tighten(section.tighten)))
    if section.pays_off is not None:
        fields.append(("pays_off", _pays_off(section.pays_off, plan)))
    return fields + _told(section)


def _told(section: Section) -> put.Fields:
    """Write what is for people and for readings on the form, not for the planner."""
    fields: put.Fields = []
    if section.energy:
        fields.append(("energy", f"[{', '.join(map(put.number, section.energy))}]"))
    if section.letter is not None:
        fields.append(("letter", put.text(section.letter)))
    if section.note is not None:
        fields.append(("note", put.text(section.note)))
    if section.colour is not None:
        fields.append(("colour", f'"#{section.colour:06x}"'))
    if section.pickup:
        fields.append(("pickup", put.note(section.pickup)))
    if section.count_in:
        fields.append(("count_in", put.bars(section.count_in)))
    if section.accept:
        fields.append(("accept", _accepts(section.accept)))
    if section.cues:
        fields.append(("cues", cue_list(section.cues)))
    return fields


def _free(free: Free) -> put.Fields:
    return [("free", put.group([("about", put.time(free.about))]))]


def _vamp(vamp: Vamp) -> str:
    return "true" if vamp.at_least is None else put.group([("at_least", put.span(vamp.at_least))])


def _lengths(section: Section, plan: Plan) -> put.Fields:
    fields: put.Fields = []
    if section.bars is not None:
        fields.append(("bars", str(section.bars)))
    if wishes := _wishes(section):
        fields.append(("length", put.group(wishes)))
    if section.same_length_as is not None:
        fields.append(("same_length_as", put.text(plan.sections[section.same_length_as].name)))
    if section.weight != _ONE:
        fields.append(("weight", put.number(section.weight)))
    if section.vamp is not None:
        fields.append(("vamp", _vamp(section.vamp)))
    return fields


def _wishes(section: Section) -> put.Fields:
    spans = {"about": section.about, "at_least": section.at_least, "at_most": section.at_most}
    return [(key, put.span(span)) for key, span in spans.items() if span is not None]


def _way(layer: LayerPlan) -> put.Fields:
    """Write the cycle in the way in which it was given."""
    if layer.kind is Kind.GROUPS and isinstance(layer.cycle, Length):
        unit = layer.cycle / sum(layer.groups)
        return [("groups", f"[{', '.join(map(str, layer.groups))}]"), ("unit", put.note(unit))]
    if layer.pattern is not None and isinstance(layer.cycle, Length):
        unit = layer.cycle / len(layer.pattern.steps)
        return [("pattern", put.text(str(layer.pattern))), ("unit", put.note(unit))]
    if layer.kind is Kind.PULSES:
        return [("pulses", str(layer.pulses)), ("over", put.cycle(layer.cycle))]
    return [("cycle", put.cycle(layer.cycle))]


def _layer(layer: LayerPlan) -> put.Fields:
    fields = _way(layer)
    if layer.start:
        fields.append(("start", put.note(layer.start)))
    if layer.rate != Ratio(1):
        fields.append(("rate", put.number(layer.rate.value)))
    if layer.player is not None:
        fields.append(("player", put.text(layer.player)))
    return fields


def _total(total: Total) -> put.Fields:
    fields: put.Fields = [("about", put.time(total.about))]
    if total.within is not None:
        fields.append(("within", put.time(total.within)))
    if total.weight != _ONE:
        fields.append(("weight", put.number(total.weight)))
    return fields


def _origin(origin: Origin) -> put.Fields:
    fields: put.Fields = [("bar", str(origin.bar))]
    if origin.seconds is not None:
        fields.append(("seconds", put.time(origin.seconds)))
    return fields


def _pays_off(pays_off: PayOff, plan: Plan) -> str:
    names = [plan.sections[index].name for index in pays_off.sections]
    written = put.text(names[0]) if len(names) == 1 else put.names(tuple(names))
    if pays_off.ratio is None:
        return written
    return put.group([("section", written), ("ratio", put.number(pays_off.ratio))])


def _accepts(accepted: tuple[Accept, ...]) -> str:
    return f"[{', '.join(put.group(_accept(one)) for one in accepted)}]"


def _accept(accept: Accept) -> put.Fields:
    fields: put.Fields = [("reading", put.text(accept.reading))]
    if accept.threshold is not None:
        in_time = READINGS[accept.reading] is Measure.SECONDS
        fields.append(("threshold", (put.time if in_time else put.number)(accept.threshold)))
    return [*fields, ("because", put.text(accept.because))]


def _tempo(section: Section) -> str:
    if section.pivot is not None:
        return put.group([("pivot", put.note(section.pivot.old)), ("becomes", put.note(section.pivot.new))])
    quarters = (section.beat or _QUARTER).whole_notes / _QUARTER.whole_notes
    start, end = (put.number(bpm / quarters) for bpm in (section.tempo.start, section.tempo.end))
    beat = [("beat", put.note(section.beat))] if section.beat else []
    if not section.tempo.is_constant:
        return put.group([*beat, ("from", start), ("to", end)])
    return put.group([*beat, ("bpm", start)]) if beat else start


def _range(wished: TempoRange) -> str:
    return put.group([("between", f"[{put.number(wished.low)}, {put.number(wished.high)}]")])


def _meters(meters: Meters) -> str:
    row = [str(meter) for meter in meters.row]
    return row[0] if len(row) == 1 else f"[{', '.join(row)}]"


def _most_common(written: list[str]) -> str:
    """Return what stands most often; the first of those that stand equally often."""
    return Counter(written).most_common(1)[0][0]
