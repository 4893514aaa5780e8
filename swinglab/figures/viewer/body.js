// Drawing of a swing at one time: ground and ball, the clubhead's path, body and club, and the quantity that is shown.

const COLOURS = { lead: "#0173b2", trail: "#d55e00", trunk: "#3a3a3a", club: "#111111" };
const SECOND = "#9b4f96"; // the second of two overlaid swings, which is also dashed
const PATH = "#6b6b6b";
const MARKED = "#00795a";

/** A number with a true minus sign and no signed zero. */
function numberText(value, decimals) {
  const text = value.toFixed(decimals);
  return (Number(text) === 0 ? text.replace("-", "") : text).replace("-", "\u2212");
}

function valueText(swing, time) {
  const value = swing.value(time);
  return Number.isNaN(value) ? "missing" : `${numberText(value, swing.quantity.decimals)} ${swing.quantity.unit}`;
}

function drawGround(pen, camera, { swing, mirrored }) {
  const at = (point) => camera.project(point, mirrored);
  const { low, high } = swing.extent(true);
  const ball = swing.ball || [0, 0, 0];
  const [near, far] = [Math.max(high[2], ball[2]) + 0.1, low[2] - 0.1];
  const corners = [[low[0] - 0.1, 0, far], [high[0] + 0.1, 0, far], [high[0] + 0.1, 0, near], [low[0] - 0.1, 0, near]];
  pen.area(corners.map(at), { fill: "#eef3ea", colour: "#8d9a85", width: 1.5 });
  const line = [[ball[0] - 0.45, 0, ball[2]], [ball[0] + 0.75, 0, ball[2]]];
  pen.line(line.map(at), { colour: "#7d7d7d", width: 1, dash: [2, 4] });
  const [x, y] = at(line[1]);
  pen.text("target", [x, y + (camera.sinTilt > 0.5 ? -6 : 14)], { colour: "#595959", size: 12, align: "center" });
  if (swing.ball) {
    pen.circle(at(ball), Math.max(3.5, 0.0213 * camera.scale), { fill: "#fff", colour: "#111", width: 1.5 });
  }
}

function drawPath(pen, camera, { swing, time, look, mirrored }) {
  if (swing.clubhead === null) return;
  const at = (t) => camera.project(swing.point(swing.clubhead, t), mirrored);
  const first = (swing.event("takeaway") || swing.event("address") || { time_s: 0 }).time_s;
  const last = (swing.event("finish") || { time_s: swing.last }).time_s;
  const run = (from, to) => {
    const points = [];
    if (to <= from) return points;
    for (let t = from; t < to; t += 1 / swing.rate_hz) points.push(at(t));
    points.push(at(to));
    return points;
  };
  const now = Math.min(Math.max(time, first), last);
  const top = Math.min(Math.max((swing.event("top") || { time_s: first }).time_s, first), last);
  const colour = look.colour || PATH;
  pen.line(run(now, last), { colour, width: 1, dash: [1, 4], opacity: 0.6 });
  pen.line(run(first, Math.min(now, top)), { colour, width: 1, dash: look.dash, opacity: 0.7 });
  pen.line(run(top, now), { colour, width: 1.5, dash: look.dash, opacity: 0.8 });
  for (const event of swing.events) pen.circle(at(event.time_s), 2, { fill: "#fff", colour, width: 1 });
}

/** Draw body and club, far parts first; trail limbs are hollow, so that they can be recognised without colour. */
function drawFigure(pen, camera, { swing, time, look, mirrored }) {
  const at = (index) => camera.project(swing.point(index, time), mirrored);
  const depth = (...indices) =>
    indices.reduce((sum, i) => sum + camera.nearness(swing.point(i, time)), 0) / indices.length;
  const limb = Math.max(4, 0.045 * camera.scale);
  const widths = { club: Math.max(2, 0.012 * camera.scale), trunk: Math.max(3, 0.03 * camera.scale) };
  const parts = swing.bones.map(([a, b, part, passesOver]) => ({
    depth: depth(a, b),
    draw() {
      const colour = look.colour || COLOURS[part];
      const width = passesOver ? 0.35 * limb : widths[part] || limb;
      pen.line([at(a), at(b)], { colour, width, dash: look.dash });
      if (part === "trail" && !passesOver && !look.dash.length) pen.line([at(a), at(b)], { colour: "#fff", width: width - 3 });
    },
  }));
  if (swing.trunk) {
    parts.push({
      depth: depth(...swing.trunk) - 0.02,
      draw: () => pen.area(swing.trunk.map(at), {
        fill: look.dash.length ? "rgba(155,79,150,0.10)" : "#d9d9d9", colour: look.colour || COLOURS.trunk, width: 2.5, dash: look.dash,
      }),
    });
  }
  if (swing.head !== null) {
    parts.push({
      depth: depth(swing.head),
      draw: () => pen.circle(at(swing.head), 0.105 * camera.scale, { fill: "#f2f2f2", colour: look.colour || COLOURS.trunk, width: 2.5 }),
    });
  }
  if (swing.head === null && swing.spine) {
    // The head was not captured: draw a dotted circle in line with the trunk, where the head would be.
    const [low, high] = swing.spine.map((index) => swing.point(index, time));
    const length = Math.hypot(...high.map((v, axis) => v - low[axis]));
    const crown = high.map((v, axis) => v + (0.2 * (v - low[axis])) / length);
    parts.push({
      depth: camera.nearness(crown),
      draw: () => pen.circle(camera.project(crown, mirrored), 0.105 * camera.scale, {
        fill: "#fff", colour: look.colour || "#8a8a8a", width: 1.5, dash: [2, 4],
      }),
    });
  }
  if (swing.clubhead !== null) {
    parts.push({
      depth: depth(swing.clubhead),
      draw: () => pen.circle(at(swing.clubhead), Math.max(4.5, 0.035 * camera.scale), {
        fill: look.colour || COLOURS.club, colour: "#fff", width: 1,
      }),
    });
  }
  parts.filter((part) => !Number.isNaN(part.depth)).sort((a, b) => a.depth - b.depth).forEach((part) => part.draw());
}

/** Points on the arc between two lines from a corner; its radius is a share of the shorter line. */
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

function drawMark(pen, camera, { swing, time, look, mirrored }) {
  const mark = swing.quantity && swing.quantity.mark;
  if (!mark) return;
  const points = mark.at.map((at) => swing.triple(at, 3, 0, time));
  if (points.flat().some(Number.isNaN)) return;
  const at = (list) => list.map((point) => camera.project(point, mirrored));
  const colour = look.colour || MARKED;
  const bright = (list, more) => {
    pen.line(at(list), { colour: "#fff", width: more.width + 3 });
    pen.line(at(list), { colour, ...more });
  };
  if (mark.kind === "angle") {
    bright([points[0], points[1]], { width: 2, dash: [5, 4] });
    bright([points[0], points[2]], { width: 3.5, dash: look.dash });
    if (mark.exact) pen.line(at(arcPoints(...points, 0.7)), { colour, width: 2 });
  } else {
    bright(points, { width: 3.5, dash: look.dash });
  }
}

const TITLE_LINE = 18;

/** Height of the titles above a panel (px): one line for each swing, two if a quantity is shown. */
function titleHeight(swings) {
  return 8 + TITLE_LINE * swings.reduce((lines, swing) => lines + (swing.quantity ? 2 : 1), 0);
}

/** Draw one panel: titles above; below them the ground, then the path, figure and quantity of each swing. */
function drawPanel(pen, panel, camera, shown, titles) {
  pen.within({ ...camera.box, height: camera.box.height + 18 }, () => {
    drawGround(pen, camera, shown[0]);
    for (const draw of [drawPath, drawFigure, drawMark]) shown.forEach((one) => draw(pen, camera, one));
  });
  let line = panel.y + TITLE_LINE;
  const write = (text, colour, bold) => {
    pen.text(text, [panel.x + 10, line], { colour, bold, room: panel.width - 20 });
    line += TITLE_LINE;
  };
  shown.forEach(({ swing, time, look }, i) => {
    write(titles[i], look.colour || "#222", true);
    if (swing.quantity) write(`${swing.quantity.label}: ${valueText(swing, time)}`, look.colour || MARKED, false);
  });
}
