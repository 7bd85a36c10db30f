"""Charts that answer to a pointer: one script in the page, allowed by its digest, that fetches and evaluates nothing.

The drawn pictures stay in the page: they are what prints, and what is seen where scripts are off.
"""

from __future__ import annotations

import functools
import json
from typing import TYPE_CHECKING, Final

from wearstats.report.page.tooltips import with_tooltips

if TYPE_CHECKING:
    from wearstats.report.page.model import Page

DATA_NAME: Final = "chart-data"

# expressions are interpreted, not compiled: so the page's policy need not allow evaluation of text;
# a picture is drawn when it comes near the window, and only in the width that is shown
_DRAW: Final = """
const charts = JSON.parse(document.getElementById("chart-data").textContent);
const options = {
  mode: "vega-lite", ast: true, actions: false, renderer: "svg", defaultStyle: false, hover: false,
  tooltip: { disableDefaultStyle: true }
};
async function draw(place) {
  const spec = charts[place.closest("figure").id][place.classList.contains("wide") ? 0 : 1];
  const live = document.createElement("div");
  live.className = "live";
  place.append(live);
  const name = place.querySelector("svg").getAttribute("aria-label");
  const view = (await vegaEmbed(live, spec, options)).view;
  live.setAttribute("role", "img");
  live.setAttribute("aria-label", name + " Arrow keys go from mark to mark.");
  live.tabIndex = 0;
  place.classList.add("drawn");
  steppable(live, view);
}
// with the arrow keys from mark to mark, each told as if it were pointed at; Escape ends it
function steppable(live, view) {
  let at = -1;
  const told = function (mark) {
    const item = mark && mark.__data__;
    const box = mark ? mark.getBoundingClientRect() : { right: 0, bottom: 0 };
    const place = { clientX: box.right, clientY: box.bottom, pageX: box.right, pageY: box.bottom };
    view.tooltip()(view, place, item, mark ? item.tooltip : "");
    const last = live.querySelector(".pointed");
    if (last) { last.classList.remove("pointed"); }
    if (mark) { mark.classList.add("pointed"); }
    const shown = document.getElementById("vg-tooltip-element");
    const words = shown && mark ? [...shown.querySelectorAll("tr")].map(row => row.innerText.trim()).join("; ") : "";
    document.getElementById("told").textContent = words;
  };
  live.addEventListener("keydown", function (event) {
    const marks = [...live.querySelectorAll("path, rect, line")].filter(each => each.__data__ && each.__data__.tooltip);
    const step = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[event.key];
    if (event.key === "Escape") { at = -1; told(null); return; }
    if (!step || !marks.length) { return; }
    event.preventDefault();
    at = (at + step + marks.length) % marks.length;
    told(marks[at]);
  });
  live.addEventListener("blur", function () { at = -1; told(null); });
}
const watch = new IntersectionObserver(function (entries) {
  for (const entry of entries) {
    if (entry.isIntersecting) { watch.unobserve(entry.target); draw(entry.target); }
  }
}, { rootMargin: "600px" });
for (const place of document.querySelectorAll("figure .wide, figure .narrow")) { watch.observe(place); }
"""


@functools.cache
def interactive_script() -> str:
    """Give the drawing library with the few lines that start it, as one script; the same each time."""
    import vl_convert

    bundle: str = vl_convert.javascript_bundle(_DRAW)
    # what could end a script early, or make a browser look for a second end
    return bundle.replace("</script", "<\\/script").replace("<!--", "\\x3c!--")


def interactive_data(page: Page) -> str:
    """Give the specifications of all charts as JSON that can stand in a page: name to wide and narrow."""
    figures = [figure for section in page.sections for figure in section.figures]
    specs = {figure.name: [with_tooltips(spec) for spec in figure.specs] for figure in figures}
    text = json.dumps(specs, separators=(",", ":"), ensure_ascii=False)
    return text.replace("<", "\\u003c").replace("\u2028", "\\u2028").replace("\u2029", "\\u2029")
