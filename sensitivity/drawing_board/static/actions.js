// What the commands do, as actions on the board; each shows the command line for the same.

import { make } from "./make.js";
import { strip } from "./gauge.js";

/** Lay out the actions that are about the whole study. */
export function actionBar(others, unsaved, act) {
  const target = make("input", { id: "target", value: "95", inputmode: "decimal", size: "4" });
  const write = make("input", { id: "write", type: "checkbox" });
  const wanted = () => Number(target.value.replace(",", "."));
  const other = make("select", { id: "other" },
    unsaved ? make("option", { value: "as saved" }, "this one as saved") : null,
    ...others.map((name) => make("option", { value: name }, name)));
  const seen = make("input", { id: "seen", autocomplete: "off", placeholder: "it floods" });
  const button = (words, what) => make("button", {
    type: "button", onclick: () => act({ ...what(), write: write.checked }),
  }, words);
  return [
    make("p", { class: "bar" },
      button("Run it in full", () => ({ command: "run" })),
      button("Worst case", () => ({ command: "check" })),
      button("What to measure", () => ({ command: "measure" })),
      button("What to draw elsewhere", () => ({ command: "redraw" }))),
    make("p", { class: "bar" },
      button("What to make closer", () => ({ command: "tighten", target: wanted() })),
      make("span", {}, make("label", { for: "target" }, "so that of 100 work "), target)),
    other.options.length ? make("p", { class: "bar" },
      button("Compare", () => ({ command: "compare", other: other.value })),
      make("span", {}, make("label", { for: "other" }, "with "), other)) : null,
    make("p", { class: "bar" },
      button("Learn from a trial", () => ({ command: "learn", seen: seen.value.split(";").map((each) => each.trim()).filter(Boolean) })),
      make("span", {}, make("label", { for: "seen" }, "what was seen "), seen)),
    make("p", { class: "bar" }, write, make("label", { for: "write" },
      "Write the report and the figures into this folder too")),
  ];
}

/** Lay out the actions that are about one input. */
export function inputActions(input, choices, act) {
  if (input.kind !== "build") {
    return null;
  }
  const reads = make("input", { id: "reads", autocomplete: "off", size: "8" });
  const fit = choices.instruments.filter((each) => each.quantity === input.quantity);
  const tool = make("select", { id: "reads-with" }, ...fit.map((each) => make("option", { value: each.name }, each.words)));
  return make("div", { class: "acts" },
    make("p", { class: "bar" }, make("button", { type: "button",
      onclick: () => act({ command: "window", inputs: [input.name] }) }, "Where to set it")),
    fit.length ? make("p", { class: "bar" }, make("button", { type: "button",
      onclick: () => act({ command: "built", measured: [`${input.name}=${reads.value}`], instruments: [`${input.name}=${tool.value}`] }) }, "Is it good?"),
      make("span", {}, make("label", { for: "reads" }, "it reads "), reads),
      make("span", {}, make("label", { for: "reads-with" }, "with "), tool)) : null);
}

/** Lay out the command for the same, to copy. */
export function commandLine(command, unsaved) {
  return make("div", { class: "command" },
    make("p", { class: "quiet" }, unsaved ? "The same in a terminal, once this is saved:" : "The same in a terminal:"),
    make("pre", { tabindex: "0" }, command));
}

function hundred(share) {
  return (100 * share).toFixed(0);
}

/** Lay out a window: a strip of what works, and a slider that sets the nominal. */
export function slider(found, drawn, set) {
  const reading = make("output", { for: "setting" });
  const tell = (place) => {
    const setting = found.settings[place];
    const kept = `every limit is kept ${hundred(setting.keeps)} times in 100 at random`;
    const work = setting.works === null || found.single ? "" : `${hundred(setting.works)} of 100 work; `;
    const words = `${setting.reads}: ${work}${kept}`;
    reading.textContent = words;
    range.setAttribute("aria-valuetext", words);
  };
  const nearest = found.settings.findIndex((setting) => setting.reads === drawn);
  const range = make("input", {
    id: "setting", type: "range", min: "0", max: String(found.settings.length - 1), step: "1",
    oninput: (event) => tell(Number(event.target.value)),
    onchange: (event) => set(found.settings[Number(event.target.value)].stated),
  });
  range.value = String(nearest >= 0 ? nearest : found.chosen);
  tell(Number(range.value));
  return make("div", { class: "window" },
    make("label", { for: "setting" }, "Set it, and see what works there"),
    make("p", { class: "quiet" }, "Bars: how many work, where that was counted. Line: how often every limit is kept at a moment taken at random. Dashes: what was asked for."),
    strip(found), range, reading);
}
