// Shows the name of the swing under the pointer or reached by the arrow keys; a click or Enter chooses it.

const REACH = 14; // largest distance (px) between the pointer and a mark that counts as pointing at it

class PointPicture {
  /** `root` holds an img; `points` are [swing, golfer, across, down, words]; `choose` takes a swing's name. */
  constructor(root, points, choose) {
    Object.assign(this, { root, points, choose, at: -1 });
    root.classList.add("swinglab-points");
    root.tabIndex = 0;
    root.setAttribute("role", "group");
    root.setAttribute("aria-label", `Picture with ${points.length} swings: arrow keys go from mark to mark, Enter chooses`);
    this.ring = this.add("ring");
    this.label = this.add("label");
    this.spoken = this.add("spoken");
    this.spoken.hidden = false;
    this.spoken.setAttribute("aria-live", "polite");
    root.addEventListener("pointermove", (event) => this.point(this.nearest(event)));
    root.addEventListener("pointerleave", () => this.point(-1));
    root.addEventListener("click", (event) => this.pick(this.nearest(event)));
    root.addEventListener("keydown", (event) => this.press(event));
  }

  add(name) {
    const element = document.createElement("div");
    element.className = name;
    element.hidden = true;
    this.root.append(element);
    return element;
  }

  nearest(event) {
    const box = this.root.querySelector("img").getBoundingClientRect();
    let [best, found] = [REACH, -1];
    this.points.forEach(([, , across, down], i) => {
      const away = Math.hypot(box.left + across * box.width - event.clientX, box.top + down * box.height - event.clientY);
      if (away < best) [best, found] = [away, i];
    });
    return found;
  }

  point(i) {
    if (i === this.at) return;
    this.at = i;
    this.ring.hidden = this.label.hidden = i < 0;
    if (i < 0) return;
    const [swing, golfer, across, down, words] = this.points[i];
    for (const element of [this.ring, this.label]) {
      element.style.top = `${100 * down}%`;
      element.style.left = element.style.right = "";
    }
    this.ring.style.left = `${100 * across}%`;
    if (across < 0.6) this.label.style.left = `calc(${100 * across}% + 14px)`;
    else this.label.style.right = `calc(${100 - 100 * across}% + 14px)`;
    this.label.textContent = `${golfer}, ${swing}: ${words}`;
    this.root.dataset.swing = swing;
  }

  pick(i) {
    if (i < 0) return;
    this.point(i);
    this.choose(this.points[i][0]);
  }

  press(event) {
    const step = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[event.key];
    if (step && this.points.length) {
      this.point((this.at + step + this.points.length) % this.points.length);
      this.spoken.textContent = this.label.textContent;
    } else if (event.key === "Enter" && this.at >= 0) this.pick(this.at);
    else if (event.key === "Escape") this.point(-1);
    else return;
    event.preventDefault();
    event.stopPropagation();
  }
}
