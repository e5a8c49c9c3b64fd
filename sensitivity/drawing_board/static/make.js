// Making elements: text is always set as text, never read as markup.

import { patched, remember } from "./patch.js";

/** Make an element with attributes, listeners (onclick: ...) and children. */
export function make(tag, attributes = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (name.startsWith("on")) {
      element.addEventListener(name.slice(2), value);
    } else if (value === true) {
      element.setAttribute(name, "");
    } else if (value !== false && value !== null && value !== undefined) {
      element.setAttribute(name, value);
    }
  }
  element.append(...children.filter((child) => child !== null && child !== undefined));
  return element;
}

export function byId(id) {
  return document.getElementById(id);
}

/** Lay out HTML that the board wrote, and lead from its rows to where they stand. What is laid out
 *  alike already is only written over. */
export function told(place, html, rows, chosen) {
  const fresh = make("div");
  fresh.innerHTML = html;
  const led = JSON.stringify(rows ?? []);
  if (place.dataset.led === led && patched(place, fresh)) {
    return;
  }
  place.dataset.led = led;
  place.replaceChildren(...fresh.cloneNode(true).childNodes);
  remember(place, fresh, place);
  const tables = place.querySelectorAll("table");
  (rows ?? []).forEach((names, table) => {
    const heads = tables[table]?.querySelectorAll("tbody tr > th") ?? [];
    names.forEach((name, row) => {
      if (name && heads[row]) {
        heads[row].append(make("button", {
          type: "button", class: "place", "data-place": name, onclick: () => chosen(name),
        }, ...heads[row].childNodes));
      }
    });
  });
}

const SVG = "http://www.w3.org/2000/svg";

/** Make an SVG element. */
export function draw(tag, attributes = {}, ...children) {
  const element = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(attributes)) {
    element.setAttribute(name, value);
  }
  element.append(...children);
  return element;
}

/** Read SVG text that the board drew. */
export function svgOf(text) {
  const read = new DOMParser().parseFromString(text, "image/svg+xml");
  return document.importNode(read.documentElement, true);
}
