"use strict";
const byId = (id) => document.getElementById(id);
const minus = (value) => value.toFixed(1).replace("-", "\u2212");
let version = -1, drawn = "";

function put(id, text) { byId(id).textContent = text; }

function list(id, lines) {
  byId(id).replaceChildren(...lines.map((line) => { const item = document.createElement("li"); item.textContent = line; return item; }));
}

function number(id, measure, empty, own) {
  const value = byId(`${id}-value`);
  value.replaceChildren(measure.value === null ? empty : minus(measure.value));
  value.classList.toggle("none", measure.value === null);
  if (measure.value !== null && measure.unit) {
    const unit = document.createElement("span");
    unit.className = "unit"; unit.textContent = measure.unit; value.append(unit);
  }
  put(`${id}-label`, measure.label + (measure.positive ? ` (+ ${measure.positive})` : ""));
  const spread = measure.sd === null ? "" : `, spread (SD) ${minus(measure.sd)}`;
  put(`${id}-own`, measure.n ? `${own}: mean ${minus(measure.mean)}${spread}, ${measure.n} swing${measure.n > 1 ? "s" : ""}` : "");
}

const SHAPES = { "": "circle", before: "circle", drill: "triangle", after: "square", later: "diamond", "other club": "cross" };
function shape(kind, x, y, r) {
  const paths = {
    circle: `M${x - r},${y} a${r},${r} 0 1,0 ${2 * r},0 a${r},${r} 0 1,0 ${-2 * r},0`,
    triangle: `M${x},${y - r} L${x + r},${y + r} L${x - r},${y + r} Z`,
    square: `M${x - r},${y - r} h${2 * r} v${2 * r} h${-2 * r} Z`,
    diamond: `M${x},${y - r * 1.3} L${x + r * 1.3},${y} L${x},${y + r * 1.3} L${x - r * 1.3},${y} Z`,
    cross: `M${x - r},${y - r} L${x + r},${y + r} M${x + r},${y - r} L${x - r},${y + r}`,
  };
  return paths[kind];
}
function node(name, attributes, text) {
  const made = document.createElementNS("http://www.w3.org/2000/svg", name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  if (text !== undefined) made.textContent = text;
  return made;
}

// Positions of the entries in the strip's legend; on a narrow page it has several lines.
const AIM = "shaded: the aim", LINE = 24;
function placed(entries, width) {
  const items = [];
  let x = 60, line = 0;
  for (const words of entries) {
    const wide = 44 + 9 * words.length;
    if (x > 60 && x + wide > width) { x = 60; line += 1; }
    items.push({ words, x, line });
    x += wide;
  }
  return { items, lines: line + 1 };
}

// The strip: one mark for each swing, in order of play from left to right. Height is the number, the band is the aim.
function strip(state) {
  const svg = byId("strip"), dots = state.dots, width = svg.clientWidth || 900;
  const phases = [...new Set(dots.map((dot) => dot.phase))].filter(Boolean);
  const key = placed([...phases, ...(state.aim ? [AIM] : [])], width);
  const height = 144 + LINE * (key.lines - 1), plot = 144 - LINE;
  svg.setAttribute("viewBox", `0 0 ${width} ${height}`);
  svg.replaceChildren();
  svg.setAttribute("aria-label", `${state.posture.label} of ${dots.length} swings in order of play`);
  if (!dots.length) return;
  const values = dots.map((dot) => dot.posture).concat(state.aim || []);
  let low = Math.min(...values), high = Math.max(...values);
  const pad = Math.max((high - low) * 0.15, 0.5); low -= pad; high += pad;
  const y = (value) => 10 + (plot - 16) * (high - value) / (high - low);
  const x = (i) => 60 + (width - 90) * (i + 0.5) / Math.max(dots.length, 12);
  if (state.aim) {
    svg.append(node("rect", { x: 60, width: width - 90, y: y(state.aim[1]), height: Math.max(2, y(state.aim[0]) - y(state.aim[1])), fill: "#e3eef4", stroke: "#0b5d8a", "stroke-dasharray": "4 3" }));
  }
  for (const value of [low + pad, high - pad]) svg.append(node("text", { x: 52, y: y(value) + 5, "text-anchor": "end" }, minus(value)));
  dots.forEach((dot, i) => {
    const last = i === dots.length - 1;
    const mark = node("path", { d: shape(SHAPES[dot.phase] || "circle", x(i), y(dot.posture), last ? 9 : 6), fill: last ? "#0b5d8a" : "none", stroke: "#0b5d8a", "stroke-width": 2 });
    mark.append(node("title", {}, `${dot.swing}: ${minus(dot.posture)}${dot.phase ? ", " + dot.phase : ""}${dot.seen ? ", " + dot.seen : ""}`));
    svg.append(mark);
    if (dot.seen) svg.append(node("text", { x: x(i), y: y(dot.posture) - 13, "text-anchor": "middle" }, dot.seen));
  });
  for (const { words, x: left, line } of key.items) {
    const base = plot + LINE * (line + 1) - 6;
    if (words !== AIM) svg.append(node("path", { d: shape(SHAPES[words] || "circle", left + 8, base - 5, 6), fill: "none", stroke: "#0b5d8a", "stroke-width": 2 }));
    svg.append(node("text", { x: left + (words === AIM ? 0 : 20), y: base }, words));
  }
}

function aim(state) {
  if (!state.aim) return "";
  const [low, high] = state.aim, value = state.posture.value;
  const place = value === null ? "" : value < low ? "below " : value > high ? "above " : "in ";
  return `${place}aim ${minus(low)} to ${minus(high)}`;
}

function show(state) {
  document.title = `${state.golfer}: ${state.posture.label}`;
  put("who", `Golfer ${state.golfer}` + (state.phase ? `, ${state.phase}` : "") + (state.club ? `, ${state.club}` : ""));
  put("what", [state.lesson, `at ${state.event}`, state.cue && `cue: ${state.cue}`].filter(Boolean).join(" \u00b7 "));
  const trouble = byId("trouble"), problems = state.last ? state.last.problems : [];
  trouble.hidden = !problems.length;
  trouble.textContent = problems.length ? `${state.last.swing}: ${problems.join("; ")}` : "";
  number("posture", state.posture, "\u2013", state.own);
  number("outcome", state.outcome, "\u2013", state.own);
  put("posture-aim", aim(state));
  put("shown", state.shown || `the first summary comes after ${state.until_next} more swing${state.until_next === 1 ? "" : "s"}`);
  put("progress", state.progress);
  strip(state);
  list("files", [...state.waiting, ...state.refused]);
  list("messages", state.messages);
  put("caution", state.caution);
  const golfers = byId("key-1 to 9");
  if (golfers) golfers.textContent = "golfer: " + state.golfers.map((code, i) => `${i + 1} ${code}`).join(", ");
}

function part(name, text, parent) {
  const made = document.createElement(name);
  made.textContent = text; parent.append(made);
  return made;
}
function table(rows, parent) {
  const [head, ...body] = rows, made = part("table", "", parent);
  const top = part("tr", "", part("thead", "", made)), inside = part("tbody", "", made);
  for (const cell of head) part("th", cell, top).scope = "col";
  for (const row of body) {
    const line = part("tr", "", inside);
    row.forEach((cell, i) => { const one = part(i ? "td" : "th", cell, line); if (!i) one.scope = "row"; });
  }
}

async function season(state) {
  const holder = byId("season");
  holder.hidden = !state.season;
  if (!state.season) return;
  const answer = await fetch("season");
  if (!answer.ok) return;
  const found = await answer.json();
  holder.replaceChildren();
  part("h2", `Season of golfer ${state.golfer}`, holder);
  for (const one of found.sessions) { part("h3", one.name, holder); table(one.table, holder); }
  for (const one of found.lessons) {
    part("h3", one.reading ? `${one.name}: ${one.reading}` : one.name, holder);
    part("p", one.planned, holder); part("p", one.made, holder);
    if (one.table[0].length) table(one.table, holder);
    if (one.next.length) part("h3", "Next session", holder);
    for (const line of one.next) part("p", line, holder);
  }
}

async function viewer(state) {
  const name = state.last ? `${state.golfer}/${state.last.swing}` : "";
  if (name === drawn) return;
  drawn = name;
  const answer = await fetch("swing");
  if (!answer.ok) return;
  const { element } = await answer.json();
  const holder = byId("swing");
  holder.innerHTML = element; // built and escaped by swinglab itself
  if (window.swinglabMount) holder.querySelectorAll(".swinglab-viewer-here").forEach((root) => window.swinglabMount(root));
}

async function refresh() {
  try {
    const answer = await fetch("state");
    const state = await answer.json();
    if (state.version !== version) { version = state.version; show(state); await season(state); await viewer(state); }
    byId("messages").dataset.lost = "";
  } catch (fault) {
    list("messages", ["swinglab does not answer. Start it again with the same command. Nothing that was measured is lost."]);
  }
}

// Keys are sent one after the other, so that an undo never arrives before the mark that it undoes.
let pressed = Promise.resolve();
function press(key) { pressed = pressed.then(() => send(key)).catch(() => {}); }

async function send(key) {
  const answer = await fetch("key", { method: "POST", body: JSON.stringify({ key }) });
  if (answer.ok) { const state = await answer.json(); version = state.version; show(state); await season(state); await viewer(state); }
}

document.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey || event.repeat) return;
  if (event.target.closest && event.target.closest("#swing")) return;
  if (event.key in KEYS || /^[1-9]$/.test(event.key)) { event.preventDefault(); press(event.key); }
});
for (const [key, words] of Object.entries(KEYS)) {
  const pair = document.createElement("div"), term = document.createElement("dt"), text = document.createElement("dd");
  term.textContent = key; text.textContent = words; text.id = `key-${key}`; pair.append(term, text); byId("keys").append(pair);
}
window.addEventListener("resize", () => { version = -1; });
refresh(); setInterval(refresh, 500);
