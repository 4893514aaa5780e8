// All markers of one frame of a capture; a marker is picked by click or key, and its label is sent to Python.

const NEAR_PX = 16;
const PICKED = "#b3261e";
const PICK_HELP =
  "Keys: left and right arrow pick the marker before or after, 1 2 3 choose the view, shift with an arrow turns it, " +
  "plus and minus zoom.";

/** A label without the subject before its colon. */
function bareLabel(label) {
  return label.slice(label.lastIndexOf(":") + 1);
}

class MarkerPicker {
  constructor(root, model) {
    Object.assign(this, { root, model, view: { ...VIEWS["face-on"] }, zoom: 1 });
    root.classList.add("swinglab-viewer");
    const button = (words, onclick) => make("button", { type: "button", onclick }, words);
    this.viewButtons = Object.keys(VIEWS).map((name) => button(name, () => this.look(VIEWS[name].turn, VIEWS[name].tilt)));
    this.canvas = make("canvas", {
      tabindex: "0", role: "application", "aria-label": `Markers of a capture. ${PICK_HELP}`,
      title: `Click a marker; drag to turn the view. ${PICK_HELP}`,
    });
    this.status = make("output", { "aria-live": "polite" });
    root.append(
      make("div", { class: "row", role: "group", "aria-label": "View" }, ...this.viewButtons,
        button("larger", () => this.zoomBy(1.3)), button("smaller", () => this.zoomBy(1 / 1.3))),
      this.canvas, make("div", { class: "row" }, this.status));
    root.addEventListener("keydown", (event) => this.press(event));
    this.listen();
    this.watcher = new ResizeObserver(() => this.draw());
    this.watcher.observe(root);
    this.take();
  }

  /** Read the data from Python: positions [x, y, z] in metres, labels, names of landmarks, arrows. */
  take() {
    this.body = this.model.get("body");
    const low = [Infinity, Infinity, Infinity];
    const high = [-Infinity, -Infinity, -Infinity];
    for (const marker of this.body.markers) {
      marker.place.forEach((v, axis) => { low[axis] = Math.min(low[axis], v); high[axis] = Math.max(high[axis], v); });
    }
    this.extent = { low: low.map((v) => v - 0.15), high: high.map((v) => v + 0.15) };
    this.draw();
  }

  get picked() {
    return this.model.get("picked");
  }

  pick(label) {
    this.model.set("picked", label);
    this.model.save_changes();
    this.draw();
  }

  look(turn, tilt) {
    this.view = { turn: ((turn % 360) + 360) % 360, tilt: Math.min(90, Math.max(-20, tilt)) };
    this.draw();
  }

  zoomBy(factor) {
    this.zoom = Math.min(8, Math.max(0.5, this.zoom * factor));
    this.draw();
  }

  listen() {
    let from = null;
    this.canvas.addEventListener("pointerdown", (event) => {
      from = { x: event.clientX, y: event.clientY, moved: false, ...this.view };
      this.canvas.setPointerCapture(event.pointerId);
      this.canvas.focus({ preventScroll: true });
    });
    this.canvas.addEventListener("pointermove", (event) => {
      if (!from) return;
      const [dx, dy] = [event.clientX - from.x, event.clientY - from.y];
      if (Math.hypot(dx, dy) > 4) from.moved = true;
      if (from.moved) this.look(from.turn - dx / 2, from.tilt + dy / 2);
    });
    this.canvas.addEventListener("pointerup", (event) => {
      if (from && !from.moved) this.pickNear(event.offsetX, event.offsetY);
      from = null;
    });
    this.canvas.addEventListener("pointercancel", () => { from = null; });
  }

  pickNear(x, y) {
    const distances = this.body.markers.map((marker) => {
      const [px, py] = this.camera.project(marker.place, false);
      return [Math.hypot(px - x, py - y), marker.label];
    });
    distances.sort((a, b) => a[0] - b[0]);
    if (distances.length && distances[0][0] <= NEAR_PX) this.pick(distances[0][1]);
  }

  press(event) {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    event.stopPropagation();
    const turns = { ArrowLeft: [10, 0], ArrowRight: [-10, 0], ArrowUp: [0, 10], ArrowDown: [0, -10] };
    const views = Object.values(VIEWS);
    if (event.shiftKey && turns[event.key]) {
      this.look(this.view.turn + turns[event.key][0], this.view.tilt + turns[event.key][1]);
    } else if (event.key === "ArrowLeft" || event.key === "ArrowRight") {
      const labels = this.body.markers.map((marker) => marker.label);
      const step = event.key === "ArrowRight" ? 1 : -1;
      const here = labels.indexOf(this.picked);
      this.pick(labels[(Math.max(here, step < 0 ? 0 : -1) + step + labels.length) % labels.length]);
    } else if (event.key === "+" || event.key === "=") this.zoomBy(1.15);
    else if (event.key === "-") this.zoomBy(1 / 1.15);
    else if (views[Number(event.key) - 1]) this.look(views[Number(event.key) - 1].turn, views[Number(event.key) - 1].tilt);
    else return;
    event.preventDefault();
  }

  draw() {
    if (!this.body) return;
    const width = Math.max(240, this.root.clientWidth - 2);
    const height = Math.round(Math.min(560, Math.max(360, 0.8 * width)));
    const sharp = window.devicePixelRatio || 1;
    Object.assign(this.canvas, { width: Math.round(width * sharp), height: Math.round(height * sharp) });
    Object.assign(this.canvas.style, { width: `${width}px`, height: `${height}px` });
    const context = this.canvas.getContext("2d");
    context.setTransform(sharp, 0, 0, sharp, 0, 0);
    context.fillStyle = "#ffffff";
    context.fillRect(0, 0, width, height);
    const pen = new CanvasPen(context);
    this.camera = new Camera({ x: 0, y: 0, width, height }, this.extent, this.view, this.zoom);
    Object.values(VIEWS).forEach((view, i) => {
      this.viewButtons[i].setAttribute("aria-pressed", String(view.turn === this.view.turn && view.tilt === this.view.tilt));
    });
    this.drawArrows(pen);
    for (const [from, to] of this.body.lines) {
      pen.line([from, to].map((point) => this.camera.project(point, false)), { colour: "#b8b8b8", width: 3 });
    }
    this.drawMarkers(pen, width);
    const marker = this.body.markers.find((one) => one.label === this.picked);
    this.status.textContent = marker ? `${bareLabel(marker.label)}: ${marker.landmark || "no landmark yet"}` : "no marker picked";
    Object.assign(this.root.dataset, { picked: this.picked, view: `${this.view.turn} ${this.view.tilt}` });
    this.root.dataset.places = JSON.stringify(this.body.markers.map((one) =>
      [one.label, ...this.camera.project(one.place, false).map(Math.round)]));
  }

  drawArrows(pen) {
    for (const { words, from, to, dash } of this.body.arrows) {
      const [a, b] = [from, to].map((point) => this.camera.project(point, false));
      const length = Math.hypot(b[0] - a[0], b[1] - a[1]);
      if (length < 6) continue;
      const [ux, uy] = [(b[0] - a[0]) / length, (b[1] - a[1]) / length];
      const barb = (side) => [b[0] - 10 * ux + side * 5 * uy, b[1] - 10 * uy - side * 5 * ux];
      pen.line([a, b], { colour: "#444", width: 2, dash: dash ? [5, 4] : [] });
      pen.line([barb(1), b, barb(-1)], { colour: "#444", width: 2 });
      pen.text(words, [b[0] + 12 * ux, b[1] + 12 * uy + 4], { colour: "#333", size: 13, align: ux < -0.3 ? "right" : ux > 0.3 ? "left" : "center" });
    }
  }

  /** Markers assigned to a landmark are filled, others are rings; the picked one is larger and shows its label. */
  drawMarkers(pen, width) {
    const sorted = [...this.body.markers].sort((a, b) => this.camera.nearness(a.place) - this.camera.nearness(b.place));
    for (const marker of sorted) {
      const at = this.camera.project(marker.place, false);
      const isPicked = marker.label === this.picked;
      const colour = isPicked ? PICKED : marker.landmark ? COLOURS.lead : "#555";
      pen.circle(at, isPicked ? 8 : 5, { fill: marker.landmark ? colour : "#fff", colour, width: isPicked ? 3 : 2 });
    }
    const picked = sorted.find((marker) => marker.label === this.picked);
    if (!picked) return;
    const [x, y] = this.camera.project(picked.place, false);
    const isRight = x > 0.6 * width;
    pen.text(bareLabel(picked.label), [x + (isRight ? -14 : 14), y + 5], { colour: PICKED, bold: true, align: isRight ? "right" : "left" });
  }
}

/** Keep the keys of the lists next to the picker: a letter typed in one would otherwise be a notebook command. */
function keepKeysOfLists(root, tries = 50) {
  const output = root.closest(".jp-OutputArea-output");
  if (!output) {
    if (tries > 0) setTimeout(() => keepKeysOfLists(root, tries - 1), 100);
    return;
  }
  output.addEventListener("keydown", (event) => {
    if (event.target.tagName === "SELECT" && !event.ctrlKey && !event.metaKey) event.stopPropagation();
  });
}

function renderPicker({ model, el }) {
  const root = make("div");
  el.append(root);
  keepKeysOfLists(root);
  const picker = new MarkerPicker(root, model);
  const take = () => picker.take();
  const draw = () => picker.draw();
  model.on("change:body", take);
  model.on("change:picked", draw);
  return () => {
    model.off("change:body", take);
    model.off("change:picked", draw);
    picker.watcher.disconnect();
  };
}

export default { render: renderPicker };
