// The bench sheet: what is next, the mass, and what the weighings say so far. What is entered is tried until it is on disk.

import { askJson, nextNumber, Refused } from "./ask.js";
import { hue, plot } from "./charts.js";
import { byId, lights, made, say } from "./made.js";

const AGAIN = 3000; // until a failed entry is tried anew [ms]
let sheet = null, weighed = [], reduced = null, advice = null;
const waiting = JSON.parse(localStorage.getItem("waiting") || "[]"); // entries not yet on disk
const name = () => decodeURIComponent(location.hash.slice(1));
const settled = (whether) => { document.body.dataset.settled = whether ? "yes" : "no"; };

async function begin() {
  lights();
  const found = await askJson("bench/sheet", {});
  byId("sheets").replaceChildren(...found.sheets.map((each) => made("option", { value: each }, each)));
  byId("none").hidden = found.sheets.length > 0;
  if (!found.sheets.length) return;
  if (!found.sheets.includes(name())) location.replace(`#${encodeURIComponent(found.sheets[0])}`);
  byId("sheets").value = name();
  await open();
  send();
}

async function open() {
  const found = await askJson("bench/sheet", { name: name() });
  show(found);
  reduce();
}

function show(found) {
  ({ sheet, weighed } = found);
  for (const id of ["next-card", "rows-card", "curve-card"]) byId(id).hidden = false;
  const next = sheet.rows.find((row) => row.order === sheet.next);
  say("next-title", next ? `Next: number ${next.order}, ${sheet.left} left` : "All weighed");
  for (const [id, key] of [["flow", "flow"], ["length", "length"], ["purge", "purge"], ["speed", "speed"], ["time", "time"], ["expected", "expected"]]) say(id, next ? (id === "flow" ? Number(next.flow).toFixed(2) : next[key] || "-") : "-");
  for (const id of ["weigh", "skip", "big", "how"]) byId(id).hidden = !next;
  byId("cautions").replaceChildren(...sheet.cautions.map((text) => made("li", {}, text)));
  byId("rows").tBodies[0].replaceChildren(...sheet.rows.map(row));
  say("where", `Kept in ${sheet.file}; meltzone reduce ${sheet.file} gives the report.`);
  draw();
}

function row(each) {
  const change = () => { const text = prompt(`Mass of number ${each.order} [g]; empty for none`, each.mass); if (text !== null) enter(each.order, { mass: text }); };
  return made("tr", { class: each.order === sheet.next ? "now" : each.use ? "" : "out" }, made("th", { scope: "row" }, each.order), made("td", { class: "number" }, Number(each.flow).toFixed(2)), made("td", { class: "number" }, each.length), made("td", { class: "number" }, each.mass || "-"),
    made("td", {}, made("button", { type: "button", "aria-label": `Change the mass of number ${each.order}`, onclick: change }, "Edit"), made("button", { type: "button", onclick: () => enter(each.order, { use: each.use ? "no" : "yes" }), "aria-label": `${each.use ? "Leave out" : "Use"} number ${each.order}` }, each.use ? "Out" : "Use")));
}

function enter(order, changed) {
  waiting.push({ name: name(), order, ...changed });
  localStorage.setItem("waiting", JSON.stringify(waiting));
  return send();
}

let sending = false;
async function send() {
  if (sending) return;
  sending = true;
  byId("fault").hidden = true;
  try {
    while (waiting.length) {
      say("saved", "saving");
      const found = await askJson("bench/enter", waiting[0]);
      done();
      if (found.sheet.name === name()) show(found);
      say("saved", "on disk");
    }
    reduce();
  } catch (error) {
    if (error instanceof Refused) {
      done();
      byId("fault").hidden = false;
      byId("fault").textContent = error.message;
      say("saved", "not entered");
    } else {
      say("saved", `${waiting.length} not on disk yet: the program does not answer; trying again`);
      setTimeout(send, AGAIN);
    }
  }
  sending = false;
}
function done() { waiting.shift(); localStorage.setItem("waiting", JSON.stringify(waiting)); }

async function reduce() {
  settled(false);
  say("reducing", "reducing");
  try {
    const found = await askJson("bench/reduce", { name: name(), number: nextNumber() });
    if (!found) return;
    reduced = found; say("reducing", `95 %, ${found.resamples} resampled`);
  } catch (error) {
    reduced = null;
    say("reducing", "");
    advice = null;
    say("advice", error.error?.expected ? `Not enough yet: ${error.error.expected}.` : "");
  }
  draw();
  settled(true);
}

function draw() {
  const series = reduced ? reduced.series : [], lines = [], bands = [], marks = [], tiles = [];
  (series.length ? series : weighed).forEach((each, k) => {
    lines.push({ name: each.name, x: each.commanded, y: each.delivered, errors: each.random, dots: true, hollow: each.outliers, hue: hue(k) });
    if (!each.line) return;
    lines.push({ x: each.line[0], y: each.line[1], hue: hue(k) });
    bands.push({ x0: each.onset.low, x1: each.onset.high, hue: hue(k) });
    if (each.reached) bands.push({ y0: each.ceiling.low, y1: each.ceiling.high, hue: hue(k) });
    const told = (e) => `${e.low.toFixed(2)} to ${e.high.toFixed(2)}`;
    tiles.push(["onset", each.onset.value, told(each.onset)], [each.reached ? "ceiling" : "ceiling above", each.ceiling.value, each.reached ? told(each.ceiling) : ""]);
  });
  const most = Math.max(...(sheet ? sheet.rows.map((r) => Number(r.flow)) : [1]));
  lines.push({ name: "all of it", x: [0, most], y: [0, most], dashed: true, hue: "var(--quiet)" });
  byId("found").replaceChildren(...tiles.map(([what, value, told]) => made("div", {}, made("dt", {}, `${what} [mm³/s]`), made("dd", {}, made("b", {}, value.toFixed(2)), made("small", {}, told)))));
  byId("curve").replaceChildren(plot({ lines, bands, marks, xTitle: "commanded flow [mm³/s]", yTitle: "delivered [mm³/s]", zero: "both", label: `Delivered over commanded flow; ${tiles.map(([what, value, told]) => `${what} ${value.toFixed(2)}, ${told}`).join("; ")}` }));
  if (!series.length) { byId("more").hidden = true; return; }
  advice = series[0].advice;
  say("advice", advice.sentence);
  byId("more").hidden = !advice.count;
  byId("more").textContent = `Put ${advice.count} on the sheet`;
}

byId("weigh").addEventListener("submit", async (e) => {
  e.preventDefault();
  const text = byId("mass").value.trim();
  if (!text) return;
  await enter(sheet.next, { mass: text });
  if (byId("fault").hidden) byId("mass").value = "";
  byId("mass").focus();
});
byId("skip").addEventListener("click", () => enter(sheet.next, { use: "no" }));
byId("sheets").addEventListener("change", (e) => { location.hash = encodeURIComponent(e.target.value); });
byId("more").addEventListener("click", async () => { const found = await askJson("bench/add", { name: name(), flow: advice.flow, count: advice.count }); show(found); reduce(); });
window.addEventListener("hashchange", () => { reduced = null; open(); });
begin().catch((error) => { byId("none").hidden = false; byId("none").textContent = error.message; });
