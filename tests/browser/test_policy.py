"""What gets past all escaping still runs, fetches and sends nothing; hostile names are text on the screen."""

from __future__ import annotations

import shutil
import threading
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import pytest
from typer.testing import CliRunner

from tests.browser.driver import PRESENT, Browser, browser, downloaded
from tests.report.forms.test_sheets_fitting import SHEET
from tests.report.forms.test_sheets_pages import FOLLOW_UP, MEASURING
from tests.robustness.hostile_names import KEPT, MARKUP, make_named_store
from tests.robustness.hostile_page import NAMES_DRAWN, named_page
from wearstats.cli.main import app
from wearstats.report.forms.fitting import fitting_page
from wearstats.report.forms.pages import form_page, print_page
from wearstats.report.page.render import render_page
from wearstats.report.rendering.escape import shown
from wearstats.store.database.connection import open_store

pytestmark = [pytest.mark.browser, pytest.mark.skipif(not PRESENT, reason="no Chromium with its driver here")]

# Content Security Policy 3, 5.3: what breaks the policy is told to a listener
LISTEN = """
window.broken = [];
document.addEventListener("securitypolicyviolation", event => window.broken.push(event.effectiveDirective));
"""
# what stands behind the last of a page's own texts, as if escaping had failed there
INJECTED = """
<script>window.ran = "script"</script>
<script src="{at}/script"></script>
<script type="module">window.ran = "module"</script>
<img src="{at}/image" onerror="window.ran = 'error'">
<svg onload="window.ran = 'svg'"></svg>
<link rel="stylesheet" href="{at}/style">
<link rel="prefetch" href="{at}/prefetch">
<style>body {{ background: url({at}/background) }}</style>
<p id="styled" style="position: fixed">x</p>
<iframe src="{at}/frame"></iframe>
<iframe srcdoc="<script>parent.ran = 'srcdoc'</script>"></iframe>
<object data="{at}/object"></object>
<embed src="{at}/embed">
<audio src="{at}/audio" autoplay></audio>
<base href="{at}/base/">
<form id="sent" action="{at}/form"><button id="send">send</button></form>
<a id="run" href="javascript:window.ran = 'link'">run</a>
"""
# what a script of the page's own could be led to do
LED = """
addEventListener("DOMContentLoaded", () => {
  window.refused = [];
  const attempts = {
    eval: () => eval("window.ran = 'eval'"),
    make: () => new Function("window.ran = 'function'")(),
    worker: () => new Worker(URL.createObjectURL(new Blob(["1"]))),
  };
  for (const [name, attempt] of Object.entries(attempts)) {
    try { attempt(); } catch (error) { window.refused.push(name); }
  }
  setTimeout("window.ran = 'timer'", 0);
  const late = document.createElement("script");
  late.textContent = "window.ran = 'late'";
  document.body.append(late);
  fetch("AT/fetch").catch(() => window.refused.push("fetch"));
  new Image().src = "AT/beacon";
  navigator.sendBeacon("AT/sent", "x");
  try { new WebSocket("AT/socket".replace("http", "ws")); } catch (error) { window.refused.push("socket"); }
  try { new EventSource("AT/events"); } catch (error) { window.refused.push("events"); }
});
"""

PAGES = {
    "report": lambda: render_page(named_page("S-1")),
    "report that answers to a pointer": lambda: render_page(named_page("S-1"), interactive=True),
    "measuring": lambda: form_page(MEASURING),
    "follow-up": lambda: form_page(FOLLOW_UP),
    "paper": lambda: print_page(MEASURING, paper="A4"),
    "fitting": lambda: fitting_page(SHEET, MEASURING.wording, paper="A4"),
}


@pytest.fixture(scope="module")
def listener() -> Iterator[tuple[str, list[str]]]:
    """A server of this machine that writes down whatever it is asked."""
    asked: list[str] = []

    class _Listener(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            asked.append(self.path)
            self.send_response(204)
            self.end_headers()

        def do_POST(self) -> None:
            self.do_GET()

        def log_message(self, format: str, *args: object) -> None:
            pass

    server = ThreadingHTTPServer(("127.0.0.1", 0), _Listener)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    yield f"http://127.0.0.1:{server.server_port}", asked
    server.shutdown()
    server.server_close()
    thread.join()


@pytest.fixture(scope="module")
def window(tmp_path_factory: pytest.TempPathFactory, listener: tuple[str, list[str]]) -> Iterator[Browser]:
    with browser(folder=tmp_path_factory.mktemp("window"), width=1000) as opened:
        opened.before_each_page(LISTEN + LED.replace("AT", listener[0]))
        yield opened


def test_the_listener_hears_a_page_without_a_policy(listener: tuple[str, list[str]], tmp_path: Path) -> None:
    # else silence would prove nothing
    at, asked = listener
    file = tmp_path / "open.html"
    file.write_text(f"<!doctype html><title>x</title><body>{INJECTED.format(at=at)}</body>", encoding="utf-8")
    with browser(folder=tmp_path, width=1000) as page:
        page.before_each_page(LED.replace("AT", at))
        page.open(file)
        wanted = {
            "/script",
            "/image",
            "/style",
            "/frame",
            "/object",
            "/fetch",
            "/beacon",
            "/sent",
            "/socket",
            "/events",
        }
        for _ in range(100):
            if wanted <= set(asked):
                break
            page.run("return new Promise(done => setTimeout(done, 100))")
        assert wanted <= set(asked)
        assert page.run("return window.ran") is not None


@pytest.mark.parametrize("page", PAGES)
def test_what_is_injected_runs_fetches_and_sends_nothing(
    page: str, window: Browser, listener: tuple[str, list[str]], tmp_path: Path
) -> None:
    at, asked = listener
    asked.clear()
    html = PAGES[page]()
    head, body = html.rsplit("</body>", 1)
    file = tmp_path / "page.html"
    file.write_text(head + INJECTED.format(at=at) + "</body>" + body, encoding="utf-8")
    window.open(file)
    window.click("#send")
    window.click("#run")
    window.run("return new Promise(done => setTimeout(done, 500))")
    assert window.run("return location.href") == file.as_uri()
    assert window.run("return window.ran ?? null") is None
    assert asked == []
    assert {"eval", "make", "fetch"} <= set(window.run("return window.refused"))
    assert window.run("return getComputedStyle(document.getElementById('styled')).position") == "static"
    assert window.run("return document.baseURI") == file.as_uri()
    broken = set(window.run("return window.broken"))
    wanted = {"script-src-elem", "script-src-attr", "style-src-elem", "style-src-attr", "img-src", "frame-src"}
    assert wanted | {"object-src", "media-src", "connect-src", "base-uri", "form-action"} <= broken


@pytest.fixture(scope="module")
def named(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_named_store(tmp_path_factory.mktemp("named") / "named.duckdb")


def test_names_of_a_store_are_text_on_the_page(named: Path, tmp_path: Path) -> None:
    with open_store(named) as store:
        names = [str(name) for (name,) in store.rows("select shaft from shafts order by shaft")]
    assert set(KEPT) <= set(names)
    file = tmp_path / "report.html"
    joined = " | ".join(NAMES_DRAWN)
    text = render_page(named_page(joined, kind="at_risk", names=names), interactive=True)
    file.write_text(text, encoding="utf-8", newline="\n")
    with browser(folder=tmp_path, width=1000) as page:
        page.before_each_page(LISTEN)
        page.open(file)
        page.run("document.querySelector('figure').scrollIntoView()")
        for _ in range(100):
            if page.run("return document.querySelectorAll('.drawn').length"):
                break
            page.run("return new Promise(done => setTimeout(done, 100))")
        page.point_at("#named .wide .live .mark-symbol path")
        page.run("return new Promise(done => setTimeout(done, 300))")
        told = page.text("#vg-tooltip-element")
        assert "<script>alert(1)</script>" in told
        assert page.run("return document.querySelectorAll('#vg-tooltip-element :is(script, img, svg)').length") == 0
        cells = page.run("return [...document.querySelectorAll('#names tbody th')].map(cell => cell.textContent)")
        assert cells == [*map(shown, names), shown(joined)]
        assert page.text("h1") == shown(joined)
        drawn = page.run("return document.querySelector('#named svg').textContent")
        assert "<script>alert(1)</script>" in page.run("return document.querySelector('#named svg').ariaLabel") + drawn
        # a foreign script would be one too many
        assert page.run("return document.scripts.length") == 2
        assert page.run("return document.querySelectorAll('img, iframe, object').length") == 0
        assert page.run("return window.broken") == []
        assert page.console() == []
        assert page.run("return document.documentElement.scrollWidth - document.documentElement.clientWidth") <= 0


def test_a_follow_up_of_hostile_names_comes_back_to_the_store(named: Path, tmp_path: Path) -> None:
    store = Path(shutil.copy(named, tmp_path))
    asked = [part for name in KEPT for part in ("--fitting", name)]
    made = CliRunner().invoke(app, ["sheet", "follow-up", *asked, "--out", str(tmp_path), "--store", str(store)])
    assert made.exit_code == 0, made.output
    (form,) = tmp_path.glob("follow-up-*-more.html")
    with browser(folder=tmp_path, width=1000) as page:
        page.before_each_page(LISTEN)
        page.open(form)
        legends = page.run(
            "return [...document.querySelectorAll('[data-fitting] > legend')].map(item => item.textContent)"
        )
        assert [text.split(" ", 1)[1] for text in legends] == [shown(name) for name in KEPT]
        page.run("document.querySelectorAll('[data-line=state][value=tight]').forEach(state => state.click())")
        page.type("#remark-1", MARKUP[0] + '; "=1+1"')
        page.type("#remark-2", "=1+1")
        page.click("#save")
        saved = downloaded(tmp_path, "follow-up-*.csv")
        assert page.console() == []
        assert page.run("return window.broken") == []
    added = CliRunner().invoke(app, ["store", "add", str(saved), "--store", str(store)])
    assert added.exit_code == 0, added.output
    with open_store(store) as opened:
        answered = {name for (name,) in opened.rows("select fitting from follow_ups where prompted = 'asked'")}
        remarks = {value for (value,) in opened.rows("select value from notes where column_name = 'remark'")}
    assert answered == set(KEPT)
    assert remarks == {MARKUP[0] + '; "=1+1"', "=1+1"}
