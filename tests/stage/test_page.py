"""The stage page in a real browser: follows, is held and released, loses its line and finds it again."""

from __future__ import annotations

import contextlib
import re
import tempfile
import threading
import time
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from itertools import pairwise
from statistics import median

import pytest

from bridge.cues import Axis, Standing
from bridge.show import Control
from tests.stage.browser import open_page, running_browser
from tests.stage.songs import STEADY
from tests.stage.standin import EXAMPLE, TOKEN, StandIn, low_tide_relay, song_of, theatre

KEY = f"#token={TOKEN.replace(' ', '%20')}"


@pytest.fixture(scope="module")
def browser():
    with running_browser() as found:
        yield found


@pytest.fixture(scope="module")
def relay():
    """A show in its second section with two layers, and its page; tests bring it back to where it was."""
    with theatre(StandIn(low_tide_relay(), section=2)) as found:
        yield found


def _back(found, name: str = "First Light") -> None:
    found.do(lambda: found.show.control(Control(do="locate", name=name)))


def _text(page, place: str) -> str:
    return page.locator(place).inner_text()


def _until(page, is_so: Callable[[], bool], *, seconds: float = 12.0) -> bool:
    """Let the page go on until ``is_so``."""
    end = time.monotonic() + seconds
    while not is_so():
        if time.monotonic() > end:
            return False
        page.wait_for_timeout(40)
    return True


READ = """() => ({
  section: document.getElementById("section").textContent,
  bars: document.getElementById("bars-left").textContent,
  own: document.getElementById("own-left").textContent,
  beat: [...document.querySelectorAll("#beats li")].findIndex((li) => li.className === "is-on") + 1,
  words: document.getElementById("gauge-words").textContent,
})"""


def _told(view) -> dict:
    """Return what the page should show, by the bridge's own exact count."""
    song, index = view.song, view.section
    axis, into = Axis(song, index), _exact(view.line.quarters)
    at = Standing(song, index).meeting_after(into, held=False)
    meeting = axis.bars_until(into, at)
    drum = next(turner for turner in Standing(song, index).turners if turner.player == "percussion")
    return {
        "section": song.sections[index].name,
        "bars": str(axis.bars_until(into, view.leaves)),
        "own": str(drum.turns_left(into, view.leaves)),
        "beat": int(axis.counted(into)),
        "words": _words(axis.bars_until(into, view.leaves), meeting, song.sections[view.follows].name),
    }


def _words(bars: int, meeting: int, then: str) -> str:
    landing, first = (f"in {count} bars" if count > 1 else "at the next bar" for count in (bars, meeting))
    return f"All home {landing}: {then}" + (f". First, all meet {first}" if meeting < bars else "")


def _exact(quarters: float):
    from fractions import Fraction

    from bridge.exact import Length

    return Length(Fraction(max(0.0, quarters)) / 4)


def test_the_page_follows_the_song_as_the_bridge_counts_it(browser):
    with (
        theatre(StandIn(low_tide_relay(), section=2)) as found,
        open_page(browser, f"{found.stage.address}#part=percussion") as page,
    ):
        agreed = dict.fromkeys(("section", "bars", "own", "beat", "words"), 0)
        for _ in range(25):
            before = _told(found.do(found.show.view))
            read = page.evaluate(READ)
            after = _told(found.do(found.show.view))
            for key in agreed:
                agreed[key] += read[key] in (before[key], after[key])
            page.wait_for_timeout(50)
    assert agreed["section"] == 25, (read, after)
    # a figure is drawn up to a frame late, and changes no sooner than 0.35 s after its last change
    assert min(agreed[key] for key in ("bars", "beat", "words")) >= 15, (
        agreed,
        read["words"],
        after["words"],
    )
    assert agreed["own"] >= 8, agreed


def test_the_page_goes_over_into_the_next_section_by_itself(browser):
    song = song_of(STEADY.format(bpm=240))
    with (
        theatre(StandIn(song, section=0, quarters=22)) as found,
        open_page(browser, f"{found.stage.address}#part=percussion") as page,
    ):
        assert _text(page, "#section") == "Prelude"
        assert _text(page, "#own-left") == "Tacet"
        assert re.fullmatch(r"in again (in \d+ bars|at the next bar): Crossing", _text(page, "#own-under"))
        found.do(lambda: setattr(found.show, "change", _frozen(found.show)))  # the bridge says nothing new
        assert _until(page, lambda: _text(page, "#section") == "Crossing")
        assert _until(page, lambda: int(_text(page, "#own-left")) > 200)


def _frozen(show: StandIn):
    kept = show.conductor.view(time.monotonic())
    return lambda view: replace(kept, at=view.at)


def test_a_player_picks_a_part_once_and_sees_it_first(browser, relay):
    with open_page(browser, relay.stage.address) as page:
        page.get_by_label("Part").select_option("strings")
        assert page.url.endswith("#part=strings")
        assert _until(page, lambda: _text(page, "#players li:first-child .who") == "strings")
        page.reload()
        page.wait_for_selector("body:not(.is-blank)")
        assert _until(page, lambda: _text(page, "#own-left") == "Tacet")
        assert page.get_by_label("Part").input_value() == "strings"


def test_who_plays_and_who_is_tacet(browser, relay):
    _back(relay)
    with open_page(browser, relay.stage.address) as page:
        assert _until(page, lambda: "band, every 4 bars" in _text(page, "#players"))
        shown = dict(
            zip(page.locator(".who").all_inner_texts(), page.locator(".what").all_inner_texts(), strict=True)
        )
    assert shown["percussion"] == "hand drum, every 3/16"
    assert re.fullmatch(r"tacet, enters in \d+ bars: Causeway", shown["keys"])
    assert re.fullmatch(r"tacet, enters in \d+ bars: Undertow", shown["strings"])


def test_a_hold_and_a_release_from_the_page(browser, relay):
    _back(relay, "1 bar before Hush")
    with open_page(browser, relay.stage.address + KEY) as page:
        assert _until(page, lambda: _text(page, "#section") == "Undertow")
        page.get_by_role("button", name="Hold", exact=True).click()
        page.get_by_role("heading", name="Held").wait_for()
        assert _until(page, lambda: "planned: 38" in _text(page, "#bars-under"))
        assert _text(page, "#bars-label") == "bar"
        assert "when released" in _text(page, "#then")
        rungs = page.locator("#ladder li").all_inner_texts()
        view = relay.do(relay.show.view)
        assert len(rungs) == len(view.ladder) > 1
        assert [", ".join(rung.home) if rung.others else "all" for rung in view.ladder][-1] == "all"
        assert "all home" in rungs[-1]
        first = view.ladder[0]
        assert rungs[0].splitlines()[1] == f"{first.home[0]} home"
        page.locator("#ladder button").first.click()
        page.get_by_role("heading", name="Released").wait_for()
        view = relay.do(relay.show.view)
        assert not view.held
        assert view.leaves == first.into
        assert _until(page, lambda: "It ends in" in _text(page, "#held-words"))
    _back(relay)


def test_without_the_token_there_is_nothing_to_press(browser, relay):
    _back(relay)
    with open_page(browser, relay.stage.address) as page:
        relay.do(lambda: relay.show.control(Control(do="hold")))
        page.get_by_role("heading", name="Held").wait_for()
        assert page.get_by_role("button").count() == 0
        assert "token" not in page.url
    _back(relay)


def test_a_wrong_token_is_told_and_does_nothing(browser, relay):
    _back(relay)
    with open_page(browser, f"{relay.stage.address}#token=guess") as page:
        page.get_by_role("button", name="Hold", exact=True).click()
        assert _until(page, lambda: "missing or wrong" in _text(page, "#answer"))
    assert not relay.do(relay.show.view).held


TRY = """async (address) => {
  const forged = { method: "POST", headers: { authorization: "Bearer x" }, body: "{}" };
  const listening = new Promise((yes, no) => {
    const source = new EventSource(address + "state");
    source.onmessage = source.onopen = yes;
    source.onerror = () => { source.close(); no(); };
  });
  const read = [fetch(address + "state"), fetch(address + "clock")];
  const tries = [...read, fetch(address + "control", forged), listening];
  return (await Promise.allSettled(tries)).map((one) => one.status);
}"""


@contextlib.contextmanager
def _other_site():
    """Serve an empty page from another port of this machine, which makes it another origin."""
    handler = type("Quiet", (SimpleHTTPRequestHandler,), {"log_message": lambda *_: None})
    with tempfile.TemporaryDirectory() as folder:
        server = ThreadingHTTPServer(("127.0.0.1", 0), partial(handler, directory=folder))
        thread = threading.Thread(target=server.serve_forever, daemon=True)
        thread.start()
        yield f"http://127.0.0.1:{server.server_port}/"
        server.shutdown()
        server.server_close()
        thread.join()


def test_another_sites_page_can_neither_read_nor_control(browser, relay):
    """A page of another origin, here another port, tries all ways that a browser has."""
    _back(relay)
    before = relay.stage.refused.reasons["origin"]
    with _other_site() as address:
        context = browser.new_context()
        page = context.new_page()
        page.goto(address)
        outcomes = page.evaluate(TRY, relay.stage.address)
        context.close()
    assert outcomes == ["rejected"] * 4
    assert relay.stage.refused.reasons["origin"] >= before + 4
    assert not relay.do(relay.show.view).held


def test_a_lost_connection_is_said_and_never_looks_live_and_comes_back_by_itself(browser):
    song = song_of(STEADY.format(bpm=120))
    with (
        theatre(StandIn(song, section=2)) as found,
        open_page(browser, found.stage.address) as page,
    ):
        assert _until(page, lambda: _text(page, "#link") == "Connected. In time")
        found.shut()
        page.wait_for_selector("body.is-alone")
        assert _until(page, lambda: "Not connected for" in _text(page, "#link"))
        assert "may be wrong" in _text(page, "#link")
        left = int(_text(page, "#bars-left"))
        assert _until(page, lambda: int(_text(page, "#bars-left")) < left)  # it counts on alone
        assert _until(page, lambda: _text(page, "#spoken") == "Not connected")
        found.open()
        page.wait_for_selector("body:not(.is-alone)")
        assert _until(page, lambda: _text(page, "#link") == "Connected. In time")
        shown, view = int(_text(page, "#bars-left")), found.do(found.show.view)
        exact = Axis(song, 2).bars_until(_exact(view.line.quarters), view.leaves)
        assert abs(shown - exact) <= 1


AWAY = """() => {
  // the device has slept for an hour: its wall clock says so, the other one stood still
  const now = Date.now;
  Date.now = () => now() + 3600e3;
  const real = window.fetch;
  window.fetch = (...asked) => new Promise((done) => {
    window.wake = () => { window.fetch = real; done(real(...asked)); };
  });
}"""


def test_after_sleep_nothing_is_shown_until_the_clock_is_set_anew(browser, relay):
    with open_page(browser, relay.stage.address) as page:
        page.evaluate(AWAY)
        page.wait_for_selector("body.is-blank")
        assert _until(page, lambda: _text(page, "#link") == "Setting the clock …")
        assert _until(page, lambda: _text(page, "#bars-left") == "–")
        page.evaluate("window.wake()")
        page.wait_for_selector("body:not(.is-blank)")


def test_what_was_asked_before_a_sleep_tells_nothing_after_it(browser, relay):
    with open_page(browser, relay.stage.address) as page:
        found = page.evaluate(
            """async () => {
              const { Sync } = await import("/page/sync.js");
              const sync = new Sync();
              const asked = sync.exchange();
              const now = Date.now;
              Date.now = () => now() + 3600e3;
              const slept = sync.hasSlept();
              await asked;
              Date.now = now;
              return [slept, sync.best()];
            }"""
        )
    assert found == [True, None]


def test_long_without_a_word_shows_nothing_rather_than_a_guess(browser, relay):
    with open_page(browser, relay.stage.address) as page:
        relay.do(lambda: setattr(relay.show, "change", lambda view: replace(view, at=view.at - 40)))
        page.wait_for_selector("body.is-blank")
        assert _until(page, lambda: "nothing is shown" in _text(page, "#link"))
        assert _until(page, lambda: _text(page, "#bars-left") == "–")
        relay.do(lambda: setattr(relay.show, "change", lambda view: view))
        page.wait_for_selector("body:not(.is-blank)")


def test_stopped_and_uncertain_are_said(browser, relay):
    with open_page(browser, relay.stage.address) as page:
        relay.do(lambda: setattr(relay.show, "change", lambda view: replace(view, locked=False)))
        assert _until(page, lambda: _text(page, "#link") == "Connected. The place is not certain")
        relay.do(lambda: setattr(relay.show, "change", lambda view: replace(view, playing=False)))
        assert _until(page, lambda: _text(page, "#link") == "Connected. Stopped")
        assert page.locator("#beats .is-on").count() == 0
        relay.do(lambda: setattr(relay.show, "change", lambda view: view))


WATCH = """() => {
  window.seen = [];
  new MutationObserver((changes) => {
    for (const { target } of changes) {
      if (target.tagName === "LI" && target.classList.contains("is-on")) {
        const bar = document.getElementById("bars-left").textContent;
        window.seen.push([performance.timeOrigin + performance.now(), target.textContent, bar]);
      }
    }
  }).observe(document.getElementById("beats"), { subtree: true, attributeFilter: ["class"] });
}"""


def _beats(page) -> list[float]:
    return [at for at, _, _ in page.evaluate("window.seen")]


def test_two_pages_draw_the_same_beat_within_twenty_milliseconds(browser):
    song = song_of(STEADY.format(bpm=170))
    with (
        theatre(StandIn(song, section=2)) as found,
        open_page(browser, found.stage.address) as one,
        open_page(browser, found.stage.address) as other,
    ):
        for page in (one, other):
            page.evaluate(WATCH)
        one.wait_for_timeout(2600)
        first, second = _beats(one), _beats(other)
    apart = [min(abs(at - there) for there in second) for at in first[1:-1]]
    assert len(apart) >= 4
    assert median(apart) <= 20, apart
    gaps = [after - before for before, after in pairwise(first)]
    assert abs(median(gaps) - 60_000 / 170) < 25, gaps


LISTEN = """() => {
  window.said = [];
  const spoken = document.getElementById("spoken");
  new MutationObserver(() => window.said.push(spoken.textContent)).observe(spoken, { childList: true });
  window.live = [...document.querySelectorAll("[aria-live], [role=status]")].map((node) => node.id);
}"""


def test_what_is_read_out_never_counts_bars(browser):
    song = song_of(STEADY.format(bpm=400))  # five bars in the time that is listened to
    with (
        theatre(StandIn(song, section=1)) as found,
        open_page(browser, found.stage.address) as page,
    ):
        page.evaluate(LISTEN)
        page.wait_for_timeout(2200)
        said, live = page.evaluate("[window.said, window.live]")
    assert len(said) <= 2, said
    assert not any("bar" in words for words in said), said
    assert sorted(live) == ["answer", "spoken"]


def test_with_reduced_motion_the_drawing_steps_from_bar_to_bar(browser):
    song = song_of(STEADY.format(bpm=120))
    count = """() => {
      window.moved = 0;
      window.watching?.disconnect();
      window.watching = new MutationObserver(() => { window.moved += 1; });
      window.watching.observe(
        document.getElementById("gauge"), { subtree: true, attributes: true });
    }"""
    moved = {}
    with theatre(StandIn(song, section=2)) as found, open_page(browser, found.stage.address) as page:
        for motion in ("no-preference", "reduce"):
            page.emulate_media(reduced_motion=motion)
            page.wait_for_timeout(100)
            page.evaluate(count)
            page.wait_for_timeout(1000)
            moved[motion] = page.evaluate("window.moved")
    assert moved["reduce"] <= 1
    assert moved["no-preference"] > 5


def test_nothing_comes_from_elsewhere_and_no_cookie_is_set(browser, relay):
    context = browser.new_context()
    page = context.new_page()
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto(relay.stage.address + KEY)
    page.wait_for_selector("body:not(.is-blank)")
    cookies, kept = context.cookies(), page.evaluate("localStorage.length + sessionStorage.length")
    context.close()
    assert asked
    assert all(url.startswith(relay.stage.address) for url in asked)
    assert not any(TOKEN.split()[0] in url.split("#")[0] and "token" in url.split("#")[0] for url in asked)
    assert (cookies, kept) == ([], 0)


@pytest.mark.parametrize("size", [(320, 568), (1024, 768), (3840, 2160)], ids=str)
def test_nothing_is_cut_off_and_every_target_is_large_enough(browser, relay, size):
    """WCAG 2.2: 1.4.10, no scrolling sideways at 320 pixels; 2.5.8, targets of 24 pixels (here 44)."""
    _back(relay)
    viewport = {"width": size[0], "height": size[1]}
    with open_page(browser, f"{relay.stage.address}{KEY}&part=percussion", viewport=viewport) as page:
        page.locator("summary").click()
        assert page.evaluate("document.documentElement.scrollWidth") <= size[0]
        boxes = page.evaluate(
            """() => [...document.querySelectorAll("button, select, summary")]
              .filter((node) => node.offsetParent !== null)
              .map((node) => [node.id || node.textContent, node.getBoundingClientRect().height])"""
        )
        assert len(boxes) > 8
        assert not [name for name, height in boxes if height < 44]
        wide = page.evaluate(
            """() => ["own-left", "bars-left"].map((id) => {
              const node = document.getElementById(id);
              const range = document.createRange();
              range.selectNodeContents(node);
              return range.getBoundingClientRect().width / node.getBoundingClientRect().width;
            })"""
        )
        assert max(wide) <= 1.01


def test_the_page_is_worked_by_the_keyboard(browser, relay):
    _back(relay)
    with open_page(browser, relay.stage.address + KEY) as page:
        reached = []
        for _ in range(11):
            page.keyboard.press("Tab")
            reached.append(page.evaluate("document.activeElement.textContent.trim().slice(0, 18)"))
        assert reached[0] == "To the figures"
        assert "Hold" in reached
        assert "This screen, and o" in reached
        page.get_by_role("button", name="Hold", exact=True).focus()
        page.keyboard.press("Enter")
        page.get_by_role("heading", name="Held").wait_for()
    _back(relay)


def test_where_no_page_may_keep_the_screen_on_it_says_how_to(browser, relay):
    """Over plain HTTP from another machine there is no wake lock (Screen Wake Lock API, secure contexts)."""
    with open_page(browser, relay.stage.address, waits=False) as page:
        page.add_init_script("Object.defineProperty(navigator, 'wakeLock', {value: undefined})")
        page.reload()
        page.locator("summary").click()
        assert _until(page, lambda: "does not let a page keep the screen on" in _text(page, "#awake"))


def test_an_offer_is_shown_and_can_be_accepted_only_with_the_token(browser, relay):
    relay.do(lambda: setattr(relay.show, "change", lambda view: replace(view, offer="Landfall 60 bars")))
    for key, buttons in (("", 0), (KEY, 1)):
        with open_page(browser, relay.stage.address + key) as page:
            assert _until(page, lambda page=page: "Landfall 60 bars" in _text(page, "#offer"))
            assert page.get_by_role("button", name="Accept it").count() == buttons
    relay.do(lambda: setattr(relay.show, "change", lambda view: view))


def test_a_passage_without_bars_shows_no_bars(browser):
    song = song_of((EXAMPLE.parent / "slack-water.yaml").read_text(encoding="utf-8"))
    free = next(index for index, placed in enumerate(song.sections) if placed.section.free)
    player = song.plan.layers[song.sections[free].section.free.layers[0]].player
    with (
        theatre(StandIn(song, section=free)) as found,
        open_page(browser, f"{found.stage.address}#part={player}") as page,
    ):
        assert _until(page, lambda: _text(page, "#link") == "Connected. A passage without bars")
        assert _text(page, "#own-left") == "Free"
        assert _text(page, "#bars-left") == "–"
        assert page.locator("#beats li").count() == 0
        assert _text(page, "#gauge-words") == "Without bars, until it is released"
        assert not page.locator("#gauge").is_visible()
