// Start the viewer in a plain page or in a notebook.

/** Start the viewer in an element of a page; the element contains the frames in base64. */
function mountFromPage(root) {
  const layout = JSON.parse(root.querySelector("script.layout").textContent);
  const letters = atob(root.querySelector("script.frames").textContent);
  const bytes = Uint8Array.from(letters, (letter) => letter.charCodeAt(0));
  return new Viewer(root, layout, bytes.buffer);
}

/** Start the viewer in a notebook: layout and frames come from Python once, and the time shown is sent back. */
function render({ model, el }) {
  const root = make("div");
  el.append(root);
  const bytes = () => {
    const view = model.get("frames");
    return view.buffer.slice(view.byteOffset, view.byteOffset + view.byteLength);
  };
  const report = (time, event) => {
    model.set("time_s", time);
    model.set("event", event);
    model.save_changes();
  };
  const viewer = new Viewer(root, model.get("layout_of_frames"), bytes(), report);
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
