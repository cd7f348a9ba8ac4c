// Filters the table. Without it all of the page is there.
// No sign that XML reads as markup: the page is well-formed XML, too.
const form = document.getElementById("filter");
const rows = Array.from(document.querySelectorAll("tr.check"));
function show() {
  const boxes = Array.from(form.querySelectorAll("input[type=checkbox]"));
  const wanted = new Set(boxes.filter((box) => box.checked).map((box) => box.value));
  const text = form.querySelector("input[type=search]").value.trim().toLowerCase();
  let count = 0;
  for (const row of rows) {
    const words = row.dataset.area + " " + row.textContent.toLowerCase();
    const named = words.includes(text);
    row.hidden = named ? !wanted.has(row.dataset.outcome) : true;
    if (!row.hidden) count += 1;
  }
  for (const body of document.querySelectorAll("table.checks tbody")) {
    body.hidden = body.querySelector("tr.check:not([hidden])") === null;
  }
  document.getElementById("shown").textContent = count + " of " + rows.length + " shown";
}
form.hidden = false;
form.addEventListener("input", show);
form.addEventListener("submit", (event) => event.preventDefault());
// What is closed on the screen is open on paper.
window.addEventListener("beforeprint", () => {
  for (const part of document.querySelectorAll("section.evidence, article")) {
    for (const closed of part.querySelectorAll(":scope > details")) closed.open = true;
  }
});
show();
