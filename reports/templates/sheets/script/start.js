const at = (id) => document.getElementById(id);
const all = (query, within = document) => [...within.querySelectorAll(query)];
const setup = JSON.parse(at("setup").textContent), say = setup.words, um = setup.um_per, rule = setup.rule;
const head = (n) => all("thead th")[n].firstChild.textContent;
all("[data-row]").forEach((row) => all("input", row).forEach((cell, n) => {
  const spline = row.dataset.row, station = head(n + 1);
  Object.assign(cell.dataset, { spline, at: n });
  cell.name = spline + " " + n;
  cell.setAttribute("aria-label", head(0) + " " + spline + ", " + station);
  cell.setAttribute("aria-describedby", "why-" + spline);
}));
const inputs = all("#sheet input, #sheet select"), cells = all("[data-spline]"), cards = all("[data-fitting]");
const line = (name) => inputs.find((input) => input.dataset.line === name && !input.closest("[data-fitting]"));
const fill = (text, facts) => text.replace(/\{(\w+)\}/g, (_, name) => facts[name]);
const tick = (input) => input.type === "checkbox";
const one = (input) => input.type === "radio";
const group = (input) => inputs.filter((other) => other.name === input.name);
const ticked = () => inputs.filter((input) => tick(input) && input.checked).map((input) => input.value);
// figures that stand in a box before anything is typed are no reading
const raw = (input) => (input.dataset.given && input.value === input.dataset.given ? "" : input.value);
function value(input) {
  if (!input) return "";
  if (one(input)) return (group(input).find((other) => other.checked) || { value: "" }).value;
  return raw(input).trim().replace(/\s+/g, " ");
}
// the unit that a size has anyway may stand behind it
const behind = { mm: /mm$/i, in: /(in|inch|inches)$/i, thou: /thou$/i };
const sized = (input) => Boolean(input.dataset.spline) || ["register", "check_reading"].includes(input.dataset.line);
// point or comma, and whatever blanks and quotes a phone puts in
const figures = (input) => raw(input).replace(/[\s\u200b\u2019\u2018"']/g, "").replace(sized(input) ? behind[gauge().unit] : "", "").replace(",", ".");
const number = (text) => (/^(\d+\.?\d*|\.\d+)$/.test(text) ? Number(text) : NaN);
const decimals = (text) => (text.split(".")[1] || "").length;
const gauge = () => { const [unit, step] = value(line("reads")).split(" "); return { unit: unit || "mm", step: step || "" }; };
const digits = { mm: 3, in: 4, thou: 1, "tenth-thou": 0 };
const written = (microns, unit) => (microns / um[unit]).toFixed(digits[unit]) + " " + unit;
const near = (microns, aim) => Math.abs(microns - aim) <= setup.share * aim;
const middle = (list) => { const s = [...list].sort((a, b) => a - b), h = s.length >> 1; return s.length % 2 ? s[h] : (s[h - 1] + s[h]) / 2; };
const named = (cell) => fill(say.place, { spline: cell.dataset.spline, station: head(Number(cell.dataset.at) + 1) });
function today() {
  const now = new Date();
  return new Date(now - now.getTimezoneOffset() * 60000).toISOString().slice(0, 10);
}
