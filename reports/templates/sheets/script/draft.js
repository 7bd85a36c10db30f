// the draft: where the browser keeps none, the page says so and works all the same
const place = ["sheet", setup.stem, setup.form].join(" ");
let kept = true;
function draft(change) { try { return change(window.localStorage); } catch { kept = false; return null; } }
const old = JSON.parse(draft((store) => store.getItem(place)) || "{}");
inputs.forEach((input) => {
  if (!(input.name in old)) return;
  if (one(input)) input.checked = old[input.name] === input.value;
  else input[tick(input) ? "checked" : "value"] = old[input.name];
});
function changed(last) {
  look(last);
  draft((store) => store.setItem(place, JSON.stringify(Object.fromEntries(inputs.map((input) => [input.name, tick(input) ? input.checked : one(input) ? value(input) : raw(input)])))));
  at("draft").textContent = kept ? say.kept : say.not_kept;
}
// a choice tells some browsers' pages only by the second of these
["input", "change"].forEach((event) => at("sheet").addEventListener(event, (happened) => {
  message("");
  const input = happened.target;
  if (event === "input" && input.dataset.spline) { at("pasted").textContent = ""; typed(input, happened); }
  changed(input);
}));
// a choice that is tapped once more, or met by a blank, is taken back
const chosen = Object.fromEntries(inputs.filter((input) => one(input) && input.checked).map((input) => [input.name, input.value]));
function takeBack(input) { input.checked = false; delete chosen[input.name]; changed(); }
at("sheet").addEventListener("click", ({ target }) => {
  if (target.type !== "radio") return;
  if (chosen[target.name] === target.value) takeBack(target); else chosen[target.name] = target.value;
});
at("sheet").addEventListener("keydown", (event) => {
  if (event.key !== " " || event.target.type !== "radio" || !event.target.checked) return;
  event.preventDefault();
  takeBack(event.target);
});
if (at("mend")) at("mend").onclick = () => {
  group(line("reads")).forEach((input) => { input.checked = input.value === at("mend").dataset.reads; });
  chosen.reads = at("mend").dataset.reads;
  changed();
  cells[0].focus();
};
at("begin").onclick = () => {
  at("how").open = false;
  (all("#sheet input")[0]).focus();
};
at("sheet").addEventListener("submit", (event) => event.preventDefault());
at("fresh").onclick = () => {
  if (!window.confirm(say.sure)) return;
  draft((store) => store.removeItem(place));
  at("sheet").reset();
  Object.keys(chosen).forEach((name) => { delete chosen[name]; });
  message("");
  begin();
};
function begin() {
  all("[type=date]").filter((input) => !input.value && input.dataset.line !== "failed_on").forEach((input) => { input.value = today(); });
  look();
  at("draft").textContent = kept ? say.kept : say.not_kept;
}
// read once: on a sheet that is begun it is folded
at("how").open = !Object.keys(old).length;
begin();
