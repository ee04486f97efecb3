// Curves in the frame that the program has drawn.

const SVG = "http://www.w3.org/2000/svg";
const plot = document.getElementById("chart");
const lines = plot.querySelector(".lines");
const { frame, frequencies } = data;
const lowest = frequencies[0];
const span = Math.log(frequencies[frequencies.length - 1] / lowest);

const across = (f) => frame.left + (Math.log(f / lowest) / span) * frame.width;
// The near axis, or the one that shows every state.
let [bottom, top] = frame.axes[0];
const down = (db) => frame.top + ((top - db) / (top - bottom)) * frame.height;

/** Changes over to the axis on which these curves are seen: the near one, unless a curve that sounds would be lost under it. */
const fit = (curves) => {
  const [low, high] = frame.axes[0];
  const lost = curves.some(({ values }) => {
    const most = Math.max(...values.map((db) => db ?? -Infinity));
    return most > -Infinity && most < low + (high - low) / 3;
  });
  const wanted = lost ? 1 : 0;
  [bottom, top] = frame.axes[wanted];
  plot.querySelectorAll(".axes").forEach((axes, i) => axes.toggleAttribute("hidden", i !== wanted));
};

const drawn = (name, attributes) => {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  return made;
};

/** The curve in pieces: cut where it is silent and below the frame. */
const path = (values) => {
  let d = "";
  let pen = false;
  values.forEach((db, i) => {
    const inside = db !== null && db >= bottom && db <= top;
    if (inside) d += `${pen ? "L" : "M"}${across(frequencies[i]).toFixed(1)} ${down(db).toFixed(1)}`;
    pen = inside;
  });
  return d;
};

const swatch = (cls) => {
  const svg = drawn("svg", { class: "swatch", viewBox: "0 0 46 8", "aria-hidden": "true" });
  svg.append(drawn("path", { class: `curve ${cls}`, d: "M1 4H45" }));
  return svg;
};

/** Draws curves ({cls, values, peak}), the first on top, and where they are read. */
const draw = (curves, at) => {
  fit(curves);
  const parts = [];
  for (const curve of [...curves].reverse()) {
    const d = path(curve.values);
    if (d) parts.push(drawn("path", { class: `curve ${curve.cls}`, d }));
  }
  for (const curve of curves) {
    if (curve.peak && curve.peak[1] >= bottom) {
      parts.push(drawn("circle", { class: curve.cls, cx: across(curve.peak[0]), cy: down(curve.peak[1]), r: 3.5 }));
    }
  }
  const x = across(frequencies[at]);
  parts.push(drawn("path", { class: "reading", d: `M${x} ${frame.top}V${frame.top + frame.height}` }));
  for (const curve of curves) {
    const db = curve.values[at];
    if (db !== null && db >= bottom) parts.push(drawn("circle", { class: `read ${curve.cls}`, cx: x, cy: down(db), r: 4.5 }));
  }
  lines.replaceChildren(...parts);
};

/** Index of the frequency under a pointer. */
const under = (event) => {
  const box = plot.getBoundingClientRect();
  const wide = plot.viewBox.baseVal.width;
  const x = ((event.clientX - box.left) / box.width) * wide;
  const share = (x - frame.left) / frame.width;
  return Math.round(Math.min(1, Math.max(0, share)) * (frequencies.length - 1));
};
