// The drawing as the form: every dimension on it can be reached, heard and taken in hand.

import { draw, make, svgOf, told } from "./make.js";
import { patched, remember } from "./patch.js";

/** The SVG that each view was drawn from. */
const drawn = new WeakMap();

/** Lay the labelled views out; chosen(name) is called for the dimension that is taken. A view that
 *  is as it was is left alone, and where only sizes differ these are written over. */
export function showViews(place, views, inputs, inHand, chosen) {
  const focused = document.activeElement?.closest?.("#views [data-input]")?.dataset.input;
  const touched = views.flatMap((view, at) => {
    const there = place.children[at];
    if (there && drawn.get(there) === view.svg) {
      return [];
    }
    const fresh = svgOf(view.svg);
    const changed = there && patched(there, fresh);
    const here = changed ? there : made(fresh, chosen);
    if (!there) {
      place.append(here);
    } else if (!changed) {
      there.replaceWith(here);
    }
    drawn.set(here, view.svg);
    bare(here.querySelector("svg"), view.title);
    return changed ? [...new Set(changed.map((node) => (node.parentElement ?? here).closest("[data-input]")))].filter(Boolean)
      : [...here.querySelectorAll("[data-input]")];
  });
  [...place.children].slice(views.length).forEach((each) => each.remove());
  widen(touched);
  relabel(place, inputs);
  mark(place, inHand);
  if (focused && !document.activeElement?.closest?.("#views [data-input]")) {
    place.querySelector(`[data-input="${CSS.escape(focused)}"]`)?.focus();
  }
}

function made(fresh, chosen) {
  const svg = fresh.cloneNode(true);
  const view = make("div", { class: "view" }, svg);
  remember(view, fresh, svg);
  const spots = [...svg.querySelectorAll("[data-input]")];
  spots.forEach((spot, index) => {
    spot.setAttribute("role", "button");
    spot.setAttribute("tabindex", index === 0 ? "0" : "-1");
    spot.querySelector("title")?.remove();
    spot.addEventListener("click", () => chosen(spot.dataset.input));
    spot.addEventListener("keydown", (event) => step(event, spots, index, chosen));
  });
  svg.querySelector("title")?.remove();
  return view;
}

/** A view is as wide as there is room, and a group of dimensions and no picture. */
function bare(svg, title) {
  svg.setAttribute("role", "group");
  svg.setAttribute("aria-label", title);
  svg.removeAttribute("width");
  svg.removeAttribute("height");
}

/** Let a finger meet a dimension's number and words, not their strokes alone. All are measured
 *  before any is changed, so that the page is laid out but once. */
function widen(spots) {
  const boxes = spots.map((spot) => [...spot.querySelectorAll("text")]
    .filter((each) => each.textContent.trim()).map((each) => each.getBBox()));
  spots.forEach((spot, at) => {
    spot.querySelectorAll(".hit").forEach((each) => each.remove());
    spot.prepend(...boxes[at].map((box) => {
      const wide = Math.max(box.width + 4, 16);
      return draw("rect", { class: "hit", x: box.x + box.width / 2 - wide / 2, y: box.y - 1, width: wide, height: box.height + 2 });
    }));
  });
}

/** Say of each dimension what it is now. */
export function relabel(place, inputs) {
  const known = new Map(inputs.map((input) => [input.name, input]));
  for (const spot of place.querySelectorAll("[data-input]")) {
    const words = saying(known.get(spot.dataset.input), spot.dataset.input);
    if (spot.getAttribute("aria-label") !== words) {
      spot.setAttribute("aria-label", words);
    }
  }
}

function saying(input, name) {
  if (!input) {
    return name;
  }
  const value = input.drawn || "not given yet";
  const number = input.number ? `${input.number}, ` : "";
  return `${number}${input.words}, ${value}${input.spread ? `, ${input.spread}` : ""}`;
}

/** One stop for Tab in each view; the arrow keys move among its dimensions. */
function step(event, spots, index, chosen) {
  const ways = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 };
  if (event.key === "Enter" || event.key === " ") {
    event.preventDefault();
    chosen(spots[index].dataset.input);
  } else if (event.key in ways) {
    event.preventDefault();
    const next = spots[(index + ways[event.key] + spots.length) % spots.length];
    spots.forEach((spot) => spot.setAttribute("tabindex", spot === next ? "0" : "-1"));
    next.focus();
  }
}

/** Show which dimension is in hand, wherever it stands. */
export function mark(place, name) {
  for (const spot of place.querySelectorAll("[data-input]")) {
    const here = spot.dataset.input === name;
    spot.classList.toggle("in-hand", here);
    spot.setAttribute("aria-pressed", here ? "true" : "false");
  }
}

/** Show what is drawn to scale, with burners as they would be built behind it. */
export function showDrawings(place, drawings) {
  place.replaceChildren(...drawings.map((drawing) => make("figure", {},
    make("div", { class: "paper", tabindex: "0", role: "group",
      "aria-label": "Drawing, scrolls sideways if narrow" }, svgOf(named(drawing.svg))),
    make("figcaption", {}, `${drawing.words}.`))));
}

function named(text) {
  return text.includes("xmlns=") ? text : text.replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ');
}

/** Lay two designs side by side: what differs, in words and where it stands on each drawing. */
export function showSides(sides, chosen) {
  const differ = new Set(sides.names);
  const words = make("div", {});
  told(words, sides.html, sides.rows, chosen);
  return make("section", { class: "compared", "aria-label": "What differs" }, words,
    make("div", { class: "sides" }, ...sides.designs.map((design) => make("div", {},
      make("h4", {}, design.name), ...design.views.map((view) => {
        const svg = svgOf(view.svg);
        svg.removeAttribute("width");
        svg.removeAttribute("height");
        for (const spot of svg.querySelectorAll("[data-input]")) {
          spot.classList.toggle("differs", differ.has(spot.dataset.input));
        }
        return make("div", { class: "view" }, svg);
      })))));
}
