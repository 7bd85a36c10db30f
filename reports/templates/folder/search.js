const wanted = document.getElementById("wanted");
const rows = [...document.querySelectorAll("#shafts tbody tr")];
const texts = rows.map(row => [...row.cells].map(cell => cell.textContent).join("\n").toLowerCase());
function search() {
  const words = wanted.value.toLowerCase().split(/\s+/).filter(Boolean);
  let shown = 0;
  rows.forEach((row, at) => {
    row.hidden = !words.every(word => texts[at].includes(word));
    shown += row.hidden ? 0 : 1;
  });
  document.getElementById("shown").textContent = words.length ? `${shown} of ${rows.length}` : "";
}
wanted.addEventListener("input", search);
document.getElementById("search").hidden = false;
search();
