// What the commands do, as actions on the board; each shows the command line for the same.

import { bar, button, field, folded, list, numberOf, pairsOf, quantityOf, tick } from "./fields.js";
import { strip } from "./gauge.js";
import { make } from "./make.js";
import { page } from "./state.js";

/** Lay out the actions that are about the whole study; again() lays them out anew. */
export function actionBar({ others, trials, readings: tables, unsaved, fresh }, act, readings, again) {
  const [write, writeAsked] = tick("write", "Write the report, the bench card and the figures into this folder too");
  const doing = (words, what) => button(words, () => act({ ...what(), write: write.checked }));
  const [until, untilAsked] = field("measure-target", "until so many of 100 work", { inputmode: "decimal", size: "4" });
  const [target, targetAsked] = field("target", "so that of 100 work", { value: "95", inputmode: "decimal", size: "4" });
  const [other, otherAsked] = list("other", "with", [
    ...others.map((name) => [name, name])]);
  const hands = page.choices.instruments.map((each) => [each.name, ...tick(`at-hand-${each.name}`, each.words)])
    .map(([name, box, asked]) => [{ name, box }, asked]);
  const atHand = () => hands.filter(([{ box }]) => box.checked).map(([{ name }]) => name);
  const changed = unsaved && !fresh
    ? doing("Compare with this one as saved", () => ({ command: "compare", other: "as saved" }))
    : null;
  return [
    bar(doing("Run it in full", () => ({ command: "run" })), doing("Worst case", () => ({ command: "check" })),
      doing("What to draw elsewhere", () => ({ command: "redraw" })), changed),
    bar(doing("What to measure", () => ({ command: "measure", target: numberOf(until), at_hand: atHand() })), untilAsked),
    folded("at-hand", "With the instruments that I have", bar(...hands.map(([, asked]) => asked))),
    bar(doing("What to make closer", () => ({ command: "tighten", target: numberOf(target) })), targetAsked),
    noted(readings(), tables, doing, again),
    other.options.length ? bar(doing("Compare", () => ({ command: "compare", other: other.value })), otherAsked) : null,
    ...trial(trials, doing),
    bar(writeAsked),
  ];
}

/** Readings that were noted, and whether the part is good by all of them. */
function noted(readings, tables, doing, again) {
  if (!readings.length && !tables.length) {
    return null;
  }
  const [file, fileAsked] = list("readings", "readings of the file", [["", "none"], ...tables.map((name) => [name, name])]);
  const [believe, believeAsked] = tick("built-believe", "even if they contradict what is stated");
  const forget = (name) => () => { page.readings.delete(name); again(); };
  return make("div", { class: "noted" },
    bar(doing("Is it good, as read?", () => ({ ...builtBy(readings), readings: file.value, believe: believe.checked })),
      tables.length ? fileAsked : null, believeAsked),
    make("ul", { "aria-label": "Readings noted" }, ...readings.map(({ name, words, reads, tool, toolWords }) => make("li", {},
      `${words} reads ${reads}${tool ? `, ${toolWords}` : ""} `, button("Forget it", forget(name), { "aria-label": `Forget the reading of ${words}` })))));
}

const builtBy = (readings) => ({
  command: "built",
  measured: readings.map(({ name, reads }) => `${name}=${reads}`),
  instruments: readings.filter(({ tool }) => tool).map(({ name, tool }) => `${name}=${tool}`),
});

/** What was seen in a trial, and what to keep of it. */
function trial(trials, doing) {
  const [seen, seenAsked] = field("seen", "seen", { placeholder: "it floods; rise 8.2 mm", size: "18" });
  const [at, atAsked] = field("at", "while held", { placeholder: "grade 0.5 %", size: "14" });
  const [read, readAsked] = field("seen-with", "read with", { placeholder: "rise steel rule", size: "14" });
  const [file, fileAsked] = list("trials", "from the file", [["", "none"], ...trials.map((name) => [name, name])]);
  const [doubts, doubtsAsked] = field("save-doubts", "keep what it says of the physics in", { placeholder: "a file's name", size: "12" });
  const [believe, believeAsked] = tick("believe", "even if it contradicts what is stated");
  const things = () => [...page.board.inputs, ...page.board.results];
  return [
    bar(doing("Learn from a trial", () => ({ command: "learn", seen: pairsOf(seen, things()), at: pairsOf(at, things()),
      instruments: pairsOf(read, things(), page.choices.instruments), trials: file.value, believe: believe.checked, doubts: doubts.value.trim().replace(/^[^.]+$/, "$&.json") })),
    seenAsked, atAsked, readAsked, trials.length ? fileAsked : null, believeAsked, doubtsAsked)];
}

/** Lay out the actions that are about one input, or one result that can be read. */
export function inputActions(item, input, act, again) {
  const parts = [
    ...(input && item.kind === "build" ? setting(item, act) : []),
    ...(item.kind === "build" || item.read ? reading(item, act, again) : []),
  ];
  return parts.length ? make("div", { class: "acts" }, ...parts) : null;
}

/** Where to set it: alone or together with another, as far as it matters or as far as is said. */
function setting(item, act) {
  const others = page.board.inputs.filter((each) => each.kind === "build" && each.name !== item.name);
  const [second, secondAsked] = list("window-second", "together with", [["", "nothing else"], ...others.map((each) => [each.name, each.words])]);
  const row = (id, words) => {
    const [from, fromAsked] = field(`${id}-from`, `${words}, from`, { size: "7" });
    const [to, toAsked] = field(`${id}-to`, "to", { size: "7", "aria-label": `${words}, to` });
    const [step, stepAsked] = field(`${id}-step`, "in steps of", { size: "7", "aria-label": `${words}, in steps of` });
    return [[from, to, step], bar(fromAsked, toAsked, stepAsked)];
  };
  const [own, ownRow] = row("window", "this one");
  const [others_, othersRow] = row("window-second", "the other");
  const [target, targetAsked] = field("window-target", "so that of 100 work", { inputmode: "decimal", size: "4", placeholder: "95" });
  const asked = () => {
    const other = others.find((each) => each.name === second.value);
    const pairs = own.map((each, at) => [quantityOf(each, item.unit), other ? quantityOf(others_[at], other.unit) : ""]);
    const said = ([mine, its]) => (mine || its ? [mine, ...(other ? [its] : [])] : []);
    const [lowest, highest, step] = pairs.map(said);
    return { command: "window", inputs: [item.name, ...(other ? [other.name] : [])], lowest, highest, step, target: numberOf(target) };
  };
  return [
    bar(button(page.windows.has(item.name) ? "Where to set it, anew" : "Where to set it", () => act(asked()))),
    folded("window", "Two together, or how far and how finely", bar(secondAsked), ownRow, othersRow, bar(targetAsked)),
  ];
}

/** What it reads, noted or asked of at once, with all that was noted. */
function reading(item, act, again) {
  const fit = page.choices.instruments.filter((each) => each.quantity === item.quantity);
  if (!fit.length) {
    return [];
  }
  const before = page.readings.get(item.name);
  const [reads, readsAsked] = field("reads", "it reads", { size: "8", value: before?.reads ?? "" });
  const [tool, toolAsked] = list("reads-with", "with", fit.map((each) => [each.name, each.words]), before?.tool);
  const note = () => {
    const typed = quantityOf(reads, item.unit);
    if (typed === "") {
      reads.focus();
      return false;
    }
    reads.value = typed;
    page.readings.set(item.name, { words: item.words, reads: typed, tool: tool.value, toolWords: tool.selectedOptions[0].textContent });
    again();
    return true;
  };
  const all = () => builtBy([...page.readings].map(([name, read]) => ({ name, ...read })));
  return [bar(readsAsked, toolAsked, button("Note it", note),
    button("Is it good?", () => { if (note()) { act(all()); } }))];
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
    say(`${setting.reads}${kept}${work}`);
  };
  const say = (words) => {
    reading.textContent = words;
    range.setAttribute("aria-valuetext", words);
  };
  const range = make("input", {
    id: "setting", type: "range", min: "0", max: String(settings.length - 1), step: "1",
    oninput: (event) => tell(Number(event.target.value)),
    onchange: (event) => set(settings[Number(event.target.value)].stated),
  });
  const [first, last] = [settings[0], settings[settings.length - 1]];
  const { at } = input;
  if (at === null) {
    range.value = String(settings.length >> 1);
    say("");
  } else {
    const place = nearest(settings, at.value);
    range.value = String(place);
    const near = 1e-7 * Math.max(Math.abs(first.value), Math.abs(last.value));
    const outside = at.value < first.value - near || at.value > last.value + near;
    range.classList.toggle("outside", outside);
    if (outside) {
      say(`It is drawn at ${at.reads}: outside of ${first.reads} to ${last.reads}, over which this slider goes.`);
    } else {
      tell(place);
      if (Math.abs(settings[place].value - at.value) > near) {
        say(`It is drawn at ${at.reads}; the nearest here is ${reading.textContent}`);
      }
    }
  }
  return make("div", { class: "window" },
    make("label", { for: "setting" }, "Set it"),
    found ? strip(found) : null, range,
    make("p", { class: "ends quiet", "aria-hidden": "true" }, make("span", {}, first.reads), make("span", {}, last.reads)), reading,
    found ? make("p", { class: "quiet" }, `${found.older ? "Found before the last change. " : ""}Bars: how many work, where that was counted. Line: how often every limit is kept at a moment taken at random. Dashes: what was asked for.`) : null);
}

/** The setting that is nearest to what is drawn. */
function nearest(settings, drawn) {
  const away = (setting) => Math.abs(setting.value - drawn);
  return settings.reduce((best, setting, place) => (away(setting) < away(settings[best]) ? place : best), 0);
}
