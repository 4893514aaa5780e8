// The viewer's controls and clock. The clock runs in the browser; a notebook only receives the time that is shown.

/** On a page narrower than this (px), two swings are drawn one above the other. */
const NARROW = 480;
const SPEEDS = [["full speed", 1], ["half speed", 0.5], ["a quarter", 0.25], ["a tenth", 0.1]];
const SOLID = { colour: null, dash: [] };
const DASHED = { colour: SECOND, dash: [7, 4] };
const KEYS_HELP =
  "Keys: space plays or pauses, left and right arrow step a frame, page up and page down go to the event before " +
  "or after, home and end to the ends, 1 2 3 choose the view, shift with an arrow turns it, plus and minus zoom.";

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
  constructor(root, layout, buffer, report = () => {}) {
    Object.assign(this, { root, report, view: { ...VIEWS["face-on"] }, zoom: 1, speed: 0.25, drawn: 0 });
    Object.assign(this, { playing: false, arrangement: "beside", isBodyOnly: false, isMirrored: false });
    root.classList.add("swinglab-viewer");
    root.tabIndex = -1;
    root.addEventListener("keydown", (event) => this.press(event));
    this.load(layout, buffer);
    this.watcher = new ResizeObserver(() => this.draw());
    this.watcher.observe(root);
  }

  /** Show other swings; view and arrangement stay, and so does the time if the first swing is the same. */
  load(layout, buffer) {
    this.pause();
    const before = this.swings && { swing: this.swings[0].swing, start: this.start, time: this.moment + this.zero(this.swings[0]) };
    const numbers = new Float32Array(buffer);
    this.swings = layout.swings.map((described) => new Swing(described, numbers));
    this.start = layout.start;
    this.setAlign(layout.align);
    this.moment = this.earliest;
    this.build();
    const first = this.swings[0];
    const opening = first.event(layout.start) || first.event("address") || { time_s: 0 };
    const stays = before && before.swing === first.swing && before.start === layout.start;
    this.jump((stays ? before.time : opening.time_s) - this.zero(first));
  }

  setAlign(name) {
    const shared = this.swings[0].events.map((e) => e.name).filter((n) => this.swings.every((s) => s.event(n)));
    this.align = shared.includes(name) ? name : shared[0];
    this.earliest = Math.min(...this.swings.map((s) => -this.zero(s)));
    this.latest = Math.max(...this.swings.map((s) => s.last - this.zero(s)));
    this.shared = shared;
  }

  /** Time of the alignment event in a swing (s from its first frame); it is shown as time 0. */
  zero(swing) {
    return this.align ? swing.event(this.align).time_s : 0;
  }

  // --- elements of the page --------------------------------------------------------------------------------

  build() {
    const button = (words, onclick, more = {}) => make("button", { type: "button", onclick, ...more }, words);
    this.viewButtons = Object.keys(VIEWS).map((name) => button(name, () => this.choose(name), { "aria-pressed": "false" }));
    this.zoomButton = button("body only", () => this.zoomToBody(!this.isBodyOnly), {
      "aria-pressed": String(this.isBodyOnly), title: "As large as the body allows; club and path may be cut",
    });
    this.canvas = make("canvas", {
      tabindex: "0", role: "application", title: "Drag to turn the view. " + KEYS_HELP,
      "aria-label": `Swing viewer, ${this.swings.map((s) => s.title).join(" and ")}. ${KEYS_HELP}`,
    });
    this.playButton = button("Play", () => this.toggle(), { class: "play" });
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
    const save = [["Picture (PNG)", savePng], ["Picture (SVG)", saveSvg], ["Clip (WebM)", saveClip]]
      .map(([words, how]) => button(words, () => how(this)));
    this.root.replaceChildren(
      make("div", { class: "row", role: "group", "aria-label": "View" }, ...this.viewButtons, this.zoomButton, ...this.handBox()),
      this.canvas,
      make("div", { class: "row" }, this.playButton, make("div", { class: "rail" }, this.slider, this.ticks())),
      make("div", { class: "row" }, this.status),
      make("div", { class: "row" }, speed, this.eventChooser, ...this.pairChoosers()),
      make("div", { class: "row", role: "group", "aria-label": "Save" }, "Save:", ...save),
      this.spoken,
    );
    this.listenToCanvas();
    this.markView();
  }

  /** A labelled list; after a choice, keys control the viewer again. */
  chooser(words, options, chosen, onChoice) {
    const select = make("select", { onchange: () => { onChoice(select.value); this.canvas.focus({ preventScroll: true }); } },
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
      return make("span", { title: event.label, style: `left: calc(8px + ${share} * (100% - 16px))`, onclick: go });
    });
    return make("div", { class: "ticks", "aria-hidden": "true" }, ...marks);
  }

  handBox() {
    if (!this.swings.some((swing) => swing.isLeftHanded)) return [];
    const box = make("input", { type: "checkbox", onchange: () => { this.isMirrored = box.checked; this.draw(); } });
    box.checked = this.isMirrored;
    return [make("label", {}, box, " mirror left-handers to right-handed")];
  }

  pairChoosers() {
    if (this.swings.length < 2) return [];
    const labels = Object.fromEntries(this.swings[0].events.map((e) => [e.name, e.label]));
    const arrangement = this.chooser("Two swings", [["apart", "beside"], ["overlaid", "over"]],
      this.arrangement, (value) => { this.arrangement = value; this.draw(); });
    if (!this.shared.length) return [arrangement];
    const align = this.chooser("aligned in time at", this.shared.map((n) => [labels[n], n]), this.align, (name) => {
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
      this.canvas.focus({ preventScroll: true });
    });
    this.canvas.addEventListener("pointermove", (event) => {
      if (from) this.look(from.turn - (event.clientX - from.x) / 2, from.tilt + (event.clientY - from.y) / 2);
    });
    for (const name of ["pointerup", "pointercancel"]) this.canvas.addEventListener(name, () => { from = null; });
  }

  /** Keys work everywhere in the viewer, except in lists; on a button, space presses the button. */
  press(event) {
    // Keep these keys from the notebook; its commands with Ctrl or Command still reach it.
    if (!event.ctrlKey && !event.metaKey) event.stopPropagation();
    if (event.ctrlKey || event.metaKey || event.altKey || event.target.tagName === "SELECT") return;
    if (event.key === " " && ["BUTTON", "INPUT"].includes(event.target.tagName) && event.target !== this.slider) return;
    const step = 1 / this.swings[0].rate_hz;
    const turns = { ArrowLeft: [10, 0], ArrowRight: [-10, 0], ArrowUp: [0, 10], ArrowDown: [0, -10] };
    const keys = {
      ArrowLeft: () => this.jump(this.moment - step),
      ArrowRight: () => this.jump(this.moment + step),
      Home: () => this.jump(this.earliest),
      End: () => this.jump(this.latest),
      PageUp: () => this.step(-1),
      PageDown: () => this.step(1),
    };
    const still = { "+": () => this.zoomBy(1.15), "=": () => this.zoomBy(1.15), "-": () => this.zoomBy(1 / 1.15) };
    Object.keys(VIEWS).forEach((name, i) => { still[String(i + 1)] = () => this.choose(name); });
    if (event.key === " ") this.toggle();
    else if (event.shiftKey && turns[event.key]) {
      this.look(this.view.turn + turns[event.key][0], this.view.tilt + turns[event.key][1]);
    } else if (still[event.key]) still[event.key]();
    else if (keys[event.key]) { this.pause(); keys[event.key](); } else return;
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

  zoomBy(factor) {
    this.zoom = Math.min(4, Math.max(0.5, this.zoom * factor));
    this.draw();
  }

  zoomToBody(isBodyOnly) {
    Object.assign(this, { isBodyOnly, zoom: 1 });
    this.zoomButton.setAttribute("aria-pressed", String(isBodyOnly));
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
    this.show();
    this.speak();
  }

  /** Go to the event before (-1) or after (1) the time shown. */
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
    if (!this.playing || now - (this.reportedAt || 0) > 100) {
      this.reportedAt = now;
      const swing = this.swings[0];
      const here = this.eventHere();
      this.report(Math.min(Math.max(this.moment + this.zero(swing), 0), swing.last), here ? here.name : "");
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
    const event = here && here.name !== this.align ? ` (${here.label})` : "";
    return `${time}${event}${this.valueWords()}`;
  }

  /** Text with the value of the quantity in each swing and, for two swings, the difference. */
  valueWords() {
    const measured = this.swings.filter((s) => s.quantity);
    if (!measured.length) return "";
    const own = (s) => s.value(this.moment + this.zero(s));
    const name = (s) => (this.swings.length > 1 ? `${s.swing}: ` : "");
    const texts = measured.map((s) => `${name(s)}${valueText(s, this.moment + this.zero(s))}`);
    const { label, unit, decimals } = measured[0].quantity;
    if (measured.length > 1) {
      const apart = own(measured[1]) - own(measured[0]);
      texts.push(`difference: ${Number.isNaN(apart) ? "missing" : `${apart > 0 ? "+" : ""}${numberText(apart, decimals)} ${unit}`}`);
    }
    return `; ${label}: ${texts.join(", ")}`;
  }

  // --- drawing ---------------------------------------------------------------------------------------------

  /** Width and height of the picture in pixels of the page. */
  size() {
    const width = Math.max(240, this.root.clientWidth - 2);
    const isPair = this.swings.length > 1 && this.arrangement === "beside";
    if (isPair && width < NARROW) return { width, height: Math.round(1.6 * width) };
    return { width, height: Math.round(Math.min(560, Math.max(320, (isPair ? 0.52 : 0.8) * width))) };
  }

  draw() {
    const { width, height } = this.size();
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
    this.drawWith(new CanvasPen(context), width, height);
    this.drawn += 1;
    this.root.dataset.drawn = this.drawn;
    this.root.dataset.moment = this.moment.toFixed(4);
    this.root.dataset.view = `${this.view.turn.toFixed(1)} ${this.view.tilt.toFixed(1)}`;
  }

  drawWith(pen, width, height) {
    const overlaid = this.arrangement === "over" || this.swings.length === 1;
    const groups = overlaid ? [this.swings] : this.swings.map((swing) => [swing]);
    const [columns, rows] = width < NARROW ? [1, groups.length] : [groups.length, 1];
    groups.forEach((swings, i) => {
      const size = { width: width / columns, height: height / rows };
      const panel = { x: columns > 1 ? i * size.width : 0, y: rows > 1 ? i * size.height : 0, ...size };
      const top = titleHeight(swings);
      const box = { ...panel, y: panel.y + top, height: size.height - top - 20 };
      const shown = swings.map((swing, k) => ({
        swing, time: this.moment + this.zero(swing), look: k ? DASHED : SOLID,
        mirrored: swing.isLeftHanded && !this.isMirrored,
      }));
      const titles = swings.map((swing, k) => `${swing.title}${k ? " (dashed)" : ""}`);
      const camera = new Camera(box, this.extentOf(swings), this.view, this.zoom);
      this.root.dataset.scale = camera.scale.toFixed(1);
      drawPanel(pen, panel, camera, shown, titles);
    });
  }

  /** Extent around the swings of one panel, with the size for all swings, so that all panels have the same scale. */
  extentOf(swings) {
    const over = (list) => [0, 1, 2].map((axis) => ({
      low: Math.min(...list.map((s) => s.extent(this.isBodyOnly).low[axis])),
      high: Math.max(...list.map((s) => s.extent(this.isBodyOnly).high[axis])),
    }));
    const [own, all] = [over(swings), over(this.swings)];
    const half = own.map((_, axis) => (all[axis].high - all[axis].low) / 2);
    const centre = own.map(({ low, high }) => (low + high) / 2);
    return { low: centre.map((c, axis) => c - half[axis]), high: centre.map((c, axis) => c + half[axis]) };
  }

  remove() {
    this.pause();
    this.watcher.disconnect();
    this.root.replaceChildren();
  }
}
