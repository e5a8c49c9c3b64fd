// Making elements: text is always set as text, never read as markup.

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

/** Lay out HTML that the board wrote, and lead from its rows to where they stand. */
export function told(place, html, rows, chosen) {
  place.innerHTML = html;
  const tables = place.querySelectorAll("table");
  (rows ?? []).forEach((names, table) => {
    const heads = tables[table]?.querySelectorAll("tbody tr > th") ?? [];
    names.forEach((name, row) => {
      const head = heads[row];
      if (name && head) {
        const words = head.textContent;
        head.replaceChildren(make("button", {
          type: "button", class: "place", "data-place": name, onclick: () => chosen(name),
        }, words));
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
