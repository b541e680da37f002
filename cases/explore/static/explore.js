// The page: what is changed is asked at once, drawn when it comes, and kept where it is worth it.

import { ask, askJson, nextNumber, Refused } from "./ask.js";
import { plot } from "./charts.js";
import { Form } from "./form.js";
import { fromLink, History, toCommand, toLink } from "./history.js";
import { Kept } from "./kept.js";
import { byId, lights, made, say } from "./made.js";
import { Section } from "./section.js";

const REST = 320; // after the last change the case's own mesh is solved [ms]
const LEVERS = 600; // and then, as long again, what a step of each number buys [ms]
const TYPING = 280; // a text is read when so long nothing was typed [ms]

let history, form, section, kept, shownAnswer = null, busy = false, wanted = null, rest = 0, typing = 0, changedAt = 0, asked = "";
const times = []; // from change to drawn [ms], to be looked at: data-times
const settled = (whether) => { document.body.dataset.settled = whether ? "yes" : "no"; };

async function begin() {
  const linked = fromLink(location.hash.slice(1));
  section = new Section(byId("section"), byId("probe"));
  section.looked = (way) => { byId("view-whole").setAttribute("aria-pressed", way === "whole"); byId("view-passage").setAttribute("aria-pressed", way === "passage"); };
  lights(() => section.draw());
  form = new Form(byId("form"), { move, settle, put, part, range });
  kept = new Kept(restore);
  let begun;
  try { begun = await askJson("form", { state: linked && { base: linked.base, typed: {} } }); }
  catch (error) { begun = await askJson("form", {}); fault(error); }
  bases(begun);
  history = new History(linked && linked.base === begun.base ? linked : { base: begun.base, typed: {} });
  form.build(begun, history.now.typed);
  listen();
  kept.load();
  refresh();
}

function bases(begun) {
  const group = (label, names) => made("optgroup", { label }, ...names.map((name) => made("option", { value: name }, name)));
  const { folder, examples } = begun.bases, all = [...folder, ...examples];
  const own = all.includes(begun.base) ? [] : [made("option", { value: begun.base }, begun.base)];
  byId("base").replaceChildren(...own, ...(folder.length ? [group("this folder", folder)] : []), group("examples", examples));
  byId("base").value = begun.base;
}

// What is changed

function move(key, text, sliding) {
  history.move(key, text);
  clearTimeout(typing);
  if (sliding) refresh(false); else typing = setTimeout(() => refresh(false), TYPING);
}
function settle() { clearTimeout(typing); if (history.settle()) refresh(); }
function put(key, text) { history.move(key, text); settle(); }
function part(name, there) {
  for (const key of Object.keys(history.now.typed)) if (key === name || key.startsWith(`${name}.`)) history.move(key, null);
  const begun = form.tables.get(name).table.present;
  if (there !== begun) history.move(name, there ? "{}" : "false");
  settle();
}
async function restore(state) {
  if (state.base !== history.now.base) await rebase(state.base);
  history.replace(state);
  refresh();
}
async function rebase(base) {
  const begun = await askJson("form", { state: { base, typed: {} } });
  bases(begun);
  form.build(begun, {});
}

function refresh(moved = true) {
  form.show(history.now.typed);
  byId("undo").disabled = !history.past.length;
  byId("redo").disabled = !history.future.length;
  const typed = Object.entries(history.now.typed);
  byId("changed").replaceChildren(...(typed.length ? [made("li", { class: "quiet" }, `Changed from ${history.now.base}:`)] : []), ...typed.map(([key, text]) => made("li", {}, made("button", { type: "button", title: `Put ${key} back`, onclick: () => put(key, null) }, `${key} = ${text}`, made("span", { "aria-hidden": "true" }, " ×")))));
  if (moved) window.history.replaceState(null, "", typed.length || history.now.base !== byId("base").options[0]?.value ? `#${toLink(history.now)}` : location.pathname);
  const text = JSON.stringify(history.now);
  if (text === asked && !document.body.classList.contains("stale")) return; // a slider that is let go
  asked = text;
  changedAt = performance.now();
  settled(false);
  clearTimeout(rest);
  solve(false);
}

// What is answered

async function solve(whole) {
  if (busy && !whole) { wanted = changedAt; if (busy !== "whole") return; }
  const mine = nextNumber(), since = changedAt;
  busy = whole ? "whole" : "quick";
  if (!whole) { wanted = null; say("state", "solving"); }
  try {
    const found = await askJson("answer", { state: history.now, number: mine, whole });
    if (found) {
      show(found);
      const took = performance.now() - since;
      requestAnimationFrame(() => { if (!whole && since === changedAt) { times.push(Math.round(performance.now() - since)); document.body.dataset.times = times.slice(-200).join(" "); } });
      say("state", whole ? `solved on the case's own mesh, ${found.mesh.unknowns} unknowns` : `answered in ${Math.round(took)} ms on a coarser mesh`);
      if (whole) { settled(since === changedAt); if (since === changedAt) { clearTimeout(rest); rest = setTimeout(levers, LEVERS); } }
    }
  } catch (error) { if (since === changedAt) fault(error); }
  if (whole && busy !== "whole") return;
  if (!whole && busy !== "quick") return;
  busy = false;
  if (wanted !== null) { solve(false); return; }
  if (!whole && !byId("answer").classList.contains("stale")) { clearTimeout(rest); rest = setTimeout(() => solve(true), REST); }
}

function show(found) {
  shownAnswer = found;
  document.body.classList.remove("stale");
  byId("answer").classList.remove("stale");
  byId("fault").hidden = true;
  form.fault(null);
  say("answer-title", found.title);
  document.title = found.ceiling ? `${found.ceiling.toFixed(1)} mm³/s, ${found.title}` : found.title;
  byId("prints").classList.toggle("pending", !found.whole);
  for (const name of ["said", ...(found.whole ? ["prints"] : []), "tables", "why", "numbers"]) byId(name).innerHTML = found[name]; // escaped by the program
  byId("heed").lastElementChild.innerHTML = found.heed;
  reach(found);
  say("mini", found.ceiling ? `${found.ceiling.toFixed(1)} mm³/s` : "no ceiling");
  say("bottleneck", found.answered ? found.bottleneck : "");
  byId("tiles").replaceChildren(...found.tiles.map((t) => made("div", {}, made("dt", {}, t.name), made("dd", {}, made("b", {}, t.text), ` ${t.unit}`))));
  byId("section").closest(".card").classList.toggle("nothing", !found.field);
  if (found.field) {
    section.show(found.field, found.field.alt);
    along(section.field);
  } else byId("along").replaceChildren();
}

function reach({ band, ceiling }) { // the band as a strip; its numbers stand above
  const place = byId("reach"), [strip, tick] = place.children, share = (v) => `${(100 * v) / (1.12 * band[1])}%`;
  place.hidden = !band;
  if (!band) return;
  Object.assign(strip.style, { left: share(band[0]), width: share(band[1] - band[0]) });
  tick.style.left = share(ceiling);
}

function along(field) {
  const { axis, melt_zone: zone } = field;
  byId("along").replaceChildren(plot({
    lines: [{ name: "bore wall", x: axis.wall_z, y: axis.wall, hue: "var(--two)" }, { name: "core of the filament", x: axis.z, y: axis.core, hue: "var(--one)" }],
    marks: [{ y: field.flow_temperature, text: "flow temperature", hue: "var(--quiet)" }], bands: [{ x0: zone[0], x1: zone[1], hue: "var(--warm)" }],
    xTitle: "height above the nozzle's face [mm]; the melt zone is shaded", yTitle: "temperature [degC]", label: "Temperatures along the passage. " + byId("section").getAttribute("aria-label"), zero: true, high: 230,
  }));
}

function fault(error) {
  if (!(error instanceof Refused)) {
    error = { error: { text: "The program does not answer. Start it again in the same folder; what is here is kept by this page." } };
    setTimeout(() => { if (document.body.classList.contains("stale")) refresh(false); }, 3000);
  }
  document.body.classList.add("stale");
  byId("answer").classList.add("stale");
  const told = error.error, place = byId("fault");
  place.hidden = false;
  place.replaceChildren(made("strong", {}, "This cannot be solved. "), shownAnswer ? "What is greyed is the last answer." : "", made("pre", {}, told.text));
  form?.fault(told);
  say("state", "not solved");
}

async function levers() {
  try {
    const found = await askJson("levers", { state: history.now, number: nextNumber() });
    if (found) form.effects(found.levers);
  } catch { /* they are beside the point where there is no answer */ }
}

// Over a range

let source = null;
function range(key) {
  source?.close();
  byId("range-card").hidden = false;
  say("range-title", `Over its range: ${key.noun}`);
  const points = [], refusals = [], state = JSON.parse(JSON.stringify(history.now));
  const now = shownAnswer?.ceiling, text = history.now.typed[key.key] ?? key.value, at = Number.parseFloat(text) || key.now;
  const drawNow = (ended) => {
    points.sort((a, b) => a.value - b.value);
    if (points.length) byId("range").replaceChildren(plot({
      lines: [{ x: points.map((p) => p.value), y: points.map((p) => p.ceiling ?? NaN), hue: "var(--one)" }, { x: points.map((p) => p.value), y: points.map((p) => p.ceiling ?? NaN), dots: true, hue: "var(--one)" }, ...(now ? [{ x: [at], y: [now], dots: true, radius: 6, hue: "var(--two)" }] : [])],
      marks: [{ x: at, text: "now", hue: "var(--two)" }], xTitle: `${key.noun}${key.unit ? ` [${key.unit}]` : ""}`, yTitle: "flow ceiling [mm³/s]", zero: false, padY: 0.15, wide: 760,
      label: `Flow ceiling over ${key.noun}: ${points.filter((p) => p.ceiling).map((p) => `${p.typed} ${p.ceiling.toFixed(2)}`).join(", ")}`,
    }));
    say("range-told", `${points.filter((p) => p.ceiling).length} solved${ended ? ", done" : " so far"}${refusals.length ? `; cannot be: ${refusals.map((p) => `${p.typed} (${p.reason})`).slice(0, 2).join("; ")}${refusals.length > 2 ? ` and ${refusals.length - 2} more` : ""}` : ""}.`);
  };
  byId("range").replaceChildren();
  source = new EventSource(`ask/sweep?${new URLSearchParams({ state: JSON.stringify(state), key: key.key })}`);
  source.onmessage = (e) => { const p = JSON.parse(e.data); points.push(p); if (!p.ceiling) refusals.push(p); drawNow(false); };
  source.addEventListener("end", () => { source.close(); drawNow(true); byId("range").dataset.done = key.key; });
  source.addEventListener("fault", (e) => { source.close(); say("range-told", JSON.parse(e.data).text); });
  source.onerror = () => { source.close(); };
  byId("range-card").scrollIntoView({ block: "nearest", behavior: "smooth" });
}

// What leaves

async function take(what) {
  say("take-state", "making it");
  try {
    const answer = await ask("take", { state: history.now, what });
    const name = /filename="([^"]+)"/.exec(answer.headers.get("Content-Disposition"))[1];
    const link = made("a", { href: URL.createObjectURL(await answer.blob()), download: name });
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 10000);
    say("take-state", `${name} is in your downloads.`);
  } catch (error) { say("take-state", error.message); }
}
async function copied(text, told) {
  const box = byId("copied");
  box.hidden = false; box.value = text; box.select();
  try { await navigator.clipboard.writeText(text); say("take-state", told); } catch { say("take-state", `${told} If it is not in your clipboard, copy it from here:`); }
}
async function layOut() {
  const proposed = `bench-${history.now.base.replace(/\.toml$/, "").replace(/[^A-Za-z0-9-]+/g, "-")}.csv`;
  const name = prompt("Name of the sheet, in the working folder:", proposed);
  if (!name) return;
  say("take-state", "laying out");
  try { await askJson("bench/plan", { state: history.now, name }); location.href = `bench#${encodeURIComponent(name)}`; } catch (error) { say("take-state", error.message); }
}

function listen() {
  byId("base").addEventListener("change", async (e) => { await rebase(e.target.value); history.replace({ base: e.target.value, typed: {} }); refresh(); });
  const step = async (done) => { if (!done) return; if (history.now.base !== byId("base").value) await rebase(history.now.base); document.activeElement?.blur?.(); refresh(); };
  byId("undo").addEventListener("click", () => step(history.back()));
  byId("redo").addEventListener("click", () => step(history.forth()));
  byId("keep").addEventListener("click", keep);
  byId("find").addEventListener("input", (e) => form.find(e.target.value));
  byId("form").addEventListener("submit", (e) => e.preventDefault());
  byId("view-whole").addEventListener("click", () => section.look("whole"));
  byId("view-passage").addEventListener("click", () => section.look("passage"));
  byId("view-mesh").addEventListener("click", (e) => { section.mesh = !section.mesh; e.target.setAttribute("aria-pressed", section.mesh); section.draw(); });
  byId("range-close").addEventListener("click", () => { source?.close(); byId("range-card").hidden = true; });
  for (const button of document.querySelectorAll("[data-take]")) button.addEventListener("click", () => take(button.dataset.take));
  byId("link").addEventListener("click", () => copied(`${location.origin}${location.pathname}#${toLink(history.now)}`, "The link is copied; it opens this state as long as the program runs here."));
  byId("call").addEventListener("click", () => copied(toCommand(history.now), "The command is copied."));
  byId("print").addEventListener("click", () => print());
  byId("lay-out").addEventListener("click", layOut);
  window.addEventListener("hashchange", () => { const linked = fromLink(location.hash.slice(1)); if (linked) restore(linked); });
  window.addEventListener("keydown", (e) => {
    const writing = /^(INPUT|TEXTAREA|SELECT)$/.test(e.target.tagName) && e.target.type !== "range";
    if ((e.ctrlKey || e.metaKey) && e.key.toLowerCase() === "z" && !(writing && e.target.type !== "text")) { e.preventDefault(); step(e.shiftKey ? history.forth() : history.back()); }
    else if (!writing && !e.ctrlKey && !e.metaKey && !e.altKey && e.key === "k") keep();
    else if (!writing && e.key === "/") { e.preventDefault(); byId("find").focus(); }
  });
}
function keep() { if (shownAnswer) kept.keep(history.now, shownAnswer); }

begin().catch(fault);
