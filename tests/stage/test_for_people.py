"""Faults that keep people out, looked for by axe-core in every state of the page and both schemes."""

from __future__ import annotations

from dataclasses import replace

import pytest

from bridge.show import Control
from tests import oracle
from tests.stage.browser import open_page, running_browser
from tests.stage.standin import TOKEN, StandIn, low_tide_relay, theatre

KEY = f"#token={TOKEN.replace(' ', '%20')}&part=percussion"


@pytest.fixture(scope="module")
def browser():
    with running_browser() as found:
        yield found


@pytest.fixture(scope="module")
def relay():
    with theatre(StandIn(low_tide_relay(), section=2)) as found:
        yield found


RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


def _violations(page) -> list[str]:
    """Return what axe finds in the page as it is, in both schemes."""
    axe = oracle("axe_playwright_python.sync_playwright").Axe()
    page.locator("summary").click()
    found = []
    for scheme in ("dark", "light"):
        page.emulate_media(color_scheme=scheme)
        told = axe.run(page, options={"runOnly": RULES}).response
        assert len(told["passes"]) > 20
        found += [
            f"{scheme}, {rule['id']}: {node['html'][:120]}"
            for rule in told["violations"]
            for node in rule["nodes"]
        ]
    return found


@pytest.mark.parametrize("state", ["playing", "held", "cued", "uncertain"])
def test_axe_finds_no_violation(browser, relay, state):
    relay.do(lambda: relay.show.control(Control(do="locate", name="First Light")))
    if state == "held":
        relay.do(lambda: relay.show.control(Control(do="hold")))
    changes = {
        "cued": {"cue": "all home on the one", "cue_for": "", "offer": "Landfall 60 bars instead of 72"},
        "uncertain": {"locked": False},
    }.get(state, {})

    def change(view):
        return replace(view, **changes, **({"cue_at": view.at} if "cue" in changes else {}))

    relay.do(lambda: setattr(relay.show, "change", change))
    with open_page(browser, relay.stage.address + KEY) as page:
        page.wait_for_timeout(400)
        assert _violations(page) == []


def test_axe_finds_no_violation_without_a_connection(browser):
    with (
        theatre(StandIn(low_tide_relay(), section=2)) as found,
        open_page(browser, found.stage.address + KEY) as page,
    ):
        found.shut()
        page.wait_for_selector("body.is-alone")
        assert _violations(page) == []
