// The viewer's controls and clock. The clock runs here, in the browser: only the moment shown is told to a notebook.

const SPEEDS = [["full speed", 1], ["half speed", 0.5], ["a quarter", 0.25], ["a tenth", 0.1]];
const SOLID = { colour: null, dash: [] };
const DASHED = { colour: SECOND, dash: [7, 4] };
const KEYS_HELP =
  "Keys: space plays or pauses, left and right arrow step a frame, page up and page down go to the event before " +
  "or after, home and end to the ends, 1 2 3 choose the view, shift with an arrow turns it.";

function make(tag, attributes = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else element.setAttribute(name, value);
  }
  element.append(...children);
  return element;
}

class Viewer {
  constructor(root, layout, buffer, told = () => {}) {
    Object.assign(this, { root, told, view: { ...VIEWS["face-on"] }, speed: 0.25, asSwung: false, drawn: 0 });
    this.playing = false;
    this.arrangement = "beside";
    root.classList.add("swinglab-viewer");
    // JupyterLab would take the arrow keys; its own commands with Ctrl or Command go through.
    root.addEventListener("keydown", (event) => {
      if (!event.ctrlKey && !event.metaKey) event.stopPropagation();
    });
    this.load(layout, buffer);
    this.watcher = new ResizeObserver(() => this.draw());
    this.watcher.observe(root);
  }

  /** Take other swings; view and arrangement stay, and the moment too where the first swing is the same. */
  load(layout, buffer) {
    this.pause();
    const before = this.swings && { swing: this.swings[0].swing, time: this.moment + this.zero(this.swings[0]) };
    const numbers = new Float32Array(buffer);
    this.swings = layout.swings.map((described) => new Swing(described, numbers));
    this.setAlign(layout.align);
    this.moment = this.earliest;
    this.build();
    const first = this.swings[0];
    const address = first.event("address") || { time_s: 0 };
    this.jump((before && before.swing === first.swing ? before.time : address.time_s) - this.zero(first));
  }

  setAlign(name) {
    const shared = this.swings[0].events.map((e) => e.name).filter((n) => this.swings.every((s) => s.event(n)));
    this.align = shared.includes(name) ? name : shared[0];
    this.earliest = Math.min(...this.swings.map((s) => -this.zero(s)));
    this.latest = Math.max(...this.swings.map((s) => s.last - this.zero(s)));
    this.shared = shared;
  }

  /** When, in a swing's own time, the moment 0 is. */
  zero(swing) {
    return this.align ? swing.event(this.align).time_s : 0;
  }

  // --- what stands in the page -----------------------------------------------------------------------------

  build() {
    this.viewButtons = Object.keys(VIEWS).map((name) =>
      make("button", { type: "button", "aria-pressed": "false", onclick: () => this.choose(name) }, name));
    this.canvas = make("canvas", {
      tabindex: "0", role: "application", "aria-label": `Swing viewer, ${this.swings.map((s) => s.title).join(" and ")}. ${KEYS_HELP}`,
      title: "Drag to turn the view. " + KEYS_HELP,
    });
    this.playButton = make("button", { type: "button", class: "play", onclick: () => this.toggle() }, "Play");
    this.slider = make("input", {
      type: "range", "aria-label": "Moment of the swing", min: this.earliest, max: this.latest,
      step: 1 / this.swings[0].rate_hz,
      oninput: () => { this.pause(); this.jump(Number(this.slider.value)); },
    });
    this.status = make("output", { "aria-live": "off" });
    this.spoken = make("div", { class: "spoken", "aria-live": "polite" });
    const speed = this.chooser("Speed", SPEEDS.map(([words, value]) => [words, String(value)]), String(this.speed),
      (value) => { this.speed = Number(value); });
    const events = this.swings[0].events.map((e) => [e.label, e.name]);
    this.eventChooser = this.chooser("Go to event", [["choose an event", ""], ...events], "", (name) => {
      if (name) { this.pause(); this.jump(this.swings[0].event(name).time_s - this.zero(this.swings[0])); }
    });
    const rows = [
      make("div", { class: "row", role: "group", "aria-label": "View" }, ...this.viewButtons, ...this.handBox()),
      this.canvas,
      make("div", { class: "row" }, this.playButton, make("div", { class: "rail" }, this.slider, this.ticks())),
      make("div", { class: "row" }, this.status),
      make("div", { class: "row" }, speed, this.eventChooser, ...this.pairChoosers()),
      this.spoken,
    ];
    this.root.replaceChildren(...rows);
    this.listenToCanvas();
    this.markView();
  }

  chooser(words, options, chosen, onChoice) {
    const select = make("select", { onchange: () => onChoice(select.value) },
      ...options.map(([text, value]) => make("option", { value }, text)));
    select.value = chosen;
    return make("label", {}, `${words} `, select);
  }

  ticks() {
    const span = this.latest - this.earliest || 1;
    const swing = this.swings[0];
    const marks = swing.events.map((event) => {
      const share = (event.time_s - this.zero(swing) - this.earliest) / span;
      const go = () => { this.pause(); this.jump(event.time_s - this.zero(swing)); };
      return make("button", {
        type: "button", tabindex: "-1", title: event.label, "aria-hidden": "true",
        style: `left: calc(8px + ${share} * (100% - 16px))`, onclick: go,
      });
    });
    return make("div", { class: "ticks" }, ...marks);
  }

  handBox() {
    if (!this.swings.some((swing) => swing.hand === "left")) return [];
    const box = make("input", { type: "checkbox", onchange: () => { this.asSwung = box.checked; this.draw(); } });
    box.checked = this.asSwung;
    return [make("label", {}, box, " left-handers as they swung (else mirrored to right-handed)")];
  }

  pairChoosers() {
    if (this.swings.length < 2) return [];
    const labels = Object.fromEntries(this.swings[0].events.map((e) => [e.name, e.label]));
    const arrangement = this.chooser("Two swings", [["side by side", "beside"], ["overlaid", "over"]],
      this.arrangement, (value) => { this.arrangement = value; this.draw(); });
    if (!this.shared.length) return [arrangement];
    const align = this.chooser("together in time at", this.shared.map((n) => [labels[n], n]), this.align, (name) => {
      const own = this.moment + this.zero(this.swings[0]);
      this.setAlign(name);
      this.build();
      this.jump(own - this.zero(this.swings[0]));
    });
    return [arrangement, align];
  }

  listenToCanvas() {
    let from = null;
    this.canvas.addEventListener("pointerdown", (event) => {
      from = { x: event.clientX, y: event.clientY, ...this.view };
      this.canvas.setPointerCapture(event.pointerId);
      this.canvas.focus();
    });
    this.canvas.addEventListener("pointermove", (event) => {
      if (from) this.look(from.turn - (event.clientX - from.x) / 2, from.tilt + (event.clientY - from.y) / 2);
    });
    for (const name of ["pointerup", "pointercancel"]) this.canvas.addEventListener(name, () => { from = null; });
    this.canvas.addEventListener("keydown", (event) => this.press(event));
  }

  press(event) {
    const step = 1 / this.swings[0].rate_hz;
    const turns = { ArrowLeft: [10, 0], ArrowRight: [-10, 0], ArrowUp: [0, 10], ArrowDown: [0, -10] };
    const keys = {
      " ": () => this.toggle(),
      ArrowLeft: () => this.jump(this.moment - step),
      ArrowRight: () => this.jump(this.moment + step),
      Home: () => this.jump(this.earliest),
      End: () => this.jump(this.latest),
      PageUp: () => this.step(-1),
      PageDown: () => this.step(1),
    };
    Object.keys(VIEWS).forEach((name, i) => { keys[String(i + 1)] = () => this.choose(name); });
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    if (event.shiftKey && turns[event.key]) {
      this.look(this.view.turn + turns[event.key][0], this.view.tilt + turns[event.key][1]);
    } else if (keys[event.key]) {
      if (event.key !== " ") this.pause();
      keys[event.key]();
    } else {
      return;
    }
    event.preventDefault();
  }

  // --- moving ----------------------------------------------------------------------------------------------

  choose(name) {
    this.look(VIEWS[name].turn, VIEWS[name].tilt);
  }

  look(turn, tilt) {
    this.view = { turn: ((turn % 360) + 360) % 360, tilt: Math.min(90, Math.max(-20, tilt)) };
    this.markView();
    this.draw();
  }

  markView() {
    Object.entries(VIEWS).forEach(([, view], i) => {
      const chosen = view.turn === this.view.turn && view.tilt === this.view.tilt;
      this.viewButtons[i].setAttribute("aria-pressed", String(chosen));
    });
  }

  toggle() {
    if (this.playing) return this.pause();
    if (this.moment >= this.latest - 1e-6) this.moment = this.earliest;
    this.playing = true;
    this.playButton.textContent = "Pause";
    let before = null;
    const tick = (now) => {
      if (!this.playing) return;
      if (before !== null) this.moment = Math.min(this.moment + (this.speed * (now - before)) / 1000, this.latest);
      before = now;
      this.show();
      if (this.moment >= this.latest) this.pause();
      else requestAnimationFrame(tick);
    };
    requestAnimationFrame(tick);
  }

  pause() {
    if (!this.playing) return;
    this.playing = false;
    this.playButton.textContent = "Play";
    this.speak();
  }

  /** To the event before (-1) or after (1) this moment. */
  step(direction) {
    const swing = this.swings[0];
    const times = swing.events.map((e) => e.time_s - this.zero(swing)).sort((a, b) => direction * (a - b));
    const next = times.find((t) => direction * (t - this.moment) > 1e-4);
    if (next !== undefined) this.jump(next);
  }

  jump(moment) {
    this.moment = Math.min(Math.max(moment, this.earliest), this.latest);
    this.show();
    if (!this.playing) this.speak();
  }

  show() {
    this.slider.value = this.moment;
    this.slider.setAttribute("aria-valuetext", this.words());
    this.status.textContent = this.words();
    this.draw();
    const now = performance.now();
    if (!this.playing || now - (this.toldAt || 0) > 100) {
      this.toldAt = now;
      const swing = this.swings[0];
      this.told(Math.min(Math.max(this.moment + this.zero(swing), 0), swing.last));
    }
  }

  speak() {
    this.spoken.textContent = this.words();
    const here = this.eventHere();
    this.eventChooser.querySelector("select").value = here ? here.name : "";
  }

  eventHere() {
    const swing = this.swings[0];
    const half = 0.5 / swing.rate_hz + 1e-6;
    return swing.events.find((e) => Math.abs(e.time_s - this.zero(swing) - this.moment) <= half);
  }

  words() {
    const swing = this.swings[0];
    const name = this.align ? swing.event(this.align).label : "the first frame";
    const here = this.eventHere();
    const away = Math.abs(this.moment);
    const time = away < 5e-4 ? `at ${name}` : `${away.toFixed(3)} s ${this.moment < 0 ? "before" : "after"} ${name}`;
    const values = this.swings
      .filter((s) => s.quantity)
      .map((s) => `${this.swings.length > 1 ? s.swing + ": " : ""}${valueText(s, this.moment + this.zero(s))}`);
    const told = values.length ? `; ${swing.quantity ? swing.quantity.label : "quantity"}: ${values.join(", ")}` : "";
    const event = here && here.name !== this.align ? ` (${here.label})` : "";
    return `${time}${event}${told}`;
  }

  // --- drawing ---------------------------------------------------------------------------------------------

  draw() {
    const width = Math.max(240, this.root.clientWidth - 2);
    const height = Math.round(Math.min(440, Math.max(260, 0.62 * width)));
    const sharp = window.devicePixelRatio || 1;
    if (this.canvas.width !== Math.round(width * sharp) || this.canvas.height !== Math.round(height * sharp)) {
      this.canvas.width = Math.round(width * sharp);
      this.canvas.height = Math.round(height * sharp);
      this.canvas.style.width = `${width}px`;
      this.canvas.style.height = `${height}px`;
    }
    const context = this.canvas.getContext("2d");
    context.setTransform(sharp, 0, 0, sharp, 0, 0);
    context.fillStyle = "#ffffff";
    context.fillRect(0, 0, width, height);
    const overlaid = this.arrangement === "over" || this.swings.length === 1;
    const panels = overlaid ? [this.swings] : this.swings.map((swing) => [swing]);
    panels.forEach((swings, i) => {
      const box = { x: (i * width) / panels.length, y: 0, width: width / panels.length, height };
      const shown = swings.map((swing, k) => ({
        swing, time: this.moment + this.zero(swing), look: k ? DASHED : SOLID,
      }));
      const title = swings.map((swing, k) => ({ text: `${swing.title}${k ? " (dashed)" : ""}`, colour: k ? SECOND : "#222" }));
      drawPanel(context, this.cameraFor(box, swings), shown, title);
    });
    this.drawn += 1;
    this.root.dataset.drawn = this.drawn;
    this.root.dataset.moment = this.moment.toFixed(4);
    this.root.dataset.view = `${this.view.turn.toFixed(1)} ${this.view.tilt.toFixed(1)}`;
  }

  cameraFor(box, swings) {
    const { low, high } = this.extentOf(swings);
    const all = this.extentOf(this.swings);
    const centre = low.map((v, axis) => (v + high[axis]) / 2);
    const size = all.low.map((v, axis) => all.high[axis] - v);
    // One scale for both swings and from every side: neither another view nor another swing changes a size.
    const scale = Math.min(box.width / Math.hypot(size[0], size[2]), box.height / size[1]) * 0.9;
    const mirrored = this.asSwung && swings.every((swing) => swing.hand === "left");
    return new Camera(box, centre, scale, this.view, mirrored);
  }

  extentOf(swings) {
    const own = swings.map((swing) => (swing.kept = swing.kept || swing.extent()));
    const over = (pick, end) => [0, 1, 2].map((axis) => pick(...own.map((extent) => extent[end][axis])));
    return { low: over(Math.min, "low"), high: over(Math.max, "high") };
  }

  remove() {
    this.pause();
    this.watcher.disconnect();
    this.root.replaceChildren();
  }
}

/** The viewer of an element written into a page, with its frames in base64 beside it. */
function mountFromPage(root) {
  const layout = JSON.parse(root.querySelector("script.layout").textContent);
  const letters = atob(root.querySelector("script.frames").textContent);
  const bytes = Uint8Array.from(letters, (letter) => letter.charCodeAt(0));
  return new Viewer(root, layout, bytes.buffer);
}

/** The viewer of a notebook: layout and frames come from Python once, the moment shown goes back. */
function render({ model, el }) {
  const root = make("div");
  el.append(root);
  const bytes = () => {
    const view = model.get("frames");
    return view.buffer.slice(view.byteOffset, view.byteOffset + view.byteLength);
  };
  const told = (time) => {
    model.set("time_s", time);
    model.save_changes();
  };
  const viewer = new Viewer(root, model.get("layout_of_frames"), bytes(), told);
  root.swinglabViewer = viewer;
  const reload = () => viewer.load(model.get("layout_of_frames"), bytes());
  const go = () => {
    viewer.pause();
    viewer.jump(model.get("asked_s") - viewer.zero(viewer.swings[0]));
  };
  model.on("change:frames", reload);
  model.on("change:asked_s", go);
  return () => {
    model.off("change:frames", reload);
    model.off("change:asked_s", go);
    viewer.remove();
  };
}

export default { render };
