// Elements made of words; nothing here reads text as markup.

export function made(tag, attributes = {}, ...inside) {
  const element = document.createElement(tag);
  set(element, attributes, inside);
  return element;
}

export function drawn(tag, attributes = {}, ...inside) {
  const element = document.createElementNS("http://www.w3.org/2000/svg", tag);
  set(element, attributes, inside);
  return element;
}

function set(element, attributes, inside) {
  for (const [name, value] of Object.entries(attributes)) {
    if (value === false || value === null || value === undefined) continue;
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else element.setAttribute(name, value === true ? "" : value);
  }
  element.append(...inside.filter((each) => each !== null && each !== undefined));
}

export const byId = (id) => document.getElementById(id);
export const say = (id, text) => { byId(id).textContent = text; };

const LIGHTS = ["auto", "light", "dark"];
export function lights(changed = () => {}) {
  const button = byId("light");
  const show = (light) => {
    document.documentElement.dataset.light = light;
    button.textContent = `Light: ${light}`;
    changed();
  };
  show(localStorage.getItem("light") || "auto");
  button.addEventListener("click", () => {
    const now = document.documentElement.dataset.light;
    const next = LIGHTS[(LIGHTS.indexOf(now) + 1) % LIGHTS.length];
    localStorage.setItem("light", next);
    show(next);
  });
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", changed);
}
