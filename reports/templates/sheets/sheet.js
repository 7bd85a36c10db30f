(() => {
"use strict";
const at = (id) => document.getElementById(id);
const all = (query, within = document) => [...within.querySelectorAll(query)];
const setup = JSON.parse(at("setup").textContent), say = setup.words, um = setup.um_per;
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
const ticked = () => inputs.filter((input) => tick(input) && input.checked).map((input) => input.value);
const value = (input) => (input ? input.value.trim().replace(/\s+/g, " ") : "");
// a cell that comes back whole, and that no spreadsheet runs: the store takes the apostrophe off again
const inside = (text) => text.replace(/([;\t\n\r])('*[=+\-@])/g, "$1'$2");
const safe = (text) => (/^'*[=+\-@\t\r]/.test(text) && !/^[+-]?\d+(\.\d+)?$/.test(text) ? "'" : "") + inside(text);
const cell = (text) => (/[;"\r\n]/.test(text) ? '"' + safe(text).replace(/"/g, '""') + '"' : safe(text));
// point or comma, and whatever blanks and quotes a phone puts in
const figures = (input) => input.value.replace(/[\s\u200b\u2019\u2018"']/g, "").replace(",", ".");
const number = (text) => (/^(\d+\.?\d*|\.\d+)$/.test(text) ? Number(text) : NaN);
const decimals = (text) => (text.split(".")[1] || "").length;
const gauge = () => { const [unit, step] = value(line("reads")).split(" "); return { unit: unit || "mm", step: step || "" }; };
const digits = { mm: 3, in: 4, thou: 1, "tenth-thou": 0 };
const written = (microns, unit) => (microns / um[unit]).toFixed(digits[unit]) + " " + unit;
const near = (microns, aim) => Math.abs(microns - aim) <= setup.share * aim;
const middle = (list) => { const s = [...list].sort((a, b) => a - b), h = s.length >> 1; return s.length % 2 ? s[h] : (s[h - 1] + s[h]) / 2; };

// what a size may have been meant as: the same as the store says when it refuses it
function meanings(size, unit, aim) {
  const units = Object.keys(um).filter((other) => other !== unit && near(size * um[other], aim)).map((other) => fill(say.other_unit, { unit: setup.units[other] }));
  const slips = [1, -1, 2, -2, 3, -3].map((n) => size * 10 ** n).filter((moved) => near(moved * um[unit], aim)).map((moved) => fill(say.slipped, { value: String(Number(moved.toPrecision(9))) }));
  return units.concat(slips).join(" ");
}

// gives [class, reason] or nothing
function size(input, aim, farWords) {
  const text = figures(input), { unit, step } = gauge(), typed = number(text);
  if (!text) return null;
  if (Number.isNaN(typed)) return ["bad", say.not_number];
  if (aim && !near(typed * um[unit], aim)) {
    const meant = meanings(typed, unit, aim), times = typed * um[unit] / aim, [over, most] = setup.over_pins || [];
    const pins = input.dataset.spline && !meant && times > over && times <= most;
    return ["bad", (fill(pins ? say.over_pins : farWords, { new: written(aim, unit) }) + ". " + meant).trim()];
  }
  // the register is measured by another gauge, which may show more or fewer figures
  if (input.dataset.line === "register") return null;
  if (step && decimals(text) > decimals(step)) return ["odd", fill(say.fine, { step: step + " " + unit })];
  if (step && decimals(text) < decimals(step)) return ["odd", say.coarse];
  return null;
}

function reading(input, others) {
  const found = size(input, setup.new_um, say.far);
  if (found && found[0] === "bad") return found;
  const { unit } = gauge(), microns = number(figures(input)) * um[unit];
  if (Number.isNaN(microns)) return found;
  if (microns > setup.new_um + setup.above_um) return ["odd", fill(say.above, { new: written(setup.new_um, unit) })];
  if (others.length >= 4) {
    const away = Math.abs(microns - middle(others)), turn = setup.turn_um[unit];
    if (Math.abs(away - turn) < setup.stray_um) return ["odd", fill(say.turn, { turn: written(turn, unit) })];
    if (away > setup.stray_um) return ["odd", fill(say.stray, { away: written(away, unit) })];
  }
  return found;
}

function judge(input) {
  const name = input.dataset.line, text = figures(input);
  if (input.type === "date") return input.value > today() ? ["bad", say.future] : null;
  if (name === "hours" || name === "turn") return text && Number.isNaN(number(text)) ? ["bad", say.not_number] : null;
  if (["loose", "broken", "hub-cracked", "shaft-broken"].includes(value(input))) return ["stop", say.do_not_start];
  if (name === "register") return size(input, setup.register_um, say.register_far);
  if (name === "check_piece") return text && Number.isNaN(number(text)) ? ["bad", say.not_number] : null;
  if (name === "check_reading") {
    const piece = number(figures(line("check_piece"))) * 1000, found = size(input, piece, say.check_far);
    const away = Math.abs(number(text) * um[gauge().unit] - piece);
    return found || (away > setup.check_um ? ["odd", fill(say.check_off, { away: written(away, gauge().unit) })] : null);
  }
  return null;
}

function damage() {
  const words = ticked();
  if (words.includes("cracked")) return ["stop", say.do_not_run];
  return words.length > 1 && words.includes("sound") ? ["odd", say.contradicts] : null;
}

function today() {
  const now = new Date();
  return new Date(now - now.getTimezoneOffset() * 60000).toISOString().slice(0, 10);
}

function show(input, found) {
  ["bad", "odd", "stop"].forEach((kind) => input.classList.toggle(kind, Boolean(found) && found[0] === kind));
  input.setAttribute("aria-invalid", String(Boolean(found) && found[0] !== "stop"));
  return found ? fill("{what}: {why}", { what: say[found[0]], why: found[1] }) : "";
}

function tell(id, text) { const place = at("why-" + id); if (place && place.textContent !== text) place.textContent = text; }

function look() {
  inputs.filter((input) => input.dataset.line && !tick(input)).forEach((input) => tell(input.id, show(input, judge(input))));
  if (at("condition")) tell("condition", show(at("condition"), damage()));
  const sizes = cells.map((cell) => number(figures(cell)) * um[gauge().unit]), reasons = {};
  let flagged = 0;
  cells.forEach((cell, n) => {
    const others = sizes.filter((other, m) => m !== n && near(other, setup.new_um));
    const reason = show(cell, reading(cell, others)), row = cell.dataset.spline;
    flagged += reason ? 1 : 0;
    reasons[row] = (reasons[row] || []).concat(reason ? head(Number(cell.dataset.at) + 1) + " " + value(cell) + ", " + reason : []);
  });
  Object.entries(reasons).forEach(([row, list]) => tell(row, list.join("\n")));
  const there = sizes.filter((one) => !Number.isNaN(one));
  tell("all", there.length > 5 && new Set(there).size === 1 ? say.all_equal : "");
  const [done, whole] = cells.length ? [cells.filter((cell) => value(cell)).length, cells.length] : [cards.filter(answered).length, cards.length];
  at("bar").max = whole; at("bar").value = done;
  at("done").textContent = fill(say.progress, { done, all: whole }) + (flagged ? "; " + fill(say.mended, { count: flagged }) : "");
  at("text").value = text();
  return flagged;
}

const answered = (card) => Boolean(value(all("[data-line=state]", card)[0]));

function text() {
  const lines = [setup.table, cell("form: " + setup.form)];
  if (cards.length) {
    lines.push(setup.columns.join(";"));
    cards.filter(answered).forEach((card) => lines.push(setup.columns.map((name) => {
      const input = all("[data-line=" + name + "]", card)[0];
      return cell({ fitting: card.dataset.fitting, prompted: "asked" }[name] || (name === "hours" ? figures(input) : value(input)));
    }).join(";")));
  } else {
    const exact = ["hours", "turn", "register", "check_piece", "check_reading"];
    setup.lines.forEach((name) => {
      const { unit, step } = gauge(), chosen = value(line("reads"));
      const said = { form: "", pattern: setup.pattern, unit: chosen && unit, resolution: step, condition: ticked().join(" and ") };
      const input = line(name), words = name in said ? said[name] : exact.includes(name) ? figures(input) : value(input);
      if (words) lines.push(cell(name + ": " + words));
    });
    lines.push(["spline", ...setup.stations].map(cell).join(";"));
    const rows = {};
    cells.forEach((cell) => (rows[cell.dataset.spline] = rows[cell.dataset.spline] || []).push(figures(cell)));
    Object.entries(rows).forEach(([row, sizes]) => { if (sizes.some(Boolean)) lines.push([row, ...sizes].map(cell).join(";")); });
  }
  return lines.join("\n") + "\n";
}

function missing() {
  const wanted = cards.length ? cards.filter((card) => answered(card) || !cards.some(answered)) : [document];
  const list = wanted.flatMap((place) => setup.needed.map((name) => all("[data-line=" + name + "]", place)[0]).filter((input) => !value(input)));
  if (cells.length && !cells.some((cell) => value(cell))) list.push(cells[0]);
  return list;
}

function ready() {
  const list = missing();
  look();
  if (!list.length) return true;
  const names = list.map((input) => (input.labels && input.labels[0] ? input.labels[0].firstChild.textContent.replace(" *", "") : input.getAttribute("aria-label")));
  at("told").textContent = say.missing + " " + [...new Set(names)].join("; ");
  list[0].focus();
  return false;
}

function fileName() {
  const parts = [setup.stem, value(line("shaft")), value(line("measured_on") || all("[type=date]")[0])];
  return parts.filter((part, n) => part && (n !== 1 || !setup.shaft)).join("-").replace(/[^A-Za-z0-9]+/g, "-") + ".csv";
}

const file = () => new File([text()], fileName(), { type: "text/csv" });

at("save").onclick = () => {
  if (!ready()) return;
  const link = document.createElement("a");
  link.href = URL.createObjectURL(file());
  link.download = fileName();
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 60000);
  at("told").textContent = fill(say.saved, { name: fileName() });
};

function copyByHand() {
  at("text").focus(); at("text").select();
  let done = false;
  try { done = document.execCommand("copy"); } catch { /* then it is copied by hand */ }
  at("told").textContent = done ? say.copied : say.by_hand;
}
at("copy").onclick = () => {
  if (!ready()) return;
  if (!navigator.clipboard) copyByHand();
  else navigator.clipboard.writeText(text()).then(() => { at("told").textContent = say.copied; }, copyByHand);
};

if (navigator.canShare && navigator.canShare({ files: [new File(["x"], "x.csv", { type: "text/csv" })] })) {
  at("share").hidden = false;
  at("share").onclick = () => { if (ready()) navigator.share({ files: [file()] }).catch(() => { at("told").textContent = say.by_hand; }); };
}

// the draft: where the browser keeps none, the page says so and works all the same
const place = ["sheet", setup.stem, setup.form].join(" ");
let kept = true;
function draft(change) { try { return change(window.localStorage); } catch { kept = false; return null; } }
const old = JSON.parse(draft((store) => store.getItem(place)) || "{}");
inputs.forEach((input) => { if (input.name in old) input[tick(input) ? "checked" : "value"] = old[input.name]; });
function changed() {
  look();
  draft((store) => store.setItem(place, JSON.stringify(Object.fromEntries(inputs.map((input) => [input.name, tick(input) ? input.checked : input.value])))));
  at("draft").textContent = kept ? say.kept : say.not_kept;
}
// a choice tells some browsers' pages only by the second of these
["input", "change"].forEach((event) => at("sheet").addEventListener(event, () => { at("told").textContent = ""; changed(); }));
at("sheet").addEventListener("submit", (event) => event.preventDefault());
at("fresh").onclick = () => {
  if (!window.confirm(say.sure)) return;
  draft((store) => store.removeItem(place));
  at("sheet").reset();
  at("told").textContent = "";
  begin();
};
function begin() {
  all("[type=date]").filter((input) => !input.value).forEach((input) => { input.value = today(); });
  look();
  at("draft").textContent = kept ? say.kept : say.not_kept;
}
begin();
})();
