// Draws one moment of a swing on a plain canvas. Study frame: X to the target, Y up, Z from the golfer to the ball.

const VIEWS = {
  "face-on": { turn: 0, tilt: 0 },
  "down the line": { turn: 90, tilt: 0 },
  "above": { turn: 0, tilt: 90 },
};
const COLOURS = { lead: "#0173b2", trail: "#d55e00", trunk: "#3a3a3a", club: "#111111" };
const SECOND = "#9b4f96"; // the second of two overlaid swings, dashed besides
const PATH = "#6b6b6b";
const MARKED = "#00795a";

/** One swing over its float32 numbers; times in seconds from the file's first frame. */
class Swing {
  constructor(described, numbers) {
    Object.assign(this, described);
    this.numbers = numbers;
    this.last = (this.frames - 1) / this.rate_hz;
  }

  event(name) {
    return this.events.find((event) => event.name === name);
  }

  /** The number at `at + size * frame + i`, between frames by straight line; NaN where both sides lack it. */
  between(at, size, i, time) {
    const exact = Math.min(Math.max(time * this.rate_hz, 0), this.frames - 1);
    const frame = Math.floor(exact);
    const one = this.numbers[at + size * frame + i];
    const other = this.numbers[at + size * Math.min(frame + 1, this.frames - 1) + i];
    if (Number.isNaN(one) || Number.isNaN(other)) return exact - frame < 0.5 ? one : other;
    return one + (exact - frame) * (other - one);
  }

  triple(at, size, offset, time) {
    return [0, 1, 2].map((axis) => this.between(at, size, offset + axis, time));
  }

  point(index, time) {
    return this.triple(this.at, 3 * this.points, 3 * index, time);
  }

  value(time) {
    return this.quantity ? this.between(this.quantity.at, 1, 0, time) : NaN;
  }

  /** Lowest and highest X, Y, Z over all frames and points. */
  extent() {
    const low = [Infinity, Infinity, Infinity];
    const high = [-Infinity, -Infinity, -Infinity];
    const end = this.at + 3 * this.points * this.frames;
    for (let i = this.at; i < end; i++) {
      const axis = (i - this.at) % 3;
      if (this.numbers[i] < low[axis]) low[axis] = this.numbers[i];
      if (this.numbers[i] > high[axis]) high[axis] = this.numbers[i];
    }
    return { low, high };
  }
}

/** A view of a part of the canvas: turn about the vertical, tilt toward the view from above, degrees. */
class Camera {
  constructor(box, centre, scale, view, mirrored) {
    const turn = (view.turn * Math.PI) / 180;
    const tilt = (view.tilt * Math.PI) / 180;
    Object.assign(this, { box, centre, scale, mirrored });
    [this.cosTurn, this.sinTurn, this.cosTilt, this.sinTilt] = [
      Math.cos(turn), Math.sin(turn), Math.cos(tilt), Math.sin(tilt),
    ];
  }

  project([x, y, z]) {
    const [dx, dy, dz] = [x - this.centre[0], y - this.centre[1], z - this.centre[2]];
    // A left-hander as swung is the mirror image of the right-hander that the study frame holds, from every view.
    const right = (this.mirrored ? -1 : 1) * (this.cosTurn * dx + this.sinTurn * dz);
    const toward = -this.sinTurn * dx + this.cosTurn * dz;
    const up = this.cosTilt * dy - this.sinTilt * toward;
    return [this.box.x + this.box.width / 2 + this.scale * right, this.box.y + this.box.height / 2 - this.scale * up];
  }
}

function strokeLine(context, camera, points, { colour, width, dash = [], opacity = 1 }) {
  context.save();
  context.strokeStyle = colour;
  context.lineWidth = width;
  context.globalAlpha = opacity;
  context.setLineDash(dash);
  context.lineCap = dash.length ? "butt" : "round";
  context.lineJoin = "round";
  context.beginPath();
  let isOpen = false;
  for (const point of points) {
    const [x, y] = camera.project(point);
    if (Number.isNaN(x) || Number.isNaN(y)) {
      isOpen = false;
    } else if (isOpen) {
      context.lineTo(x, y);
    } else {
      context.moveTo(x, y);
      isOpen = true;
    }
  }
  context.stroke();
  context.restore();
}

/** Text at a place; where `room` (px) is given and too small for it, its letters are set narrower. */
function writeText(context, text, x, y, { colour = "#222", size = 12, align = "left", bold = false, room } = {}) {
  context.save();
  context.font = `${bold ? "600 " : ""}${size}px system-ui, sans-serif`;
  context.textAlign = align;
  context.lineWidth = 3;
  context.strokeStyle = "rgba(255,255,255,0.85)";
  context.strokeText(text, x, y, room);
  context.fillStyle = colour;
  context.fillText(text, x, y, room);
  context.restore();
}

function drawGround(context, camera, swing) {
  const ball = swing.ball || [0, 0, 0];
  const line = [[ball[0] - 0.7, 0, ball[2]], [ball[0] + 0.9, 0, ball[2]]];
  strokeLine(context, camera, line, { colour: "#9a9a9a", width: 1, dash: [2, 4] });
  const [x, y] = camera.project(line[1]);
  writeText(context, "target", x, y - 6, { colour: "#6b6b6b", size: 11, align: "center" });
  if (swing.ball) {
    const [bx, by] = camera.project(ball);
    context.beginPath();
    context.arc(bx, by, Math.max(3, 0.0213 * camera.scale), 0, 2 * Math.PI);
    context.fillStyle = "#fff";
    context.fill();
    context.strokeStyle = "#111";
    context.lineWidth = 1.5;
    context.stroke();
  }
}

function drawPath(context, camera, swing, time, look) {
  if (swing.clubhead === null) return;
  const first = (swing.event("takeaway") || swing.event("address") || { time_s: 0 }).time_s;
  const last = (swing.event("finish") || { time_s: swing.last }).time_s;
  const run = (from, to) => {
    const points = [];
    if (to <= from) return points;
    for (let t = from; t < to; t += 1 / swing.rate_hz) points.push(swing.point(swing.clubhead, t));
    points.push(swing.point(swing.clubhead, to));
    return points;
  };
  const now = Math.min(Math.max(time, first), last);
  const top = Math.min(Math.max((swing.event("top") || { time_s: first }).time_s, first), last);
  const colour = look.colour || PATH;
  strokeLine(context, camera, run(now, last), { colour, width: 1, dash: [1, 4], opacity: 0.6 });
  strokeLine(context, camera, run(first, Math.min(now, top)), { colour, width: 1, dash: look.dash, opacity: 0.8 });
  strokeLine(context, camera, run(top, now), { colour, width: 2, dash: look.dash, opacity: 0.9 });
  context.fillStyle = colour;
  for (const event of swing.events) {
    const [x, y] = camera.project(swing.point(swing.clubhead, event.time_s));
    if (!Number.isNaN(x)) context.fillRect(x - 2.5, y - 2.5, 5, 5);
  }
}

function drawFigure(context, camera, swing, time, look) {
  for (const [a, b, part, passesOver] of swing.bones) {
    const width = passesOver ? 1.5 : { club: 3, trunk: 2 }[part] || 4;
    strokeLine(context, camera, [swing.point(a, time), swing.point(b, time)], {
      colour: look.colour || COLOURS[part], width, dash: look.dash,
    });
  }
  if (swing.head !== null) {
    const [x, y] = camera.project(swing.point(swing.head, time));
    context.beginPath();
    context.arc(x, y, 0.1 * camera.scale, 0, 2 * Math.PI);
    context.strokeStyle = look.colour || COLOURS.trunk;
    context.lineWidth = 2;
    context.stroke();
  }
  if (swing.clubhead !== null) {
    const [x, y] = camera.project(swing.point(swing.clubhead, time));
    context.beginPath();
    context.arc(x, y, 5, 0, 2 * Math.PI);
    context.fillStyle = look.colour || COLOURS.club;
    context.fill();
  }
}

/** Points on the arc from one direction to another about a corner, at a share of their length. */
function arcPoints(corner, one, other, share) {
  const minus = (p) => p.map((v, i) => v - corner[i]);
  const length = (v) => Math.hypot(...v);
  const [a, b] = [minus(one), minus(other)];
  const [la, lb] = [length(a), length(b)];
  const cosine = (a[0] * b[0] + a[1] * b[1] + a[2] * b[2]) / (la * lb);
  const angle = Math.acos(Math.min(1, Math.max(-1, cosine)));
  if (!(angle > 0.01) || angle > 3.13) return [];
  const radius = share * Math.min(la, lb);
  return Array.from({ length: 19 }, (_, k) => {
    const [wa, wb] = [Math.sin((1 - k / 18) * angle) / la, Math.sin((k / 18) * angle) / lb];
    return corner.map((c, i) => c + (radius * (wa * a[i] + wb * b[i])) / Math.sin(angle));
  });
}

function drawMark(context, camera, swing, time, look) {
  const mark = swing.quantity && swing.quantity.mark;
  if (!mark) return;
  const points = mark.at.map((at) => swing.triple(at, 3, 0, time));
  if (points.flat().some(Number.isNaN)) return;
  const colour = look.colour || MARKED;
  const body = { colour, width: 3, dash: look.dash };
  if (mark.kind === "angle") {
    strokeLine(context, camera, [points[0], points[1]], { colour, width: 2, dash: [5, 4] });
    strokeLine(context, camera, [points[0], points[2]], body);
    if (mark.exact) strokeLine(context, camera, arcPoints(...points, 0.7), { colour, width: 2 });
  } else {
    strokeLine(context, camera, points, body);
  }
}

function valueText(swing, time) {
  const value = swing.value(time);
  const decimals = swing.quantity.unit === "m" ? 2 : 1;
  return Number.isNaN(value) ? "missing" : `${value.toFixed(decimals)} ${swing.quantity.unit}`;
}

/** One panel: the ground, then each swing's path, figure and quantity. `shown` holds {swing, time, look}. */
function drawPanel(context, camera, shown, title) {
  context.save();
  context.beginPath();
  context.rect(camera.box.x, camera.box.y, camera.box.width, camera.box.height);
  context.clip();
  drawGround(context, camera, shown[0].swing);
  for (const { swing, time, look } of shown) drawPath(context, camera, swing, time, look);
  for (const { swing, time, look } of shown) drawFigure(context, camera, swing, time, look);
  for (const { swing, time, look } of shown) drawMark(context, camera, swing, time, look);
  let line = camera.box.y + 18;
  const room = camera.box.width - 20;
  const write = (text, colour) => {
    writeText(context, text, camera.box.x + 10, line, { colour, size: 13, bold: true, room });
    line += 18;
  };
  // The value stands below its swing's name and not at the body, where lines would run through it.
  shown.forEach(({ swing, time, look }, i) => {
    write(title[i].text, title[i].colour);
    if (swing.quantity) write(`${swing.quantity.label}: ${valueText(swing, time)}`, look.colour || MARKED);
  });
  context.restore();
}
