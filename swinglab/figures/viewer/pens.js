// Two classes with the same methods: one draws on a canvas, the other writes SVG. Points are [x, y] in pixels.

const FONT = "system-ui, 'Segoe UI', 'DejaVu Sans', sans-serif";

/** Split points at missing ones; return the runs of at least two points. */
function runsOf(points) {
  const runs = [[]];
  for (const [x, y] of points) {
    if (Number.isNaN(x) || Number.isNaN(y)) runs.push([]);
    else runs[runs.length - 1].push([x, y]);
  }
  return runs.filter((run) => run.length > 1);
}

class CanvasPen {
  constructor(context) {
    this.context = context;
  }

  within(box, draw) {
    this.context.save();
    this.context.beginPath();
    this.context.rect(box.x, box.y, box.width, box.height);
    this.context.clip();
    draw();
    this.context.restore();
  }

  path(points, closed) {
    this.context.beginPath();
    for (const run of runsOf(points)) {
      run.forEach(([x, y], i) => (i ? this.context.lineTo(x, y) : this.context.moveTo(x, y)));
      if (closed) this.context.closePath();
    }
  }

  line(points, { colour, width, dash = [], opacity = 1 }) {
    const context = this.context;
    context.globalAlpha = opacity;
    context.strokeStyle = colour;
    context.lineWidth = width;
    context.setLineDash(dash);
    context.lineCap = dash.length ? "butt" : "round";
    context.lineJoin = "round";
    this.path(points, false);
    context.stroke();
    context.globalAlpha = 1;
    context.setLineDash([]);
  }

  area(points, { fill, colour, width, dash = [] }) {
    const context = this.context;
    this.path(points, true);
    context.fillStyle = fill;
    context.fill();
    if (!colour) return;
    context.strokeStyle = colour;
    context.lineWidth = width;
    context.lineJoin = "round";
    context.setLineDash(dash);
    context.stroke();
    context.setLineDash([]);
  }

  circle([x, y], radius, { fill, colour, width = 1, dash = [] }) {
    if (Number.isNaN(x)) return;
    const context = this.context;
    context.setLineDash(dash);
    context.beginPath();
    context.arc(x, y, radius, 0, 2 * Math.PI);
    context.fillStyle = fill;
    context.fill();
    context.strokeStyle = colour;
    context.lineWidth = width;
    context.stroke();
    context.setLineDash([]);
  }

  /** Draw text; if it is wider than `room` (px), its letters are condensed. */
  text(text, [x, y], { colour = "#222", size = 13, align = "left", bold = false, room }) {
    const context = this.context;
    context.font = `${bold ? "600 " : ""}${size}px ${FONT}`;
    context.textAlign = align;
    context.lineWidth = 3;
    context.strokeStyle = "rgba(255,255,255,0.85)";
    context.strokeText(text, x, y, room);
    context.fillStyle = colour;
    context.fillText(text, x, y, room);
  }
}

/** Writes the same picture as SVG; `finish` returns the text of the file. */
class SvgPen {
  constructor(width, height) {
    Object.assign(this, { width, height, parts: [], clips: 0 });
  }

  static safe(text) {
    return String(text).replace(/[&<>"]/g, (sign) => `&#${sign.charCodeAt(0)};`);
  }

  static place(run) {
    return run.map(([x, y]) => `${x.toFixed(1)} ${y.toFixed(1)}`).join("L");
  }

  within(box, draw) {
    const name = `box${this.clips++}`;
    this.parts.push(
      `<clipPath id="${name}"><rect x="${box.x}" y="${box.y}" width="${box.width}" height="${box.height}"/></clipPath>`,
      `<g clip-path="url(#${name})">`);
    draw();
    this.parts.push("</g>");
  }

  look({ fill = "none", colour = "none", width = 1, dash = [], opacity = 1 }) {
    return `fill="${fill}" stroke="${colour}" stroke-width="${width}" stroke-linejoin="round" ` +
      `stroke-linecap="${dash.length ? "butt" : "round"}" stroke-dasharray="${dash.join(" ") || "none"}" opacity="${opacity}"`;
  }

  line(points, look) {
    for (const run of runsOf(points)) this.parts.push(`<path d="M${SvgPen.place(run)}" ${this.look(look)}/>`);
  }

  area(points, look) {
    for (const run of runsOf(points)) this.parts.push(`<path d="M${SvgPen.place(run)}Z" ${this.look(look)}/>`);
  }

  circle([x, y], radius, look) {
    if (Number.isNaN(x)) return;
    this.parts.push(`<circle cx="${x.toFixed(1)}" cy="${y.toFixed(1)}" r="${radius.toFixed(1)}" ${this.look(look)}/>`);
  }

  text(text, [x, y], { colour = "#222", size = 13, align = "left", bold = false }) {
    const anchor = { left: "start", center: "middle", right: "end" }[align];
    this.parts.push(`<text x="${x.toFixed(1)}" y="${y.toFixed(1)}" fill="${colour}" font-size="${size}" ` +
      `font-weight="${bold ? 600 : 400}" font-family="${FONT}" text-anchor="${anchor}">${SvgPen.safe(text)}</text>`);
  }

  finish() {
    return `<svg xmlns="http://www.w3.org/2000/svg" width="${this.width}" height="${this.height}" ` +
      `viewBox="0 0 ${this.width} ${this.height}"><rect width="100%" height="100%" fill="#fff"/>${this.parts.join("")}</svg>`;
  }
}
