// Adds what a page can do beyond being read: pictures and tables as files, findings to the clipboard, names of marks.

function handOver(blob, name) {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(blob);
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 10000);
}

function addButton(place, words, how) {
  const button = document.createElement("button");
  button.type = "button";
  button.className = "save";
  button.textContent = words;
  button.addEventListener("click", () => how(button));
  place.append(button);
}

function savePicture(image, kind) {
  if (kind === "svg") {
    const letters = atob(image.src.split(",")[1]);
    const bytes = Uint8Array.from(letters, (letter) => letter.charCodeAt(0));
    return handOver(new Blob([bytes], { type: "image/svg+xml" }), `${image.dataset.name}.svg`);
  }
  const canvas = document.createElement("canvas");
  [canvas.width, canvas.height] = [3 * image.width, 3 * image.height];
  const context = canvas.getContext("2d");
  context.fillStyle = "#fff";
  context.fillRect(0, 0, canvas.width, canvas.height);
  context.drawImage(image, 0, 0, canvas.width, canvas.height);
  canvas.toBlob((blob) => handOver(blob, `${image.dataset.name}.png`), "image/png");
}

const rowsOf = (table) => [...table.rows].map((row) => [...row.cells].map((cell) => cell.textContent.trim()));

/** A cell for a CSV file; one that a spreadsheet would take for a formula gets an apostrophe. */
function csvCell(text) {
  const guarded = /^[=+@\t\r]|^-(?![\d.])/.test(text) ? `'${text}` : text;
  return /[",\n]/.test(guarded) ? `"${guarded.replaceAll('"', '""')}"` : guarded;
}

function saveCsv(table, name) {
  const text = rowsOf(table).map((row) => row.map(csvCell).join(",")).join("\n");
  handOver(new Blob(["\ufeff", text, "\n"], { type: "text/csv" }), `${name}.csv`);
}

/** A table alone in a page, which word processors open and keep as a table. */
function saveForWordProcessor(table, name) {
  const page = `<!doctype html><html lang="en"><head><meta charset="utf-8"><title>${name}</title></head><body>${table.outerHTML}</body></html>`;
  handOver(new Blob([page], { type: "text/html" }), `${name}.html`);
}

async function copyText(button, text) {
  try {
    await navigator.clipboard.writeText(text);
    button.textContent = "Copied";
  } catch {
    button.textContent = "The browser does not allow copying here";
  }
}

for (const [i, table] of [...document.querySelectorAll("main table")].entries()) {
  const name = table.dataset.name || `table_${i + 1}`;
  const row = document.createElement("div");
  table.closest(".wide").after(row);
  addButton(row, "CSV", () => saveCsv(table, name));
  addButton(row, "HTML for a word processor", () => saveForWordProcessor(table, name));
}
for (const image of document.querySelectorAll(".picture img")) {
  const row = document.createElement("div");
  row.className = "saving";
  const card = image.closest(".card");
  if (card) card.prepend(row);
  else image.closest(".picture").after(row);
  addButton(row, "SVG", () => savePicture(image, "svg"));
  addButton(row, "PNG", () => savePicture(image, "png"));
}
const lines = [...document.querySelectorAll("table.lines")];
if (lines.length) {
  const place = document.createElement("p");
  document.querySelector("aside.caution").before(place);
  const text = () => lines.map((table, i) => rowsOf(table).slice(i ? 1 : 0).map((row) => row.join("\t")).join("\n")).join("\n");
  addButton(place, "Copy all findings", (button) => copyText(button, text()));
  addButton(place, "Unfold everything", () => document.querySelectorAll("details").forEach((one) => { one.open = true; }));
}
for (const data of document.querySelectorAll(".picture script.points")) {
  new PointPicture(data.parentElement, JSON.parse(data.textContent), () => {});
}
