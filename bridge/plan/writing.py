"""From a Plan back to the text of a plan file, in one canonical form.

What the text means is kept, exactly; comments and spelling are not.  A text is quoted
wherever another YAML reader could take it for something else.  This file knows nothing
about files.
"""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction

from bridge.craft.stages import Share
from bridge.cycles.layer import Kind
from bridge.errors import PlanError
from bridge.exact import MAX_DIGITS, Bars, Length, Meters, Ratio, Span, show_number
from bridge.plan.accepting import READINGS, Accept, Measure
from bridge.plan.model import (
    LayerPlan,
    Origin,
    PayOff,
    Plan,
    Section,
    Stay,
    TempoRange,
    Tightening,
    Total,
    default_resolve,
)

__all__ = ["write_plan"]

_PLAIN = re.compile(r"[A-Za-z](?:[A-Za-z0-9 _.'-]*[A-Za-z0-9_.'])?", re.ASCII)
_TAKEN_ELSEWHERE = {"true", "false", "yes", "no", "on", "off", "null", "y", "n"}
_ONE = Fraction(1)
_QUARTER = Length(Fraction(1, 4))

Fields = list[tuple[str, str]]
"""Keys with the text of their values, in the order they are written."""


def write_plan(plan: Plan) -> str:
    """Write a plan; see :func:`bridge.plan.dump`."""
    if plan.tempo_range is not None:
        tempo = _range(plan.tempo_range)
    else:
        tempo = _most_common([_tempo(section) for section in plan.sections if section.pivot is None])
    meter = _most_common([_meters(section.meters) for section in plan.sections])
    top: Fields = [("pulsebridge", "1"), ("title", _text(plan.title)), ("tempo", tempo), ("meter", meter)]
    if plan.total is not None:
        top.append(("total", _group(_total(plan.total))))
    if plan.origin != Origin():
        top.append(("origin", _group(_origin(plan.origin))))
    if plan.accept:
        top.append(("accept", _accepts(plan.accept)))
    lines = [f"{key}: {value}" for key, value in top]
    lines.append("layers:" if plan.layers else "layers: {}")
    lines += [f"  {_text(layer.name)}: {_group(_layer(layer))}" for layer in plan.layers.values()]
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
    written = []
    for name in section.layers:
        other = _other(plan.layers[name], plan.given(section, name), section.stays.get(name, Stay()))
        written.append(f"{{{_text(name)}: {_group(other)}}}" if other else _text(name))
    return f"[{', '.join(written)}]"


def _other(layer: LayerPlan, given: LayerPlan, stay: Stay) -> Fields:
    fields = [] if replace(layer, start=given.start, rate=given.rate) == given else _way(given)
    if given.start != layer.start:
        fields.append(("start", _note(given.start)))
    if given.rate != layer.rate:
        fields.append(("rate", _number(given.rate.value)))
    if stay.enters is not None:
        fields.append(("enters", _cycle(stay.enters)))
    if stay.leaves is not None:
        fields.append(("leaves", _cycle(stay.leaves)))
    return fields


def _tighten(tightening: Tightening) -> str:
    asked = tightening.found.asked
    fields: Fields = [
        ("layer", _text(tightening.layer)),
        ("cycles", f"[{', '.join(map(_cycle, asked.cycles))}]"),
        ("over", str(Bars(tightening.found.bars))),
        ("share", asked.share.value),
    ]
    if asked.share is Share.QUICKENING:
        fields.append(("ratio", _number(asked.ratio.value)))
    if asked.on_barlines:
        fields.append(("on_barlines", "true"))
    return _group(fields)


def _section(
    section: Section, plan: Plan, sounded: tuple[str, ...], *, song_tempo: str, song_meter: str
) -> Fields:
    fields: Fields = [("name", _text(section.name)), ("layers", _sounding(section, plan))]
    if not section.in_range and (tempo := _tempo(section)) != song_tempo:
        fields.append(("tempo", tempo))
    if (meter := _meters(section.meters)) != song_meter:
        fields.append(("meter", meter))
    fields += _lengths(section, plan)
    if section.runs_on:
        fields.append(("runs_on", "true"))
    if section.resolve != _default_resolve(section, sounded):
        fields.append(("resolve", _list(section.resolve)))
    if section.meets_once:
        fields.append(("meets", "once"))
    if section.tighten is not None:
        fields.append(("tighten", _tighten(section.tighten)))
    if section.pays_off is not None:
        fields.append(("pays_off", _pays_off(section.pays_off, plan)))
    return fields + _told(section)


def _told(section: Section) -> Fields:
    """Write what is for people and for readings on the form, not for the planner."""
    fields: Fields = []
    if section.energy:
        fields.append(("energy", f"[{', '.join(map(_number, section.energy))}]"))
    if section.letter is not None:
        fields.append(("letter", _text(section.letter)))
    if section.note is not None:
        fields.append(("note", _text(section.note)))
    if section.colour is not None:
        fields.append(("colour", f'"#{section.colour:06x}"'))
    if section.pickup:
        fields.append(("pickup", _note(section.pickup)))
    if section.count_in:
        fields.append(("count_in", _bars(section.count_in)))
    if section.accept:
        fields.append(("accept", _accepts(section.accept)))
    return fields


def _lengths(section: Section, plan: Plan) -> Fields:
    fields: Fields = []
    if section.bars is not None:
        fields.append(("bars", str(section.bars)))
    if wishes := _wishes(section):
        fields.append(("length", _group(wishes)))
    if section.same_length_as is not None:
        fields.append(("same_length_as", _text(plan.sections[section.same_length_as].name)))
    if section.weight != _ONE:
        fields.append(("weight", _number(section.weight)))
    if section.settled:
        fields.append(("settled", "true"))
    return fields


def _wishes(section: Section) -> Fields:
    spans = {"about": section.about, "at_least": section.at_least, "at_most": section.at_most}
    return [(key, _span(span)) for key, span in spans.items() if span is not None]


def _way(layer: LayerPlan) -> Fields:
    """Write the cycle in the way in which it was given."""
    if layer.kind is Kind.GROUPS and isinstance(layer.cycle, Length):
        unit = layer.cycle / sum(layer.groups)
        return [("groups", f"[{', '.join(map(str, layer.groups))}]"), ("unit", _note(unit))]
    if layer.pattern is not None and isinstance(layer.cycle, Length):
        unit = layer.cycle / len(layer.pattern.steps)
        return [("pattern", _text(str(layer.pattern))), ("unit", _note(unit))]
    if layer.kind is Kind.PULSES:
        return [("pulses", str(layer.pulses)), ("over", _cycle(layer.cycle))]
    return [("cycle", _cycle(layer.cycle))]


def _layer(layer: LayerPlan) -> Fields:
    fields = _way(layer)
    if layer.start:
        fields.append(("start", _note(layer.start)))
    if layer.rate != Ratio(1):
        fields.append(("rate", _number(layer.rate.value)))
    if layer.player is not None:
        fields.append(("player", _text(layer.player)))
    return fields


def _total(total: Total) -> Fields:
    fields: Fields = [("about", _time(total.about))]
    if total.within is not None:
        fields.append(("within", _time(total.within)))
    if total.weight != _ONE:
        fields.append(("weight", _number(total.weight)))
    return fields


def _origin(origin: Origin) -> Fields:
    fields: Fields = [("bar", str(origin.bar))]
    if origin.seconds is not None:
        fields.append(("seconds", _time(origin.seconds)))
    return fields


def _pays_off(pays_off: PayOff, plan: Plan) -> str:
    names = [plan.sections[index].name for index in pays_off.sections]
    written = _text(names[0]) if len(names) == 1 else _list(tuple(names))
    if pays_off.ratio is None:
        return written
    return _group([("section", written), ("ratio", _number(pays_off.ratio))])


def _accepts(accepted: tuple[Accept, ...]) -> str:
    return f"[{', '.join(_group(_accept(one)) for one in accepted)}]"


def _accept(accept: Accept) -> Fields:
    fields: Fields = [("reading", _text(accept.reading))]
    if accept.threshold is not None:
        in_time = READINGS[accept.reading] is Measure.SECONDS
        fields.append(("threshold", (_time if in_time else _number)(accept.threshold)))
    return [*fields, ("because", _text(accept.because))]


def _tempo(section: Section) -> str:
    if section.pivot is not None:
        return _group([("pivot", _note(section.pivot.old)), ("becomes", _note(section.pivot.new))])
    quarters = (section.beat or _QUARTER).whole_notes / _QUARTER.whole_notes
    start, end = (_number(bpm / quarters) for bpm in (section.tempo.start, section.tempo.end))
    beat = [("beat", _note(section.beat))] if section.beat else []
    if not section.tempo.is_constant:
        return _group([*beat, ("from", start), ("to", end)])
    return _group([*beat, ("bpm", start)]) if beat else start


def _range(wished: TempoRange) -> str:
    return _group([("between", f"[{_number(wished.low)}, {_number(wished.high)}]")])


def _meters(meters: Meters) -> str:
    row = [str(meter) for meter in meters.row]
    return row[0] if len(row) == 1 else f"[{', '.join(row)}]"


def _most_common(written: list[str]) -> str:
    """Return what stands most often; the first of those that stand equally often."""
    return Counter(written).most_common(1)[0][0]


def _cycle(cycle: Length | Bars) -> str:
    if isinstance(cycle, Bars):
        return str(cycle)
    value = cycle.whole_notes
    return f"{value.numerator}/1" if value.denominator == 1 else _note(cycle)


def _bars(count: int) -> str:
    return str(Bars(count))


def _note(length: Length) -> str:
    return _short_enough(length, [str(length), _decimal(length.whole_notes)])


def _number(value: Fraction) -> str:
    return _short_enough(value, [show_number(value), str(value), _decimal(value)])


def _span(span: Span) -> str:
    return str(span) if isinstance(span, Bars) else _time(span.value)


def _time(seconds: Fraction) -> str:
    """Write a time exactly: as a clock shows it, or in seconds or milliseconds."""
    minutes, rest = divmod(seconds, 60)
    hours, minutes = divmod(minutes, 60)
    clock = _decimal(rest).zfill(2) if rest >= 10 else f"0{_decimal(rest)}"
    ways = [f"{hours}:{minutes:02d}:{clock}" if hours else f"{minutes}:{clock}"]
    ways += [f"{_decimal(seconds)}s", f"{_decimal(seconds * 1000)}ms"]
    written = [way for way in ways if "?" not in way]
    fitting = [way for way in written if all(_digits(part) <= MAX_DIGITS for part in way.split(":"))]
    return f'"{_first(fitting, seconds)}"'


def _decimal(value: Fraction) -> str:
    """Write all decimals; ``?`` where they do not end."""
    twos = (value.denominator & -value.denominator).bit_length() - 1
    odd, fives = value.denominator >> twos, 0
    while odd % 5 == 0:
        odd, fives = odd // 5, fives + 1
    if odd != 1:
        return "?"
    places = max(twos, fives)
    digits = str(int(value * 10**places)).zfill(places + 1)
    return f"{digits[:-places]}.{digits[-places:]}" if places else digits


def _short_enough(value: object, ways: list[str]) -> str:
    return _first([way for way in ways if "?" not in way and _digits(way) <= MAX_DIGITS], value)


def _first(ways: list[str], value: object) -> str:
    if not ways:
        raise PlanError(
            f"{value} cannot be written in a plan file: a number there has at most {MAX_DIGITS} digits",
            hint="Round it before the plan is made.",
        )
    return ways[0]


def _digits(text: str) -> int:
    return sum(character.isdigit() for character in text)


def _group(fields: Fields) -> str:
    return "{" + ", ".join(f"{key}: {value}" for key, value in fields) + "}"


def _list(names: tuple[str, ...]) -> str:
    return f"[{', '.join(map(_text, names))}]"


def _text(text: str) -> str:
    if _PLAIN.fullmatch(text) and text.lower() not in _TAKEN_ELSEWHERE:
        return text
    return json.dumps(text, ensure_ascii=False)
