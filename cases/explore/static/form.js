// The form, made from what the program declares of its inputs.

import { made, byId } from "./made.js";

const FIRST = 12;
const ALWAYS = ["polymer.material", "nozzle.material", "surroundings.fan", "line.sizes"];

export class Form {
  constructor(place, on) { Object.assign(this, { place, on, rows: new Map(), tables: new Map(), keys: new Map() }); }

  build(asked, typed) {
    this.asked = asked;
    this.rows.clear(); this.tables.clear(); this.keys.clear();
    this.place.replaceChildren();
    for (const table of asked.tables) for (const key of table.keys) this.keys.set(key.key, { ...key, table });
    const rank = asked.levers.map((each) => each.key).slice(0, FIRST);
    const top = [...ALWAYS.filter((key) => this.keys.has(key)), ...rank];
    this.place.append(made("fieldset", { class: "first" }, made("legend", {}, "What matters most here"), ...top.map((key) => this.row(this.keys.get(key), true))));
    for (const table of asked.tables) this.place.append(this.table(table, new Set(top)));
    this.effects(asked.levers);
    this.show(typed);
  }

  table(table, above) {
    const body = made("div", { class: "rows" }, made("p", { class: "quiet" }, table.meaning), ...table.keys.filter((key) => !above.has(key.key)).map((key) => this.row({ ...key, table }, false)));
    const title = table.name.replace("_", " ");
    const part = table.optional ? made("button", { type: "button", class: "part", onclick: (e) => { e.preventDefault(); this.on.part(table.name, !this.has(table.name)); } }, "") : null;
    const details = made("details", { "data-table": table.name }, made("summary", {}, made("span", {}, title), part), body);
    this.tables.set(table.name, { table, details, part });
    return details;
  }

  row(key, long) {
    const id = `in-${key.key}`, name = long ? key.noun : key.label;
    const input = this.control(key, id);
    const slide = key.low !== undefined && key.low < key.high ? made("input", { type: "range", class: "slide", min: key.low, max: key.high, step: key.notch, "aria-label": `${key.noun}, slide`,
      oninput: (e) => { input.value = this.written(key, e.target.value); this.on.move(key.key, input.value, true); }, onchange: () => this.on.settle() }) : null;
    const effect = made("span", { class: "effect" }), fault = made("p", { class: "row-fault", id: `${id}-fault` });
    const back = made("button", { type: "button", class: "icon back", title: `Put ${key.noun} back`, "aria-label": `Put ${key.noun} back`, hidden: true, onclick: () => this.on.put(key.key, null) }, "↺");
    const range = slide ? made("button", { type: "button", class: "icon", title: `${key.noun} over its range`, "aria-label": `Ceiling over the range of: ${key.noun}`, onclick: () => this.on.range(key) }, "∿") : null;
    const label = made("label", { for: id, title: `${key.meaning} ${key.expects}` }, name);
    const row = made("div", { class: "row-in", "data-key": key.key }, made("div", { class: "row-head" }, label, effect), made("div", { class: "row-body" }, input, back, range), ...(slide ? [slide] : []), fault);
    this.rows.set(key.key, { key, row, input, slide, effect, fault, back });
    return row;
  }

  written(key, number) { return key.unit ? `${number} ${key.unit}` : String(number); }

  control(key, id) {
    const told = { id, name: key.key, "aria-describedby": `${id}-fault`, title: key.meaning };
    const choose = (values) => made("select", { ...told, onchange: (e) => this.on.put(key.key, e.target.value || null) }, ...values.map(([value, text]) => made("option", { value }, text)));
    if (key.control === "polymer" || key.control === "solid") return choose(this.asked.materials[key.control].map((name) => [name, name]));
    if (key.control === "choice") return choose(key.choices.map((word) => [word, word]));
    if (key.control === "switch") return choose([["false", "no"], ["true", "yes"]]);
    return made("input", { ...told, type: "text", placeholder: key.standing === "none" && key.example ? `none; as in ${key.example}` : key.standing, spellcheck: "false",
      oninput: (e) => this.on.move(key.key, e.target.value.trim() || null, false), onchange: () => this.on.settle(),
      onkeydown: (e) => { if (e.key === "Enter") { e.preventDefault(); this.on.settle(); } else this.nudge(e, key); } });
  }

  nudge(e, key) { // a natural step up or down
    if (key.step === undefined || !["ArrowUp", "ArrowDown"].includes(e.key)) return;
    const found = /^\s*(-?[\d.]+)\s*(.*)$/.exec(e.target.value || e.target.placeholder);
    if (!found || (key.unit && found[2].trim() !== key.unit)) return;
    e.preventDefault();
    const value = Number(found[1]) + (e.key === "ArrowUp" ? 1 : -1) * key.step;
    e.target.value = this.written(key, Number(value.toPrecision(9)));
    this.on.move(key.key, e.target.value, true); this.on.settle();
  }

  has(name) {
    const said = this.typed[name];
    if (said !== undefined) return said !== "false";
    return this.tables.get(name).table.present;
  }

  show(typed) {
    this.typed = typed;
    for (const { key, input, slide, back, row } of this.rows.values()) {
      const own = typed[key.key], text = own ?? key.value;
      if (document.activeElement !== input || own === undefined) input.value = input.tagName === "SELECT" ? this.chosen(key, input, text) : text;
      back.hidden = own === undefined;
      row.classList.toggle("moved", own !== undefined);
      if (slide && document.activeElement !== slide) slide.value = Number.parseFloat(text) || key.now;
    }
    for (const { table, details, part } of this.tables.values()) {
      if (!table.optional) continue;
      const there = this.has(table.name);
      details.classList.toggle("absent", !there);
      part.textContent = there ? "Take away" : "Add";
      part.setAttribute("aria-label", `${there ? "Take away" : "Add"} ${table.name.replace("_", " ")}`);
      for (const each of table.keys) { const found = this.rows.get(each.key); if (found) for (const c of [found.input, found.slide]) if (c) c.disabled = !there; }
    }
  }

  chosen(key, select, text) {
    const said = (text || key.standing).toLowerCase().replace(/_/g, " ").replace(/"/g, "");
    const options = [...select.options], found = options.find((o) => o.value.toLowerCase() === said);
    if (found) return found.value;
    const other = said || "";
    select.append(made("option", { value: other }, other));
    return other;
  }

  effects(levers) {
    for (const { effect } of this.rows.values()) effect.textContent = "";
    for (const each of levers) {
      const row = this.rows.get(each.key);
      if (!row) continue;
      row.effect.textContent = `${each.step}: ${each.change >= 0 ? "+" : "−"}${Math.abs(each.change).toFixed(2)}`;
      row.effect.className = `effect ${each.change >= 0 ? "up" : "down"}`;
      row.effect.title = `${each.step} changes the ceiling by ${each.change.toFixed(2)} mm³/s`;
    }
  }

  fault(error) {
    for (const { row, input, fault } of this.rows.values()) { row.classList.remove("wrong"); input.removeAttribute("aria-invalid"); fault.textContent = ""; }
    const found = error && this.rows.get(error.key);
    if (!found) return false;
    found.row.classList.add("wrong");
    found.input.setAttribute("aria-invalid", "true");
    found.fault.textContent = [error.expected && `expected: ${error.expected}`, error.hint].filter(Boolean).join(" — ");
    const details = found.row.closest("details");
    if (details) details.open = true;
    return true;
  }

  find(text) {
    const words = text.toLowerCase().split(/\s+/).filter(Boolean);
    for (const { key, row } of this.rows.values()) {
      const all = `${key.key} ${key.label} ${key.noun} ${key.meaning}`.toLowerCase().replace(/[._]/g, " ");
      row.hidden = !words.every((word) => all.includes(word));
    }
    for (const details of this.place.querySelectorAll("details")) {
      const some = [...details.querySelectorAll(".row-in")].some((row) => !row.hidden);
      details.hidden = words.length > 0 && !some;
      if (words.length) details.open = some;
    }
    byId("form").classList.toggle("finding", words.length > 0);
  }
}
