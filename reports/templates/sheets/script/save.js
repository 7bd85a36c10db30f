// a cell that comes back whole, and that no spreadsheet runs: the store takes the apostrophe off again
const inside = (text) => text.replace(/([;\t\n\r])('*[=+\-@])/g, "$1'$2");
const safe = (text) => (/^'*[=+\-@\t\r]/.test(text) && !/^[+-]?\d+(\.\d+)?$/.test(text) ? "'" : "") + inside(text);
const cell = (text) => (/[;"\r\n]/.test(text) ? '"' + safe(text).replace(/"/g, '""') + '"' : safe(text));
const answered = (card) => Boolean(value(all("[data-line=state]", card)[0]));

function text() {
  const lines = [setup.table, cell("form: " + setup.form)];
  if (cards.length) {
    lines.push(setup.columns.join(";"));
    cards.filter(answered).forEach((card) => lines.push(setup.columns.map((name) => {
      const input = all("[data-line=" + name + "]", card)[0];
      if (input && input.closest("[hidden]")) return "";
      return cell({ fitting: card.dataset.fitting, prompted: "asked" }[name] || (name === "hours" ? figures(input) : value(input)));
    }).join(";")));
  } else {
    const exact = ["hours", "turn", "register", "check_piece", "check_reading"];
    setup.lines.forEach((name) => {
      const { unit, step } = gauge(), chosen = value(line("reads"));
      const said = { form: "", hub: setup.hub, pattern: setup.pattern, unit: chosen && unit, resolution: step, condition: ticked().join(" and ") };
      const input = line(name), words = name in said ? said[name] : exact.includes(name) ? figures(input) : value(input);
      if (words) lines.push(cell(name + ": " + words));
    });
    lines.push([setup.row || "spline", ...setup.stations].map(cell).join(";"));
    const rows = {};
    cells.forEach((cell) => (rows[cell.dataset.spline] = rows[cell.dataset.spline] || []).push(figures(cell)));
    Object.entries(rows).forEach(([row, sizes]) => { if (sizes.some(Boolean)) lines.push([row, ...sizes].map(cell).join(";")); });
  }
  return lines.join("\n") + "\n";
}

// a field by the words that stand over it
function called(input) {
  if (input.dataset.spline) return named(input);
  const over = one(input) || tick(input) ? input.closest("fieldset").querySelector("legend") : input.labels[0];
  return over.firstChild.textContent.replace(" *", "").trim();
}

function missing() {
  const wanted = cards.length ? cards.filter((card) => answered(card) || !cards.some(answered)) : [document];
  return wanted.flatMap((place) => setup.needed.map((name) => all("[data-line=" + name + "]", place)[0]).filter((input) => !value(input)));
}

function message(words, fields = [], anyway = null) {
  at("told").textContent = words;
  const ways = fields.slice(0, 6).map((input) => [fill(say.go_to, { field: called(input) }), () => { const fold = input.closest("details"); if (fold) fold.open = true; input.focus(); input.scrollIntoView({ block: "center" }); }]);
  if (anyway) ways.push([say.anyway, () => { message(""); anyway(); }]);
  at("ways").replaceChildren(...ways.map(([name, act]) => Object.assign(document.createElement("button"), { type: "button", textContent: name, onclick: act })));
  if (words) { at("told").focus({ preventScroll: true }); at("told").scrollIntoView({ block: "center" }); }
}

// what is missing is asked for; what will not be taken is named, and saved only when that is meant
function ready(then) {
  look();
  const list = missing(), empty = cells.length ? !cells.some((cell) => value(cell)) : !cards.some(answered);
  if (empty) return message([say.empty, list.length && cells.length ? say.missing + " " + [...new Set(list.map(called))].join("; ") : ""].join(" ").trim(), cells.length ? [cells[0], ...list] : list);
  if (list.length) return message(say.missing + " " + [...new Set(list.map(called))].join("; "), list);
  const bad = inputs.filter((input) => input.classList.contains("bad"));
  if (!bad.length) return then();
  const names = bad.slice(0, 6).map((input) => called(input) + ", " + value(input)).join("; ") + (bad.length > 6 ? "; \u2026" : "");
  return message(fill(say.not_taken, { count: bad.length, names }), bad.slice(0, 1), then);
}

function fileName() {
  const parts = [setup.stem, value(line("shaft")), value(line("measured_on") || all("[type=date]")[0])];
  return parts.filter((part, n) => part && (n !== 1 || !setup.shaft)).join("-").replace(/[^A-Za-z0-9]+/g, "-") + ".csv";
}

const file = () => new File([text()], fileName(), { type: "text/csv" });

at("save").onclick = () => ready(() => {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(file());
  link.download = fileName();
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 60000);
  message(fill(say.saved, { name: fileName() }));
});

function copyByHand() {
  at("all-text").open = true;
  at("text").focus(); at("text").select();
  let done = false;
  try { done = document.execCommand("copy"); } catch { /* then it is copied by hand */ }
  at("told").textContent = done ? say.copied : say.by_hand;
}
at("copy").onclick = () => ready(() => {
  if (!navigator.clipboard) copyByHand();
  else navigator.clipboard.writeText(text()).then(() => message(say.copied), copyByHand);
});

if (navigator.canShare && navigator.canShare({ files: [new File(["x"], "x.csv", { type: "text/csv" })] })) {
  at("share").hidden = false;
  at("share").onclick = () => ready(() => { navigator.share({ files: [file()] }).catch(() => message(say.by_hand)); });
}
