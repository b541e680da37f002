// Curves and bars as SVG, with their content in words for those who cannot see them.

import { drawn, made } from "./made.js";
import { short, ticks } from "./section.js";

const HUES = ["--one", "--two", "--three", "--four", "--five", "--six"];
export const hue = (k) => `var(${HUES[k % HUES.length]})`;

// lines: {name, x, y, dots, hue, errors, dashed}; marks: {x | y, text, hue}; bands: {x0, x1 | y0, y1, hue}
export function plot({ lines, xTitle, yTitle, label, marks = [], bands = [], zero = true, wide = 560, high = 300, flip = false, padY = 0.08 }) {
  const room = { l: 50, r: 16, t: 14, b: 42 };
  const all = (name) => lines.flatMap((each) => Array.from(each[name])).filter(Number.isFinite);
  const xs = [...all("x"), ...marks.filter((m) => m.x !== undefined).map((m) => m.x)], ys = [...all("y"), ...marks.filter((m) => m.y !== undefined).map((m) => m.y)];
  let [x0, x1] = [Math.min(...xs), Math.max(...xs)], [y0, y1] = [Math.min(...ys), Math.max(...ys)];
  if (zero) { y0 = Math.min(0, y0); if (zero === "both") x0 = Math.min(0, x0); }
  if (x1 - x0 < 1e-9) { x0 -= 1; x1 += 1; }
  const spare = padY * (y1 - y0 || 1);
  y1 += spare; if (!zero) y0 -= spare;
  const X = (x) => room.l + ((x - x0) / (x1 - x0)) * (wide - room.l - room.r), Y = (y) => high - room.b - ((y - y0) / (y1 - y0)) * (high - room.t - room.b);
  const svg = drawn("svg", { viewBox: `0 0 ${wide} ${high}`, class: "plot", role: "img", "aria-label": label });
  for (const b of bands) svg.append(b.y0 === undefined
    ? drawn("rect", { x: X(Math.max(b.x0, x0)), width: Math.max(1, X(Math.min(b.x1, x1)) - X(Math.max(b.x0, x0))), y: room.t, height: high - room.t - room.b, class: "band", style: `fill:${b.hue}` })
    : drawn("rect", { x: room.l, width: wide - room.l - room.r, y: Y(b.y1), height: Math.max(1, Y(b.y0) - Y(b.y1)), class: "band", style: `fill:${b.hue}` }));
  for (const t of ticks(y0, y1, 6)) svg.append(drawn("line", { x1: room.l, x2: wide - room.r, y1: Y(t), y2: Y(t), class: "grid" }), drawn("text", { x: room.l - 7, y: Y(t) + 4, class: "tick", "text-anchor": "end" }, short(t)));
  for (const t of ticks(x0, x1, 8)) svg.append(drawn("line", { x1: X(t), x2: X(t), y1: high - room.b, y2: high - room.b + 4, class: "axis" }), drawn("text", { x: X(t), y: high - room.b + 17, class: "tick", "text-anchor": "middle" }, short(t)));
  svg.append(drawn("line", { x1: room.l, x2: wide - room.r, y1: high - room.b, y2: high - room.b, class: "axis" }));
  svg.append(drawn("text", { x: (room.l + wide - room.r) / 2, y: high - 6, class: "title", "text-anchor": "middle" }, xTitle), drawn("text", { x: 13, y: (high - room.b + room.t) / 2, class: "title", "text-anchor": "middle", transform: `rotate(-90 13 ${(high - room.b + room.t) / 2})` }, yTitle));
  for (const m of marks) {
    if (m.x !== undefined) svg.append(drawn("line", { x1: X(m.x), x2: X(m.x), y1: room.t, y2: high - room.b, class: "mark", style: `stroke:${m.hue}` }), drawn("text", { x: X(m.x) + (X(m.x) > wide - 110 ? -5 : 5), y: room.t + 10, class: "tick", "text-anchor": X(m.x) > wide - 110 ? "end" : "start" }, m.text));
    else svg.append(drawn("line", { x1: room.l, x2: wide - room.r, y1: Y(m.y), y2: Y(m.y), class: "mark", style: `stroke:${m.hue}` }), drawn("text", { x: wide - room.r - 3, y: Y(m.y) - 4, class: "tick", "text-anchor": "end" }, m.text));
  }
  lines.forEach((each, k) => {
    const colour = each.hue || hue(k), pts = Array.from(each.x, (x, i) => [x, each.y[i]]);
    if (!each.dots) svg.append(drawn("path", { d: path(pts, X, Y), class: each.dashed ? "curve dashed" : "curve", style: `stroke:${colour}` }));
    if (each.dots) pts.forEach(([x, y], i) => {
      if (!Number.isFinite(y)) return;
      const e = each.errors && each.errors[i];
      if (e) svg.append(drawn("line", { x1: X(x), x2: X(x), y1: Y(y - e), y2: Y(y + e), class: "error", style: `stroke:${colour}` }));
      svg.append(drawn("circle", { cx: X(x), cy: Y(y), r: each.radius || 3.6, class: each.hollow && each.hollow[i] ? "hollow" : "dot", style: each.hollow && each.hollow[i] ? `stroke:${colour}` : `fill:${colour}` }));
    });
  });
  const named = lines.filter((each) => each.name);
  const legend = named.length > 1 ? made("ul", { class: "legend" }, ...lines.map((each, k) => [each, k]).filter(([each]) => each.name).map(([each, k]) => made("li", {}, made("i", { class: each.dashed ? "dashed" : "", style: `border-color:${each.hue || hue(k)}` }), each.name))) : null;
  return made("figure", { class: "chart" }, svg, ...(legend ? [legend] : []));
}

function path(points, X, Y) {
  let d = "", pen = false;
  for (const [x, y] of points) { if (!Number.isFinite(y)) { pen = false; continue; } d += `${pen ? "L" : "M"}${X(x).toFixed(1)} ${Y(y).toFixed(1)}`; pen = true; }
  return d;
}

export function bars(rows) {
  const most = Math.max(...rows.flatMap((row) => [row.value || 0, row.high || 0]), 1e-9);
  return made("ol", { class: "bars", "aria-label": "Flow ceilings" }, ...rows.map((row, k) => made("li", {},
    made("span", { class: "bar-name" }, row.name),
    made("span", { class: "bar-room" },
      made("span", { class: "bar-fill", style: `width:${(100 * (row.value || 0)) / most}%;background:${hue(k)}` }),
      row.low !== undefined && row.low !== null ? made("span", { class: "whisker", style: `left:${(100 * row.low) / most}%;width:${(100 * (row.high - row.low)) / most}%` }) : null),
    made("span", { class: "bar-value" }, row.value ? `${row.value.toFixed(1)} mm³/s` : "none", row.note ? made("small", {}, row.note) : null))));
}
