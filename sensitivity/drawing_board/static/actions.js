// What the commands do, as actions on the board; each shows the command line for the same.

import { make } from "./make.js";
import { strip } from "./gauge.js";

/** A list of words, from what was typed with semicolons between. */
const several = (field) => field.value.split(";").map((each) => each.trim()).filter(Boolean);

const field = (id, words, attributes = {}) => {
  const input = make("input", { id, autocomplete: "off", spellcheck: "false", ...attributes });
  return [input, make("span", { class: "asked" }, make("label", { for: id }, words), " ", input)];
};

const list = (id, words, options) => {
  const select = make("select", { id }, ...options.map(([value, said]) => make("option", { value }, said)));
  return [select, make("span", { class: "asked" }, make("label", { for: id }, words), " ", select)];
};

/** Lay out the actions that are about the whole study. */
export function actionBar({ others, trials, unsaved, fresh }, act) {
  const [target, targetAsked] = field("target", "so that of 100 work", { value: "95", inputmode: "decimal", size: "4" });
  const write = make("input", { id: "write", type: "checkbox" });
  const wanted = () => Number(target.value.replace(",", "."));
  const [other, otherAsked] = list("other", "with", [
    ...(unsaved && !fresh ? [["as saved", "this one as saved"]] : []), ...others.map((name) => [name, name])]);
  const [seen, seenAsked] = field("seen", "seen", { placeholder: "it floods; rise=8.2 mm", size: "18" });
  const [at, atAsked] = field("at", "while held", { placeholder: "grade=0.5 %", size: "14" });
  const [read, readAsked] = field("seen-with", "read with", { placeholder: "rise=steel_rule", size: "14" });
  const [file, fileAsked] = list("trials", "from the file", [["", "none"], ...trials.map((name) => [name, name])]);
  const believe = make("input", { id: "believe", type: "checkbox" });
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
      button("What to make closer", () => ({ command: "tighten", target: wanted() })), targetAsked),
    other.options.length ? make("p", { class: "bar" },
      button("Compare", () => ({ command: "compare", other: other.value })), otherAsked) : null,
    make("p", { class: "bar" },
      button("Learn from a trial", () => ({ command: "learn", seen: several(seen), at: several(at),
        instruments: several(read), trials: file.value, believe: believe.checked })),
      seenAsked, atAsked, readAsked, trials.length ? fileAsked : null,
      make("span", { class: "asked" }, believe, " ", make("label", { for: "believe" }, "even if it contradicts what is stated"))),
    make("p", { class: "bar" }, write, make("label", { for: "write" },
      "Write the report, the bench card and the figures into this folder too")),
  ];
}

/** Lay out the actions that are about one input. */
export function inputActions(input, choices, found, act) {
  if (input.kind !== "build") {
    return null;
  }
  const fit = choices.instruments.filter((each) => each.quantity === input.quantity);
  const [reads, readsAsked] = field("reads", "it reads", { size: "8" });
  const [tool, toolAsked] = list("reads-with", "with", fit.map((each) => [each.name, each.words]));
  const [step, stepAsked] = field("window-step", "in steps of", { size: "7" });
  return make("div", { class: "acts" },
    make("p", { class: "bar" }, make("button", { type: "button",
      onclick: () => act({ command: "window", inputs: [input.name], step: several(step) }) },
    found ? "Where to set it, anew" : "Where to set it"), stepAsked),
    fit.length ? make("p", { class: "bar" }, make("button", { type: "button",
      onclick: () => act({ command: "built", measured: [`${input.name}=${reads.value}`], instruments: [`${input.name}=${tool.value}`] }) }, "Is it good?"),
    readsAsked, toolAsked) : null);
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

/** Lay out a slider that sets the nominal, along a strip of what works if that was found. */
export function slider(input, found, set) {
  const settings = found?.settings ?? input.settings;
  const reading = make("output", { for: "setting" });
  const tell = (place) => {
    const setting = settings[place];
    const kept = found ? `: every limit is kept ${hundred(setting.keeps)} times in 100 at random` : "";
    const work = !found || setting.works === null || found.single ? "" : `; ${hundred(setting.works)} of 100 work`;
    const words = `${setting.reads}${kept}${work}`;
    reading.textContent = words;
    range.setAttribute("aria-valuetext", words);
  };
  const range = make("input", {
    id: "setting", type: "range", min: "0", max: String(settings.length - 1), step: "1",
    oninput: (event) => tell(Number(event.target.value)),
    onchange: (event) => set(settings[Number(event.target.value)].stated),
  });
  const exact = settings.findIndex((setting) => setting.reads === input.drawn);
  range.value = String(exact >= 0 ? exact : nearest(settings, input.drawn));
  tell(Number(range.value));
  return make("div", { class: "window" },
    make("label", { for: "setting" }, "Set it"),
    found ? strip(found) : null, range, reading,
    found ? make("p", { class: "quiet" }, `${found.older ? "Found before the last change. " : ""}Bars: how many work, where that was counted. Line: how often every limit is kept at a moment taken at random. Dashes: what was asked for.`) : null);
}

/** The setting whose number is nearest to what is drawn; the middle where that is no number. */
function nearest(settings, drawn) {
  const wanted = parseFloat(drawn);
  const away = (setting) => Math.abs(parseFloat(setting.reads) - wanted);
  return Number.isNaN(wanted) ? settings.length >> 1
    : settings.reduce((best, setting, place) => (away(setting) < away(settings[best]) ? place : best), 0);
}
