"use strict";
// What pages have in common: elements, rows of choices that are pressed, keys that choose.
const $ = (id) => document.getElementById(id);
const still = matchMedia("(prefers-reduced-motion: reduce)");

function element(kind, facts = {}, ...inside) {
  const made = Object.assign(document.createElement(kind), facts);
  made.append(...inside);
  return made;
}

function button(text, does, facts = {}) {
  const made = element("button", { type: "button", textContent: text, ...facts });
  made.addEventListener("click", does);
  return made;
}

// A row of choices in `id`: [text, value] each. The focus stays on the value that it was on.
function choices(id, each, choose) {
  const held = document.activeElement?.parentElement === $(id) ? document.activeElement.value : null;
  $(id).replaceChildren(...each.map(([text, value]) => button(text, () => choose(value), { value })));
  for (const made of $(id).children) if (made.value === held) made.focus();
}

function pressed(id, value) {
  for (const each of $(id).children) each.setAttribute("aria-pressed", each.value === String(value));
}

const numbered = (names) => names.map((name, number) => [name, number]);
const after = (list, value, by = 1) => list[(list.indexOf(value) + by + list.length) % list.length];

// `does()` gives what each key does now; letters in small. Keys that are typed into a field stay there.
function keys(does) {
  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.altKey || event.metaKey || event.target.closest("input, select")) return;
    if (event.key === " " && event.target.closest("button, summary")) return;
    const found = does()[event.key.length === 1 ? event.key.toLowerCase() : event.key];
    if (!found) return;
    event.preventDefault();
    found(event);
  });
}
