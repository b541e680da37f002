// What the page holds: where it began and what was typed, with a way back, and as a link.

const copy = (state) => ({ base: state.base, typed: { ...state.typed } });
const same = (a, b) => JSON.stringify(a) === JSON.stringify(b);

export class History {
  constructor(state) { this.past = []; this.future = []; this.now = copy(state); this.settled = copy(state); }

  move(key, text) { // while it is being changed
    if (text === null) delete this.now.typed[key]; else this.now.typed[key] = text;
  }

  settle() { // a step that can be undone
    if (same(this.now, this.settled)) return false;
    this.past.push(this.settled); this.future = []; this.settled = copy(this.now);
    return true;
  }

  replace(state) { this.now = copy(state); return this.settle(); }

  back() { return this.swap(this.past, this.future); }
  forth() { return this.swap(this.future, this.past); }

  swap(from, to) {
    if (!from.length) return false;
    to.push(this.settled); this.settled = from.pop(); this.now = copy(this.settled);
    return true;
  }
}

export function toLink(state) {
  const text = unescape(encodeURIComponent(JSON.stringify([state.base, state.typed])));
  return btoa(text).replace(/\+/g, "-").replace(/\//g, "_").replace(/=+$/, "");
}

export function fromLink(hash) {
  try {
    const [base, typed] = JSON.parse(decodeURIComponent(escape(atob(hash.replace(/-/g, "+").replace(/_/g, "/")))));
    if (typeof base === "string" && Object.values(typed).every((text) => typeof text === "string")) return { base, typed };
  } catch { /* no link of ours */ }
  return null;
}

const quoted = (text) => `"${text.replace(/(["\\$`])/g, "\\$1")}"`;
export const toCommand = (state) => ["meltzone run", state.base, ...Object.entries(state.typed).map(([key, text]) => `--set ${quoted(`${key}=${text}`)}`)].join(" ");
