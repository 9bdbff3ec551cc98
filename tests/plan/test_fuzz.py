"""Whatever stands in the file: a plan or a PlanError with its place, nothing else."""

from __future__ import annotations

import json

from hypothesis import example, given, settings
from hypothesis import strategies as st

from bridge.errors import PlanError
from bridge.plan import Plan, load
from tests.plan.texts import CONTRACT, SMALL

_KEYS = sorted(
    {word.strip(" {[-") for word in CONTRACT.replace(":", " ").split() if word.strip(" {[-").isidentifier()}
    | {
        "pulsebridge",
        "same_length_as",
        "settled",
        "runs_on",
        "resolve",
        "meets",
        "weight",
        "pivot",
        "becomes",
        "vamp",
        "free",
        "cues",
        "at",
        "for",
        "say",
        "send",
        "sound",
        "program",
        "controller",
        "channel",
        "osc",
    }
)
_SCALARS = st.sampled_from(
    [
        "1",
        "4/4",
        "2:30",
        "4 bars",
        "",
        "x",
        "band",
        "0",
        "-1",
        "true",
        "[",
        "}",
        "*a",
        "&a",
        "/a",
        "end - 1 bar",
    ]
)
_WILD = st.recursive(
    _SCALARS | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.sampled_from(_KEYS), inner, max_size=5),
    max_leaves=25,
)
_PIECES = st.sampled_from(
    [*" \n\t:,-[]{}&*!|>'\"%@`#?", "  - ", ": ", "\n  ", "---\n", "<<: ", "!!int ", *_KEYS]
)


def _outcome(text: str | bytes, solved: str | None = None) -> Plan | PlanError:
    try:
        return load(text, source="fuzz.yaml", solved=solved)
    except PlanError as error:
        return error


def _load(text: str | bytes, solved: str | None = None) -> None:
    found = _outcome(text, solved)
    if isinstance(found, PlanError):
        assert found.message
        assert found.where is not None
        assert found.where.file == "fuzz.yaml"
        assert found.where.column <= len(found.where.text or "") + 1


@settings(max_examples=300, deadline=None)
@given(st.text())
@example("\ufeff")
@example("\x85")
@example("a: \u2028")
def test_any_text(text: str) -> None:
    _load(text)


@settings(max_examples=300, deadline=None)
@given(st.binary())
@example(b"\xef\xbb\xbf")
def test_any_bytes(raw: bytes) -> None:
    _load(raw)


@settings(max_examples=300, deadline=None)
@given(st.lists(_PIECES | _SCALARS, max_size=40).map("".join))
def test_any_row_of_yamls_own_signs(text: str) -> None:
    _load(text)


@settings(max_examples=300, deadline=None)
@given(st.dictionaries(st.sampled_from(_KEYS), _WILD, max_size=8))
def test_any_structure(tree: dict[str, object]) -> None:
    _load(json.dumps({"pulsebridge": "1", "tempo": "120", "meter": "4/4", **tree}, ensure_ascii=False))


@settings(max_examples=300, deadline=None)
@given(
    st.sampled_from([CONTRACT, SMALL]),
    st.lists(st.tuples(st.integers(0, 2000), st.integers(0, 12), _PIECES | _SCALARS), min_size=1, max_size=4),
)
def test_any_good_plan_spoilt(text: str, cuts: list[tuple[int, int, str]]) -> None:
    for at, length, new in cuts:
        text = text[:at] + new + text[at + length :]
    _load(text)


@settings(max_examples=150, deadline=None)
@given(_WILD.map(lambda tree: json.dumps({"sections": tree})) | st.text())
def test_any_kept_solution(solved: str) -> None:
    text = SMALL.replace("bars: 8", "bars: 8, settled: true")
    _load(text, solved)
