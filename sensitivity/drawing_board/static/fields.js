// Small labelled fields, for what an action takes.

import { make } from "./make.js";

/** A list of words, from what was typed with semicolons between. */
export const several = (field) => field.value.split(";").map((each) => each.trim()).filter(Boolean);

/** Pairs of a command from words: "burner height 8.2 mm" is of the thing whose words it begins with,
 *  and so is what stands behind them if that is one of the values. What is neither stays as typed. */
export const pairsOf = (field, things, values = []) => several(field).map((typed) => {
  const named = (among, text) => among.filter(({ name, words }) => [name, words].some((each) => `${text} `.startsWith(`${each} `)))
    .sort((one, other) => other.words.length - one.words.length)[0];
  const thing = named(things, typed);
  if (!thing) {
    return typed;
  }
  const rest = typed.slice(typed.startsWith(thing.words) ? thing.words.length : thing.name.length).trim();
  return rest ? `${thing.name}=${named(values, rest)?.name ?? rest}` : typed;
});

/** A number as typed by whoever writes a comma in it; nothing where none was typed. */
export const numberOf = (field) => (field.value.trim() === "" ? null : Number(field.value.replace(",", ".")));

/** A quantity as typed; a bare number is in the unit that is said here. */
export function quantityOf(field, unit) {
  const typed = field.value.trim();
  return /^[-+−]?[\d.,/ ¼½¾⅛⅜⅝⅞]+$/.test(typed) && unit ? `${typed} ${unit}` : typed;
}

const asked = (id, words, control) =>
  [control, make("span", { class: "asked" }, make("label", { for: id }, words), " ", control)];

/** A field with its label: the field itself, and both as they are laid out. */
export const field = (id, words, attributes = {}) =>
  asked(id, words, make("input", { id, autocomplete: "off", spellcheck: "false", ...attributes }));

/** A list to choose from with its label; options are [value, words], or one chosen already. */
export const list = (id, words, options, chosen = null) =>
  asked(id, words, make("select", { id }, ...options.map(([value, said]) =>
    make("option", { value, selected: value === chosen }, said))));

/** A box to tick with its label. */
export function tick(id, words) {
  const box = make("input", { id, type: "checkbox" });
  return [box, make("span", { class: "asked" }, box, " ", make("label", { for: id }, words))];
}

export const button = (words, onclick, attributes = {}) =>
  make("button", { type: "button", onclick, ...attributes }, words);

export const bar = (...parts) => make("p", { class: "bar" }, ...parts.filter(Boolean));

/** What is seldom wanted, folded; it stays open by its name. */
export const folded = (keep, words, ...parts) =>
  make("details", { "data-keep": keep }, make("summary", {}, words), ...parts);
