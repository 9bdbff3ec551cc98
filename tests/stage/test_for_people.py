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


RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


def _violations(page) -> list[str]:
    """Return what axe finds in the page as it is; in the light scheme, what colours can change."""
    axe = oracle("axe_playwright_python.sync_playwright").Axe()
    found = []
    for scheme, rules in (("dark", RULES), ("light", {"type": "rule", "values": ["color-contrast"]})):
        page.emulate_media(color_scheme=scheme)
        told = axe.run(page, options={"runOnly": rules}).response
        assert len(told["passes"]) >= (20 if scheme == "dark" else 1)
        found += [
            f"{scheme}, {rule['id']}: {node['html'][:120]}"
            for rule in told["violations"]
            for node in rule["nodes"]
        ]
    return found


CHANGES = {
    "playing": {},
    "held": {"cue": "all home on the one", "offer": "Landfall 60 bars instead of 72", "locked": False},
    "not connected": {"late": 1},
}


def _looks(state: str):
    def change(view):
        at = view.at - (10 if state == "not connected" else 0)  # the page's last word is ten seconds old
        return replace(view, **CHANGES[state], cue_at=view.at, at=at)

    return change


def test_axe_finds_no_violation_in_any_state_of_the_page(browser):
    with (
        theatre(StandIn(low_tide_relay(), section=2)) as found,
        open_page(browser, found.stage.address + KEY) as page,
    ):
        page.locator("summary").click()
        for state in CHANGES:
            if state == "held":
                found.do(lambda: found.show.control(Control(do="hold")))
            found.do(lambda state=state: setattr(found.show, "change", _looks(state)))
            shown = {"held": "#held", "not connected": "body.is-alone"}.get(state, "#link")
            page.locator(shown).wait_for()
            page.wait_for_timeout(400)
            assert _violations(page) == [], state
