// The data of a swing, and the camera. Study frame: X to the target, Y up, Z from the golfer to the ball.

const VIEWS = {
  "face-on": { turn: 0, tilt: 0 },
  "down the line": { turn: 90, tilt: 0 },
  "above": { turn: 0, tilt: 90 },
};

/** One swing, which reads its data from an array of float32 numbers; times in seconds from the file's first frame. */
class Swing {
  constructor(described, numbers) {
    Object.assign(this, described);
    this.numbers = numbers;
    this.last = (this.frames - 1) / this.rate_hz;
    this.isLeftHanded = this.hand === "left";
  }

  event(name) {
    return this.events.find((event) => event.name === name);
  }

  /** The number at `at + size * frame + i`, linearly interpolated; next to a missing frame, that of the nearest frame. */
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

  /** Lowest and highest X, Y, Z of the body (or of body, club and ball) over all frames, with the ground. */
  extent(bodyOnly) {
    const key = bodyOnly ? "bodyExtent" : "wholeExtent";
    if (this[key]) return this[key];
    const low = [Infinity, 0, Infinity];
    const high = [-Infinity, -Infinity, -Infinity];
    const stretch = (axis, value) => {
      if (value < low[axis]) low[axis] = value;
      if (value > high[axis]) high[axis] = value;
    };
    const from = Math.floor(((this.event("address") || { time_s: 0 }).time_s) * this.rate_hz);
    const to = Math.ceil(((this.event("finish") || { time_s: this.last }).time_s) * this.rate_hz);
    for (let frame = Math.max(0, from - 10); frame < Math.min(this.frames, to + 10); frame++) {
      for (let index = 0; index < this.points; index++) {
        if (bodyOnly && this.club_points.includes(index)) continue;
        const place = this.at + 3 * (this.points * frame + index);
        for (let axis = 0; axis < 3; axis++) stretch(axis, this.numbers[place + axis]);
      }
    }
    if (!bodyOnly && this.ball) this.ball.forEach((value, axis) => stretch(axis, value));
    high[1] += 0.06; // the top of the head is above the middle of its markers
    this[key] = { low, high };
    return this[key];
  }
}

/** Projection on a box of the picture; `view` has turn about the vertical and tilt toward the view from above (deg). */
class Camera {
  constructor(box, extent, view, zoom) {
    const turn = (view.turn * Math.PI) / 180;
    const tilt = (view.tilt * Math.PI) / 180;
    this.box = box;
    this.centre = extent.low.map((v, axis) => (v + extent.high[axis]) / 2);
    [this.cosTurn, this.sinTurn, this.cosTilt, this.sinTilt] = [
      Math.cos(turn), Math.sin(turn), Math.cos(tilt), Math.sin(tilt),
    ];
    this.scale = Math.min(...this.fitting(extent)) * zoom;
  }

  /** Pixels per metre at which the extent fills the width and the height of the box in this view. */
  fitting({ low, high }) {
    const [sx, sy, sz] = low.map((v, axis) => high[axis] - v);
    const across = Math.abs(this.cosTurn) * sx + Math.abs(this.sinTurn) * sz;
    const deep = Math.abs(this.sinTurn) * sx + Math.abs(this.cosTurn) * sz;
    const upward = Math.abs(this.cosTilt) * sy + Math.abs(this.sinTilt) * deep;
    return [(this.box.width * 0.94) / across, (this.box.height * 0.94) / upward];
  }

  /** Pixels [x, y] of a point. `mirrored` shows a left-hander, who is mirrored in the study frame, as in reality. */
  project([x, y, z], mirrored) {
    const [dx, dy, dz] = [x - this.centre[0], y - this.centre[1], z - this.centre[2]];
    const right = (mirrored ? -1 : 1) * (this.cosTurn * dx + this.sinTurn * dz);
    const toward = -this.sinTurn * dx + this.cosTurn * dz;
    const up = this.cosTilt * dy - this.sinTilt * toward;
    return [this.box.x + this.box.width / 2 + this.scale * right, this.box.y + this.box.height / 2 - this.scale * up];
  }

  /** Position of a point along the line of sight (m), larger when nearer to the viewer; far points are drawn first. */
  nearness([x, y, z]) {
    const toward = -this.sinTurn * (x - this.centre[0]) + this.cosTurn * (z - this.centre[2]);
    return this.cosTilt * toward + this.sinTilt * (y - this.centre[1]);
  }
}
