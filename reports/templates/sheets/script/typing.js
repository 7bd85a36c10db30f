// The figures that all readings share stand in the box already. Of two figures after the point both are typed; of three
// the first stands there too once the first spline is in and shares it. It hangs on the first spline alone, so that what
// has to be typed does not change under a hand that does not look.
function given() {
  const { unit, step } = gauge(), after = unit === "mm" ? 0 : 1, tail = decimals(step) - after;
  if (!["mm", "in"].includes(unit) || tail < 2) return { prefix: "", tail: 0 };
  // a box that is being written in does not count: it is not whole yet
  const first = cells.slice(0, Math.max(3, setup.stations.length)), others = first.filter((cell) => cell !== document.activeElement);
  const whole = others.map(figures).filter((text) => near(number(text) * um[unit], setup.new_um));
  const aim = whole.length ? middle(whole.map(number)) : (setup.new_um - setup.worn_um) / um[unit];
  const place = 10 ** -after, prefix = (Math.floor(aim / place + 1e-9) * place).toFixed(after) + (after ? "" : ".");
  const next = whole.map((text) => Number(text).toFixed(decimals(step)).slice(0, prefix.length + 1));
  const alike = tail > 2 && whole.length === first.length && new Set(next).size === 1 && next[0].startsWith(prefix);
  return alike ? { prefix: next[0], tail: tail - 1, before: prefix } : { prefix, tail, place };
}

function offer() {
  const { prefix, tail } = cells.length ? given() : { prefix: "", tail: 0 };
  cells.forEach((cell) => { cell.placeholder = prefix + "\u00b7".repeat(tail); });
}

function enter(cell) {
  const { prefix } = given();
  if (!cell.value && prefix) { cell.value = cell.dataset.given = prefix; cell.setSelectionRange(prefix.length, prefix.length); }
}

function leave(cell) {
  if (cell.dataset.given === cell.value) cell.value = "";
  delete cell.dataset.given;
}

// makes a whole size of what was typed; says whether it has all its figures and can mean nothing else
function complete(cell) {
  const { prefix, tail, before, place } = given(), { unit, step } = gauge();
  let text = cell.value.replace(/[\s\u200b]/g, "");
  tailed = "";
  if (!tail || !text) return Boolean(step) && decimals(step) > 0 && !Number.isNaN(number(figures(cell))) && decimals(figures(cell)) === decimals(step);
  const start = cell.dataset.given || "";
  if (start && !text.startsWith(start) && text.endsWith(start)) text = start + text.slice(0, -start.length);
  let rest = start && text.startsWith(start) ? text.slice(start.length) : null;
  if (rest === null && /^\d+$/.test(text) && text.length === tail && !near(Number(text) * um[unit], setup.new_um)) rest = text;
  // anything but figures was typed: it counts as a whole, over what stood there
  if (rest && /\D/.test(rest)) { cell.value = rest; delete cell.dataset.given; rest = null; }
  if (rest) {
    // the figure that stands there was typed once more
    if (before && rest.length === tail + 1 && rest[0] === prefix.slice(-1)) { cell.value = before + rest; return true; }
    if (rest.length > tail) return false;
    cell.value = prefix + rest;
    tailed = rest;
    if (rest.length < tail) return false;
    const good = cells.filter((other) => other !== cell).map((other) => number(figures(other))).filter((size) => near(size * um[unit], setup.new_um));
    // 6.01 after 5.98: the figures before the point turn over where only so it stands among the others
    if (place) {
      const aim = good.length ? middle(good) : setup.new_um / um[unit], turned = [place, -place].map((by) => Number(cell.value) + by).find((size) => Math.abs(size - aim) <= place / 10);
      if (turned) cell.value = turned.toFixed(decimals(step));
    }
    // these figures may also be the beginning of a whole size, or be typed with the one that stands there already, by a
    // hand that does not look: where that too would be a size among the others, Enter goes on
    const low = Number(before + rest), width = 10 ** -decimals(before + rest);
    const again = before && rest[0] === prefix.slice(-1) && low <= Math.max(...good) + width / 2 && low + width >= Math.min(...good) - width / 2;
    return !again && !near(Number(rest) * um[unit], setup.new_um);
  }
  return !Number.isNaN(number(figures(cell))) && decimals(figures(cell)) === decimals(step);
}

let arrived = { cell: null, when: 0, tail: "" }, tailed = "";
const just = (cell) => arrived.cell === cell && Date.now() - arrived.when < 1500;
function go(cell, by, itself = false) {
  const next = cells[cells.indexOf(cell) + by];
  if (itself && (!next || value(next))) return;
  if (!next) { if (by > 0) (at("sheet").querySelector("[data-line=condition]") || at("save")).focus(); return; }
  arrived = { cell: itself ? next : null, when: Date.now(), tail: tailed };
  next.focus();
  if (value(next) && by > 0) next.select();
}

function typed(cell, event) {
  const taken = /^delete/.test(event.inputType || "");
  if (taken && cell.dataset.given && cell.value.length < cell.dataset.given.length) {
    const back = cells[cells.indexOf(cell) - 1];
    cell.value = cell.dataset.given;
    if (back) { go(cell, -1); back.value = back.value.slice(0, -1); }
    return;
  }
  // 59.8: it had gone on before the point
  if (just(cell) && arrived.tail && /^\d*\.?[.,]$/.test(cell.value) && cell.value.slice(0, -1) === (cell.dataset.given || "")) {
    const back = cells[cells.indexOf(cell) - 1], whole = arrived.tail + cell.value.slice(-1);
    cell.value = cell.dataset.given || "";
    go(back, 0);
    back.value = whole;
    return;
  }
  const last = cell.selectionStart === cell.value.length;
  if (!taken && event.inputType && complete(cell) && last) go(cell, 1, true);
}

cells.forEach((cell) => {
  cell.addEventListener("focus", () => { enter(cell); strip(); });
  cell.addEventListener("blur", () => { leave(cell); look(); });
  // a tap sets the caret where it falls
  cell.addEventListener("click", () => { if (cell.dataset.given) cell.setSelectionRange(cell.value.length, cell.value.length); });
  cell.addEventListener("paste", (event) => {
    if (pasted(cell, event.clipboardData.getData("text"))) { event.preventDefault(); changed(cell); }
  });
});

at("sheet").addEventListener("keydown", (event) => {
  const input = event.target;
  if (event.key !== "Enter" || event.isComposing || tick(input) || one(input) || input.type === "date" || input.tagName !== "INPUT") return;
  event.preventDefault();
  if (!input.dataset.spline) {
    const fields = inputs.filter((other) => !other.dataset.spline && other.tagName === "INPUT" && !tick(other) && !one(other) && other.type !== "date" && other.getClientRects().length);
    const next = fields[fields.indexOf(input) + 1];
    if (next) next.focus(); else input.blur();
    return;
  }
  // the Enter of a hand that has not seen that it went on by itself
  const stale = just(input) && !value(input);
  arrived = { cell: null, when: 0, tail: "" };
  if (!stale) go(input, 1);
});

// a block from a table or a message: a line a spline, with or without the spline's number, or one after the other
function pasted(cell, text) {
  const blanks = /[\t;]/.test(text) ? /[\t;]/ : /\s+/;
  const rows = text.split(/\r?\n/).map((row) => row.replace(/\s+$/, "").replace(/^ +/, "")).filter(Boolean).map((row) => row.split(blanks).map((one) => one.trim()));
  const block = rows.filter((row) => row.some((one) => /\d/.test(one)) && !row.some((one) => /^[a-z ]{4,}/i.test(one)));
  const flat = block.flat();
  if (flat.length < 2) return false;
  const wide = setup.stations.length, numbered = block.every((row) => row.length > 1 && row.length <= wide + 1 && /^\d{1,2}$/.test(row[0]) && all(`[data-row="${Number(row[0])}"]`).length);
  const start = cells.indexOf(cell), down = block.every((row) => row.length === 1) && start + (flat.length - 1) * wide < cells.length;
  const places = numbered ? block.flatMap((row) => row.slice(1).map((one, n) => [all(`[data-row="${Number(row[0])}"] input`)[0], n, one]).map(([first, n, one]) => [cells.indexOf(first) + n, one]))
    : down ? flat.map((one, n) => [start + n * wide, one])
      : block.some((row) => row.length > 1) && block.length > 1 && block.every((row) => row.length <= wide) ? block.flatMap((row, m) => row.map((one, n) => [start - (row.length === wide ? start % wide : 0) + m * wide + n, one]))
        : flat.map((one, n) => [start + n, one]);
  const fitting = places.filter(([n, one]) => n < cells.length && one);
  fitting.forEach(([n, one]) => { delete cells[n].dataset.given; cells[n].value = one; });
  at("pasted").textContent = fill(say.pasted, { count: fitting.length }) + (fitting.length < places.filter(([, one]) => one).length ? " " + fill(say.no_place, { count: places.filter(([, one]) => one).length - fitting.length }) : "");
  return true;
}
