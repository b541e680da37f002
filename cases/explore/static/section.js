// The section with the temperature field, drawn on a canvas: point to read, drag to zoom.

import { css, PACKED, STEPS } from "./scale.js";

const QUARTERS = [[0, 4, 8, 7], [4, 1, 5, 8], [8, 5, 2, 6], [7, 8, 6, 3]]; // of a nine-node cell
const TRIANGLES = QUARTERS.flatMap(([a, b, c, d]) => [[a, b, c], [a, c, d]]);
const LEFT = 40, RIGHT = 74, TOP = 10, BOTTOM = 34; // room for axes and scale [px]
const bytes = (text) => Uint8Array.from(atob(text), (c) => c.charCodeAt(0)).buffer;
export const floats = (text) => new Float32Array(bytes(text));

export function unpacked(field) {
  const Whole = field.wide ? Uint32Array : Uint16Array;
  const found = {
    ...field, r: floats(field.r), z: floats(field.z), t: floats(field.t), cells: new Whole(bytes(field.cells)),
    part: new Uint8Array(bytes(field.part)), outline: floats(field.outline),
    axis: Object.fromEntries(Object.entries(field.axis).map(([name, text]) => [name, floats(text)])),
  };
  found.reach = found.r.reduce((a, b) => Math.max(a, b), 0);
  found.top = found.z.reduce((a, b) => Math.max(a, b), 0);
  return found;
}

export class Section {
  constructor(canvas, probe) {
    Object.assign(this, { canvas, probe, field: null, view: null, way: "whole", mesh: false, point: null, box: null });
    this.context = canvas.getContext("2d");
    new ResizeObserver(() => { if (this.field) { this.fit(); this.draw(); } }).observe(canvas.parentElement);
    canvas.addEventListener("pointermove", (e) => this.pointed(e));
    canvas.addEventListener("pointerleave", () => { if (!this.box) this.read(null); });
    canvas.addEventListener("pointerdown", (e) => { canvas.setPointerCapture(e.pointerId); this.box = [e.offsetX, e.offsetY, e.offsetX, e.offsetY]; });
    canvas.addEventListener("pointerup", () => this.zoomed());
    canvas.addEventListener("pointercancel", () => { this.box = null; });
    canvas.addEventListener("dblclick", () => this.look("whole"));
    canvas.addEventListener("keydown", (e) => this.pressed(e));
    this.looked = () => {};
  }

  show(field, name) {
    this.field = unpacked(field);
    this.canvas.setAttribute("aria-label", name);
    if (this.way !== "zoom") this.view = null;
    this.fit();
    this.draw();
  }

  fit() { // as high as the section needs, within the window
    const { canvas, field } = this, wide = canvas.clientWidth - LEFT - RIGHT;
    const wanted = (wide * 1.04 * field.top) / (2.06 * field.reach) + TOP + BOTTOM;
    canvas.style.height = `${Math.round(Math.max(360, Math.min(wanted, 0.7 * window.innerHeight, 640)))}px`;
  }

  look(way) { this.way = way; this.view = null; this.read(null); this.draw(); this.looked(way); }

  get size() { return [this.canvas.clientWidth - LEFT - RIGHT, this.canvas.clientHeight - TOP - BOTTOM]; }

  frame() { // heights and radii that are seen [mm]
    const { field, way } = this;
    const [wide, high] = this.size;
    if (way === "passage") {
      const z = Math.min(field.top, field.melt_zone[1] + 2);
      return { r0: -1.5 * field.bore, r1: 1.5 * field.bore, z0: -0.02 * z, z1: z };
    }
    const mm = Math.max((2.06 * field.reach) / wide, (1.04 * field.top) / high);
    return { r0: (-mm * wide) / 2, r1: (mm * wide) / 2, z0: field.top / 2 - (mm * high) / 2, z1: field.top / 2 + (mm * high) / 2 };
  }

  draw() {
    const { canvas, context, field } = this;
    if (!field || !canvas.clientWidth) return;
    const ratio = Math.min(window.devicePixelRatio || 1, 2);
    const [cw, ch] = [Math.round(canvas.clientWidth * ratio), Math.round(canvas.clientHeight * ratio)];
    if (canvas.width !== cw || canvas.height !== ch) { canvas.width = cw; canvas.height = ch; if (this.way !== "zoom") this.view = null; }
    this.view ||= this.frame();
    this.ratio = ratio;
    const look = getComputedStyle(canvas);
    const ink = look.getPropertyValue("--ink"), quiet = look.getPropertyValue("--quiet"), font = look.fontFamily;
    context.setTransform(1, 0, 0, 1, 0, 0);
    context.clearRect(0, 0, cw, ch);
    this.raster();
    context.putImageData(this.image, Math.round(LEFT * ratio), Math.round(TOP * ratio));
    context.setTransform(ratio, 0, 0, ratio, 0, 0);
    context.save();
    context.beginPath();
    context.rect(LEFT, TOP, ...this.size);
    context.clip();
    if (this.mesh) this.edges(look.getPropertyValue("--mesh"));
    this.lines(look.getPropertyValue("--outline"));
    this.isoline(look.getPropertyValue("--isoline"));
    this.marked(ink);
    context.restore();
    this.axes(ink, quiet, font);
  }

  place(r, z) { // on the canvas [px]
    const { r0, r1, z0, z1 } = this.view, [wide, high] = this.size;
    return [LEFT + ((r - r0) / (r1 - r0)) * wide, TOP + ((z1 - z) / (z1 - z0)) * high];
  }

  raster() { // temperature and part of every pixel, then its colour
    const { field, view, ratio } = this;
    const w = Math.max(1, Math.round(this.size[0] * ratio)), h = Math.max(1, Math.round(this.size[1] * ratio));
    if (!this.image || this.image.width !== w || this.image.height !== h) {
      this.image = new ImageData(w, h);
      this.warm = new Float32Array(w * h);
      this.owner = new Uint8Array(w * h);
    }
    const { warm, owner } = this, { r, z, t, cells, part } = field;
    warm.fill(NaN);
    const kx = w / (view.r1 - view.r0), ky = h / (view.z1 - view.z0), n = cells.length / 9;
    const px = new Float32Array(r.length), mirrored = new Float32Array(r.length), py = new Float32Array(r.length);
    for (let i = 0; i < r.length; i++) { px[i] = (r[i] - view.r0) * kx - 0.5; mirrored[i] = (-r[i] - view.r0) * kx - 0.5; py[i] = (view.z1 - z[i]) * ky - 0.5; }
    for (let c = 0; c < n; c++) {
      for (const [i, j, k] of TRIANGLES) {
        const a = cells[9 * c + i], b = cells[9 * c + j], d = cells[9 * c + k];
        fill(px, a, b, d, c);
        fill(mirrored, a, b, d, c);
      }
    }
    function fill(x, a, b, d, c) {
      const xa = x[a], xb = x[b], xd = x[d], ya = py[a], yb = py[b], yd = py[d];
      const y0 = Math.max(0, Math.ceil(Math.min(ya, yb, yd) - 1e-3)), y1 = Math.min(h - 1, Math.floor(Math.max(ya, yb, yd) + 1e-3));
      if (y0 > y1) return;
      const x0 = Math.max(0, Math.ceil(Math.min(xa, xb, xd) - 1e-3)), x1 = Math.min(w - 1, Math.floor(Math.max(xa, xb, xd) + 1e-3));
      if (x0 > x1) return;
      const whole = (xb - xa) * (yd - ya) - (xd - xa) * (yb - ya);
      if (Math.abs(whole) < 1e-9) return;
      for (let y = y0; y <= y1; y++) {
        for (let at = x0; at <= x1; at++) {
          const v = ((at - xa) * (yd - ya) - (xd - xa) * (y - ya)) / whole, u = ((xb - xa) * (y - ya) - (at - xa) * (yb - ya)) / whole;
          if (v < -1e-4 || u < -1e-4 || v + u > 1.0001) continue;
          warm[y * w + at] = t[a] + v * (t[b] - t[a]) + u * (t[d] - t[a]);
          owner[y * w + at] = part[c];
        }
      }
    }
    const pixels = new Uint32Array(this.image.data.buffer), { least, most } = field, scale = (STEPS - 1) / Math.max(most - least, 1e-6);
    for (let i = 0; i < pixels.length; i++) pixels[i] = warm[i] === warm[i] ? PACKED[Math.max(0, Math.min(STEPS - 1, ((warm[i] - least) * scale + 0.5) | 0))] : 0;
  }

  strokes(pairs, colour, width) {
    const { context } = this;
    context.strokeStyle = colour; context.lineWidth = width; context.lineCap = "round";
    context.beginPath();
    for (const side of [1, -1]) for (const [ra, za, rb, zb] of pairs) { context.moveTo(...this.place(side * ra, za)); context.lineTo(...this.place(side * rb, zb)); }
    context.stroke();
  }

  lines(colour) {
    const { outline } = this.field, pairs = [];
    for (let i = 0; i < outline.length; i += 4) pairs.push(outline.subarray(i, i + 4));
    this.strokes(pairs, colour, 0.8);
  }

  edges(colour) {
    const { cells, r, z } = this.field, pairs = [];
    for (let c = 0; c < cells.length; c += 9) for (let k = 0; k < 4; k++) {
      const a = cells[c + k], b = cells[c + ((k + 1) % 4)];
      pairs.push([r[a], z[a], r[b], z[b]]);
    }
    this.strokes(pairs, colour, 0.5);
  }

  isoline(colour) { // where the polymer is at its flow temperature
    const { cells, part, parts, r, z, t, flow_temperature: level } = this.field, pairs = [], melted = parts.indexOf("polymer");
    for (let c = 0; c < part.length; c++) {
      if (part[c] !== melted) continue;
      for (const corners of TRIANGLES) {
        const nodes = corners.map((k) => cells[9 * c + k]), cut = [];
        for (let k = 0; k < 3; k++) {
          const a = nodes[k], b = nodes[(k + 1) % 3];
          if (t[a] < level !== t[b] < level) { const s = (level - t[a]) / (t[b] - t[a]); cut.push(r[a] + s * (r[b] - r[a]), z[a] + s * (z[b] - z[a])); }
        }
        if (cut.length === 4) pairs.push(cut);
      }
    }
    this.strokes(pairs, "rgba(0,0,0,.55)", 3.4);
    this.strokes(pairs, colour, 1.7);
  }

  marked(ink) {
    const { context, box, point } = this;
    if (box && Math.hypot(box[2] - box[0], box[3] - box[1]) > 4) {
      context.setLineDash([4, 3]); context.strokeStyle = ink; context.lineWidth = 1.2;
      context.strokeRect(Math.min(box[0], box[2]), Math.min(box[1], box[3]), Math.abs(box[2] - box[0]), Math.abs(box[3] - box[1]));
      context.setLineDash([]);
    }
    if (point) for (const [colour, width] of [["#000", 3], ["#fff", 1.4]]) {
      context.strokeStyle = colour; context.lineWidth = width;
      context.beginPath(); context.arc(point[0], point[1], 5, 0, 7); context.stroke();
    }
  }

  axes(ink, quiet, font) {
    const { context, view, field } = this, [wide, high] = this.size;
    context.font = `11px ${font}`; context.fillStyle = quiet; context.strokeStyle = quiet; context.lineWidth = 1;
    context.textAlign = "center"; context.textBaseline = "top";
    for (const r of ticks(view.r0, view.r1, wide / 70)) { const [x] = this.place(r, 0); context.fillText(short(Math.abs(r)), x, TOP + high + 5); line(context, x, TOP + high, x, TOP + high + 3); }
    context.textAlign = "right"; context.textBaseline = "middle";
    for (const z of ticks(view.z0, view.z1, high / 60)) { const [, y] = this.place(0, z); context.fillText(short(z), LEFT - 6, y); line(context, LEFT - 3, y, LEFT, y); }
    const stretched = (view.z1 - view.z0) / high / ((view.r1 - view.r0) / wide);
    context.textAlign = "left"; context.textBaseline = "bottom";
    context.fillText(stretched > 1.05 || stretched < 0.95 ? `mm; across ${stretched.toFixed(1)} times as along` : "mm", LEFT, TOP + high + BOTTOM);
    const x = LEFT + wide + 14, tall = Math.min(high, 300);
    for (let k = 0; k < tall; k++) { context.fillStyle = css(1 - k / (tall - 1)); context.fillRect(x, TOP + k, 12, 1.6); }
    context.fillStyle = quiet; context.textBaseline = "middle";
    for (const t of ticks(field.least, field.most, tall / 42)) { const y = TOP + tall * (1 - (t - field.least) / (field.most - field.least)); context.fillText(short(t), x + 17, y); }
    context.textBaseline = "top"; context.fillText("degC", x, TOP + tall + 7);
  }

  at(x, y) { // temperature and part there
    const w = this.image.width, i = Math.floor((x - LEFT) * this.ratio), j = Math.floor((y - TOP) * this.ratio);
    if (i < 0 || j < 0 || i >= w || j >= this.image.height) return null;
    const warm = this.warm[j * w + i];
    return Number.isNaN(warm) ? null : { warm, part: this.field.parts[this.owner[j * w + i]] };
  }

  pointed(e) {
    if (!this.field) return;
    if (this.box) { this.box[2] = e.offsetX; this.box[3] = e.offsetY; this.draw(); return; }
    this.read([e.offsetX, e.offsetY]);
  }

  read(point, keyed = false) {
    const found = point && this.at(...point);
    this.point = keyed ? point : null;
    this.probe.hidden = !found;
    if (keyed) this.draw();
    if (!found) return;
    this.probe.textContent = `${found.warm.toFixed(1)} degC, ${found.part === "polymer" ? "filament" : found.part}`;
    const room = this.canvas.clientWidth - this.probe.offsetWidth - 4;
    this.probe.style.left = `${Math.max(4, Math.min(point[0] + 14, room))}px`;
    this.probe.style.top = `${Math.max(4, point[1] - 34)}px`;
  }

  zoomed() {
    const box = this.box;
    this.box = null;
    if (!box) return;
    if (Math.abs(box[2] - box[0]) < 8 || Math.abs(box[3] - box[1]) < 8) { this.draw(); return; }
    const { r0, r1, z0, z1 } = this.view, [wide, high] = this.size;
    const r = (x) => r0 + ((x - LEFT) / wide) * (r1 - r0), z = (y) => z1 - ((y - TOP) / high) * (z1 - z0);
    this.view = { r0: r(Math.min(box[0], box[2])), r1: r(Math.max(box[0], box[2])), z0: z(Math.max(box[1], box[3])), z1: z(Math.min(box[1], box[3])) };
    this.way = "zoom"; this.read(null); this.draw(); this.looked("zoom");
  }

  pressed(e) {
    if (!this.field) return;
    const step = e.shiftKey ? 20 : 4, moves = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, -step], ArrowDown: [0, step] };
    const [wide, high] = this.size, middle = [LEFT + wide / 2, TOP + high / 2];
    if (e.key === "Escape") this.look("whole");
    else if (moves[e.key]) { const [x, y] = this.point || middle; this.read([x + moves[e.key][0], y + moves[e.key][1]], true); }
    else if (e.key === "+" || e.key === "-") {
      const { r0, r1, z0, z1 } = this.view, share = e.key === "+" ? 0.7 : 1 / 0.7, [x, y] = this.point || middle;
      const r = r0 + ((x - LEFT) / wide) * (r1 - r0), z = z1 - ((y - TOP) / high) * (z1 - z0);
      this.view = { r0: r + (r0 - r) * share, r1: r + (r1 - r) * share, z0: z + (z0 - z) * share, z1: z + (z1 - z) * share };
      this.way = "zoom"; this.draw(); this.looked("zoom");
    } else return;
    e.preventDefault();
  }
}

export function ticks(low, high, most) {
  const rough = (high - low) / Math.max(most, 1), power = 10 ** Math.floor(Math.log10(rough)), step = [1, 2, 5, 10].find((n) => n * power >= rough) * power;
  return Array.from({ length: Math.floor(high / step + 1e-9) - Math.ceil(low / step - 1e-9) + 1 }, (_, k) => (Math.ceil(low / step - 1e-9) + k) * step);
}
export const short = (v) => String(Number(v.toPrecision(4)));
const line = (context, ...p) => { context.beginPath(); context.moveTo(p[0], p[1]); context.lineTo(p[2], p[3]); context.stroke(); };
