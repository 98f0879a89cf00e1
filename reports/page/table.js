"use strict";
// Sorts tables marked data-sortable, and filters those that name a form. Without it the page reads the same, in the order of due dates.
for (const table of document.querySelectorAll("table[data-sortable]")) {
  const body = table.tBodies[0];
  const rows = Array.from(body.rows);
  const headers = Array.from(table.tHead.rows[0].cells);

  const valueOf = (row, column) => {
    const cell = row.cells[column];
    const text = cell.dataset.sort ?? cell.textContent.trim();
    const asNumber = Number(text);
    return text === "" ? null : Number.isNaN(asNumber) ? text : asNumber;
  };

  // What is not known stays at the end in both directions.
  const compare = (a, b, direction) => {
    if (a === null || b === null) return (a === null) - (b === null);
    const order = typeof a === "number" && typeof b === "number"
      ? a - b : String(a).localeCompare(String(b), "en", { numeric: true });
    return direction * order;
  };

  const sortBy = (column) => {
    const header = headers[column];
    const direction = header.getAttribute("aria-sort") === "ascending" ? -1 : 1;
    for (const other of headers) other.removeAttribute("aria-sort");
    header.setAttribute("aria-sort", direction === 1 ? "ascending" : "descending");
    const keyed = rows.map((row, position) => [valueOf(row, column), position, row]);
    keyed.sort((a, b) => compare(a[0], b[0], direction) || a[1] - b[1]);
    body.append(...keyed.map((entry) => entry[2]));
  };

  headers.forEach((header, column) => {
    const button = document.createElement("button");
    button.type = "button";
    button.append(...header.childNodes);
    header.append(button);
    button.addEventListener("click", () => sortBy(column));
  });

  const form = document.getElementById(table.dataset.sortable);
  if (!form || rows.length < 2) continue;
  form.hidden = false;
  const count = form.querySelector("output");
  const columnOf = (name) => headers.findIndex((header) => (header.dataset.column ?? header.textContent.trim()) === name);
  const chosenText = (cell) => (cell.dataset.sort ?? cell.textContent).trim();
  const narrow = () => {
    const asked = form.elements.search.value.trim().toLocaleLowerCase();
    const chosen = Array.from(form.querySelectorAll("select")).filter((select) => select.selectedIndex > 0);
    let shown = 0;
    for (const row of rows) {
      const hit = (asked === "" || row.textContent.toLocaleLowerCase().includes(asked))
        && chosen.every((select) => chosenText(row.cells[columnOf(select.name)]) === select.value);
      row.hidden = !hit;
      shown += hit;
    }
    count.textContent = shown === rows.length
      ? `all ${rows.length} ${form.dataset.noun}s` : `${shown} of ${rows.length} ${form.dataset.noun}s`;
  };
  form.addEventListener("input", narrow);
  form.addEventListener("submit", (event) => event.preventDefault());
  form.addEventListener("reset", () => setTimeout(narrow));
  narrow();
}
