"""What holds of every page that is sent, looked at in a real browser: on a desk, on a phone and on paper."""

from __future__ import annotations

import re
import time
from itertools import pairwise
from pathlib import Path

from tests.browser.driver import Browser

# ISO 216, from memory
A4_CM = (21.0, 29.7)
# A4 less the page's own margins of 16 mm, at the 96 points an inch of CSS
A4_INNER_POINTS = round((21.0 - 2 * 1.6) / 2.54 * 96)
DESK, PHONE = 1200, 360

# what stands in the page's policy is told to a listener where it is broken (Content Security Policy 3, 5.3)
LISTEN = """
window.broken = [];
document.addEventListener("securitypolicyviolation", event => window.broken.push(event.violatedDirective));
"""
TOO_WIDE = """
const wide = document.documentElement.clientWidth;
const scrolls = element => element.closest(".scroll") !== null;
return [...document.body.querySelectorAll("*")]
  .filter(element => !scrolls(element) && element.getBoundingClientRect().right > wide + 1)
  .map(element => element.tagName + " " + element.className);
"""
# paper cannot be scrolled, so what is cut off there is lost
CUT_OFF = """
return [...document.body.querySelectorAll("*")]
  .filter(element => element.getClientRects().length && !element.closest("svg"))
  .filter(element => element.scrollWidth > element.clientWidth + 1 && element.clientWidth
    || element.getBoundingClientRect().right > document.documentElement.clientWidth + 1)
  .map(element => element.tagName + " " + element.className + " " + element.textContent.trim().slice(0, 60));
"""
OPEN_ALL = "document.querySelectorAll('details').forEach(details => { details.open = true; })"
HEADINGS = "return [...document.querySelectorAll('h1, h2, h3, h4, h5, h6')].map(heading => Number(heading.tagName[1]))"
# of each figure: its name, whether each picture that is shown has a name, and the size of its table
FIGURES = """
const named = picture => picture.closest("[role=img][aria-label]") !== null
  && picture.closest("[role=img][aria-label]").getAttribute("aria-label").trim().length > 20;
return [...document.querySelectorAll("figure")].map(figure => {
  const shown = [...figure.querySelectorAll("svg")].filter(picture => picture.getClientRects().length);
  const table = figure.querySelector("figcaption table");
  return {
    name: figure.id,
    shown: shown.length,
    named: shown.every(named),
    caption: table && table.caption ? table.caption.textContent.trim() : "",
    columns: table ? table.querySelectorAll("thead th[scope=col]").length : 0,
    rows: table ? table.querySelectorAll("tbody tr th[scope=row]").length : 0,
  };
});
"""
# fields without a name, names of fields that point nowhere, names given twice
NAMELESS = """
const named = field => field.labels && [...field.labels].some(label => label.textContent.trim())
  || field.getAttribute("aria-label") || field.tagName === "BUTTON" && field.textContent.trim();
const pointing = ["aria-labelledby", "aria-describedby"].flatMap(name =>
  [...document.querySelectorAll(`[${name}]`)].map(one => one.getAttribute(name)));
const ids = [...document.querySelectorAll("[id]")].map(one => one.id);
const groups = [...document.querySelectorAll("fieldset, table, svg:not([aria-hidden])")];
return [
  ...[...document.querySelectorAll("input, select, textarea, button")].filter(field => !field.hidden && !named(field))
    .map(field => "no name: " + field.outerHTML.slice(0, 90)),
  ...pointing.filter(id => !document.getElementById(id)).map(id => "points nowhere: " + id),
  ...ids.filter((id, n) => ids.indexOf(id) !== n).map(id => "twice: " + id),
  ...groups.filter(one => one.tagName === "FIELDSET" && !one.querySelector(":scope > legend")
    || one.tagName === "svg" && !one.getAttribute("aria-label")
    || one.tagName === "TABLE" && !one.querySelector("th[scope]")).map(one => "no name: " + one.outerHTML.slice(0, 90)),
  ...(document.documentElement.lang && document.title && document.querySelector("main") ? [] : ["no main or title"]),
];
"""
# relative luminance as the guidelines define it, of a text's colour against the nearest ground that is painted
FAINT = """
const parse = text => text.match(/[\\d.]+/g).map(Number);
const light = ([r, g, b]) => [r, g, b].map(c => c / 255)
  .map(c => c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4)
  .reduce((sum, c, n) => sum + c * [0.2126, 0.7152, 0.0722][n], 0);
const ratio = (a, b) => (Math.max(light(a), light(b)) + 0.05) / (Math.min(light(a), light(b)) + 0.05);
const ground = one => {
  for (let at = one; at; at = at.parentElement) {
    const colour = parse(getComputedStyle(at).backgroundColor);
    if (colour.length < 4 || colour[3] > 0) return colour;
  }
  return parse(getComputedStyle(document.documentElement).backgroundColor);
};
const found = [];
const check = (one, colour, least, what) => {
  const seen = ratio(parse(colour), ground(one));
  if (seen < least) found.push(what + " " + seen.toFixed(2) + ": " + one.outerHTML.slice(0, 80));
};
for (const one of document.querySelectorAll("body *")) {
  if (!one.getClientRects().length || one.closest("svg, script")) continue;
  const style = getComputedStyle(one), size = parseFloat(style.fontSize), bold = Number(style.fontWeight) >= 700;
  const own = [...one.childNodes].some(node => node.nodeType === 3 && node.textContent.trim());
  const least = size >= 24 || bold && size >= 18.66 ? 3 : 4.5;
  if (own || "value" in one && one.value) check(one, style.color, least, "text");
  if (one.placeholder) check(one, getComputedStyle(one, "::placeholder").color, 4.5, "placeholder");
  if (one.matches("input:not([type=radio]):not([type=checkbox]), select, textarea, button, .tiles label"))
    check(one.parentElement, style.borderTopColor, 3, "edge");
}
for (const one of document.querySelectorAll("#strip *")) {
  const style = getComputedStyle(one), ink = style.fill === "none" ? style.stroke : style.fill;
  check(document.querySelector(".bar"), ink, 3, "drawn " + one.getAttribute("class"));
}
return found;
"""
# words that stand open, without those of pictures and those for listeners alone
OPEN_WORDS = """
const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
let words = 0;
while (walk.nextNode()) {
  const one = walk.currentNode.parentElement;
  if (one.closest("svg, script, style, .heard, .skip") || !one.getClientRects().length) continue;
  if (one.closest("details:not([open])") && !one.closest("summary")) continue;
  words += walk.currentNode.textContent.trim().split(/\\s+/).filter(Boolean).length;
}
return words;
"""


def check_window(page: Browser, file: Path, *, drawn: int = 0) -> None:
    """Check a page at the browser's width: silent, alone, within the window, with open tables too.

    Parameters
    ----------
    page : Browser
        A browser that was told to `LISTEN` before each page.
    file : Path
        The page.
    drawn : int
        So many charts are drawn by the page's own script.
    """
    page.open(file)
    if drawn:
        # what stands folded is drawn when it is opened
        page.run(OPEN_ALL)
        wait_for_drawn(page, of=drawn)
    broken, complaints = page.run("return window.broken"), page.console()
    assert broken == [], broken
    assert complaints == [], complaints
    asked = {address for address in page.requested() if not address.startswith(("data:", "blob:"))}
    assert asked == {file.as_uri()}, asked
    for _ in range(2):
        wide = page.run(TOO_WIDE)
        assert wide == [], wide
        page.run(OPEN_ALL)
    assert page.run("return document.documentElement.scrollWidth - document.documentElement.clientWidth") <= 0


def check_by_ear(page: Browser) -> None:
    """Check an open page as a listener meets it: headings in order, each picture named, a table behind it."""
    levels = page.run(HEADINGS)
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after <= before + 1 for before, after in pairwise(levels)), levels
    figures = page.run(FIGURES)
    assert figures
    for figure in figures:
        assert figure["shown"] == 1, figure
        assert figure["named"], figure
        assert figure["caption"], figure
        assert figure["columns"] >= 2, figure
        assert figure["rows"] >= 1, figure


def check_access(page: Browser) -> None:
    """Check an open page for names and for contrast in light and dark, all folded parts open.

    The limits are those of the Web Content Accessibility Guidelines 2.2 (W3C recommendation), from memory: names
    (4.1.2) and contrast of 4.5 to 1 for text, 3 to 1 for large text (1.4.3).
    """
    page.run(OPEN_ALL)
    nameless = page.run(NAMELESS)
    assert nameless == [], nameless
    for scheme in ("light", "dark"):
        page.in_colours(scheme)
        faint = page.run(FAINT)
        assert faint == [], (scheme, faint)


def check_paper(page: Browser) -> None:
    """Check an open page on A4: it prints on that paper, and nothing is cut off there."""
    printed = page.printed(width_cm=A4_CM[0], height_cm=A4_CM[1])
    boxes = re.findall(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", printed)
    assert boxes
    # 72 points an inch
    assert {round(float(box[0]) * 2.54 / 72, 1) for box in boxes} == {A4_CM[0]}
    page.as_printed(width=A4_INNER_POINTS)
    page.run(OPEN_ALL)
    cut = page.run(CUT_OFF)
    assert cut == [], cut


def wait_for_drawn(page: Browser, *, of: int) -> None:
    """Scroll to each figure and wait until the script has drawn it, in the width that is shown."""
    for at in range(of):
        page.run("document.querySelectorAll('figure')[arguments[0]].scrollIntoView()", at)
        for _ in range(1000):
            if page.run("return !!document.querySelectorAll('figure')[arguments[0]].querySelector('.drawn')", at):
                break
            time.sleep(0.02)
    drawn = page.run("return document.querySelectorAll('.drawn').length")
    assert drawn == of, f"{drawn} of {of} charts drawn; the browser says {page.console()}"
