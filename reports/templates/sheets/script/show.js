function show(input, found) {
  ["bad", "odd", "stop"].forEach((kind) => input.classList.toggle(kind, Boolean(found) && found[0] === kind));
  if (input.parentElement.tagName === "TD") input.parentElement.classList.toggle("flag", Boolean(found));
  input.setAttribute("aria-invalid", String(Boolean(found) && found[0] !== "stop"));
  return found ? fill("{what}: {why}", { what: say[found[0]], why: found[1] }) : "";
}

function tell(id, text) { const place = at("why-" + id); if (place && place.textContent !== text) place.textContent = text; }

const drawn = (name, facts) => {
  const made = document.createElementNS(at("strip").namespaceURI, name);
  Object.entries(facts).forEach(([key, what]) => made.setAttribute(key, what));
  return made;
};

// the sheet as it stands, for the strip
let seen = { sizes: [], sheet: null, found: [] };

// a dot a reading in the order of the sheet, high where it is wide; what is odd is a red cross
function strip() {
  const place = at("strip");
  if (!place) return;
  const { sizes, sheet, found } = seen, wide = setup.stations.length, gap = 0.8, step = 360 / (cells.length + gap * cells.length / wide);
  const fine = sizes.filter((one, n) => sheet.good.includes(n) && !found[n]).map((one) => Math.abs(one - sheet.centre));
  const half = Math.max(rule.scatters * sheet.scatter, ...fine, 1) * 1.15, x = (n) => (n + 0.5 + gap * (Math.floor(n / wide) + 0.5)) * step;
  const parts = [drawn("path", { class: "axis", d: "M0 22H360" })];
  cells.forEach((cell, n) => {
    if (cell === document.activeElement) parts.push(drawn("rect", { class: "here", x: x(n) - step / 2, y: 1, width: step, height: 42, rx: 2 }));
    const y = 22 - 18 * Math.max(-1, Math.min(1, (sizes[n] - sheet.centre) / half));
    if (!value(cell) || unfinished(cell)) parts.push(drawn("path", { class: "axis", d: `M${x(n)} 20v4` }));
    else if (found[n] || Number.isNaN(y)) { const h = Number.isNaN(y) ? 22 : y; parts.push(drawn("path", { class: "wrong", d: `M${x(n) - 4} ${h - 4}l8 8m0 -8l-8 8` })); }
    else parts.push(drawn("circle", { class: "dot", cx: x(n), cy: y, r: Math.min(3, step / 2.6) }));
  });
  place.replaceChildren(...parts);
  const wrong = cells.filter((_, n) => found[n]).map(named);
  place.setAttribute("aria-label", wrong.length ? fill(say.strip_odd, { places: wrong.join("; ") }) : say.strip);
}

function look(last) {
  inputs.filter((input) => input.dataset.line && !tick(input) && group(input)[0] === input).forEach((input) => tell(input.name, show(one(input) ? input.closest("fieldset") : input, judge(input))));
  if (at("condition")) tell("condition", show(at("condition"), damage()));
  cards.forEach((card) => { all(".only-if-not-tight", card).forEach((part) => { part.hidden = !["loose", "broken", "removed"].includes(value(all("[data-line=state]", card)[0])); }); });
  const sizes = cells.map((cell) => (unfinished(cell) ? NaN : number(figures(cell)) * um[gauge().unit])), sheet = spread(sizes), reasons = {};
  const found = cells.map((cell, n) => (unfinished(cell) ? null : reading(n, sizes, sheet))), common = cells.length ? shared(found, sizes) : {};
  let flagged = 0, latest = "";
  cells.forEach((cell, n) => {
    const reason = show(cell, found[n]), row = cell.dataset.spline, said = reason && !(common.key && found[n][2] === common.key);
    reasons[row] = (reasons[row] || []).concat(said ? head(Number(cell.dataset.at) + 1) + " " + value(cell) + ", " + reason : []);
    flagged += said ? 1 : 0;
    if (said && cell === last) latest = named(cell) + ", " + value(cell) + ": " + found[n][1];
  });
  Object.entries(reasons).forEach(([row, list]) => tell(row, list.join("\n")));
  if (cells.length) {
    seen = { sizes, sheet, found };
    strip();
    offer();
    at("mend").hidden = !common.mend;
    at("mend").dataset.reads = common.mend || "";
    if (common.mend) at("mend").textContent = fill(say.mend, { reads: group(line("reads")).find((input) => input.value === common.mend).parentElement.textContent.trim() });
    at("note").textContent = common.words || latest || (flagged ? fill(say.mended, { count: flagged }) : "");
  }
  const [done, whole] = cells.length ? [cells.filter((cell) => value(cell)).length, cells.length] : [cards.filter(answered).length, cards.length];
  at("bar").max = whole; at("bar").value = done;
  at("done").textContent = fill(say.progress, { done, all: whole });
  at("text").value = text();
}
