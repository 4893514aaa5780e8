// Pictures and clips of the viewer as files; they are created in the browser.

/** Save a file to the download folder of the browser. */
function handOver(blob, name) {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(blob);
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 10000);
}

function fileName(viewer, ending) {
  const plain = viewer.swings.map((s) => s.swing.replace(/[^\w-]+/g, "_")).join("_and_");
  return `${plain}.${ending}`;
}

function savePng(viewer) {
  viewer.canvas.toBlob((blob) => handOver(blob, fileName(viewer, "png")), "image/png");
}

function saveSvg(viewer) {
  const { width, height } = viewer.size();
  const pen = new SvgPen(width, height);
  viewer.drawWith(pen, width, height);
  handOver(new Blob([pen.finish()], { type: "image/svg+xml" }), fileName(viewer, "svg"));
}

/** Record the swing while it plays at the chosen speed, from 0.1 s before takeaway to 0.1 s after the finish. */
function saveClip(viewer) {
  if (typeof MediaRecorder === "undefined" || !viewer.canvas.captureStream) {
    viewer.status.textContent = "This browser cannot record a clip.";
    return;
  }
  viewer.pause();
  const swing = viewer.swings[0];
  const at = (name, other) => (swing.event(name) ? swing.event(name).time_s - viewer.zero(swing) : other);
  const end = Math.min(viewer.latest, at("finish", viewer.latest) + 0.1);
  const recorder = new MediaRecorder(viewer.canvas.captureStream(30), { mimeType: "video/webm" });
  const chunks = [];
  recorder.ondataavailable = (event) => chunks.push(event.data);
  recorder.onstop = () => handOver(new Blob(chunks, { type: "video/webm" }), fileName(viewer, "webm"));
  viewer.jump(Math.max(viewer.earliest, at("takeaway", viewer.earliest) - 0.1));
  recorder.start();
  viewer.toggle();
  const watch = () => {
    if (viewer.playing && viewer.moment < end) return requestAnimationFrame(watch);
    viewer.pause();
    recorder.stop();
  };
  requestAnimationFrame(watch);
}
