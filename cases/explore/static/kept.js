// States that are kept: as bars and curves at once, side by side as the program compares them.

import { askJson, nextNumber } from "./ask.js";
import { bars, hue, plot } from "./charts.js";
import { byId, made, say } from "./made.js";

const MOST = 6, PLACE = "kept";

export class Kept {
  constructor(restore) { this.restore = restore; this.states = []; }

  load() {
    try { this.states = JSON.parse(localStorage.getItem(PLACE)) || []; } catch { this.states = []; }
    this.changed();
  }

  keep(state, answer) {
    if (this.states.length >= MOST) { say("kept-state", `${MOST} are kept; remove one first`); return; }
    const said = Object.entries(state.typed).map(([key, text]) => `${key.split(".").pop().replace(/_/g, " ")} ${text}`).join(", ");
    const wanted = said.slice(0, 40) || state.base, taken = new Set(this.states.map((each) => each.name));
    let name = wanted, n = 2;
    while (taken.has(name)) name = `${wanted} (${n++})`;
    this.states.push({ base: state.base, typed: { ...state.typed }, name, ceiling: answer.ceiling });
    say("kept-state", `kept: ${name}`);
    this.changed();
  }

  changed() {
    localStorage.setItem(PLACE, JSON.stringify(this.states));
    byId("kept-none").hidden = this.states.length > 0;
    byId("kept").replaceChildren(...this.states.map((state, k) => made("li", {},
      made("i", { style: `background:${hue(k)}` }),
      made("input", { value: state.name, "aria-label": "Name of this state", maxlength: 60, onchange: (e) => { state.name = e.target.value || state.name; this.changed(); } }),
      made("button", { type: "button", onclick: () => this.restore({ base: state.base, typed: state.typed }), title: "Back to this state" }, "Open"),
      made("button", { type: "button", "aria-label": `Remove ${state.name}`, onclick: () => { this.states.splice(k, 1); this.changed(); } }, "Remove"))));
    this.bars(this.states.map((each) => ({ name: each.name, value: each.ceiling })));
    byId("curves").replaceChildren(); byId("compared").replaceChildren();
    if (this.states.length > 1) this.compare(); else if (!this.states.length) byId("bars").replaceChildren();
  }

  bars(rows) { byId("bars").replaceChildren(...(rows.length ? [bars(rows)] : [])); }

  async compare() {
    say("kept-state", "comparing");
    try {
      const found = await askJson("compare", { states: this.states, number: nextNumber() });
      if (!found) return;
      this.bars(found.bars.map((b) => ({ name: b.name, value: b.ceiling, note: b.gain ? `${b.gain.replace(/\s*\(/, " % (")}${b.gain.includes("(") ? "" : " %"}, ${b.governs}` : b.governs, low: b.band?.[0] ?? null, high: b.band?.[1] })));
      byId("curves").replaceChildren(plot({ lines: found.curves.map((c, k) => ({ name: found.bars[k].name, x: [0, ...c.commanded], y: [0, ...c.delivered], hue: hue(k) })), xTitle: "commanded flow [mm³/s]", yTitle: "delivered flow [mm³/s]", zero: "both", label: `Delivered over commanded flow: ${found.bars.map((b) => `${b.name} up to ${b.ceiling?.toFixed(2)}`).join(", ")} mm³/s` }));
      byId("compared").innerHTML = found.tables; // escaped by the program
      say("kept-state", "compared; gains count from the first, lines at the bars are 90 % bands");
    } catch (error) { say("kept-state", error.message); }
  }
}
