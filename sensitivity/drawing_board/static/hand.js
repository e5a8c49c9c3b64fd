// The dimension or limit in hand: taken from the drawing or a list, and changed on its card.

import { inputActions, slider } from "./actions.js";
import { change } from "./asking.js";
import { inputCard, limitCard } from "./card.js";
import { byId, make } from "./make.js";
import { mark } from "./sheet.js";
import { differs, inputOf, like, missing, page, resultOf, toGive, windowOf } from "./state.js";

const TEXT = "input:not([type=checkbox]):not([type=range])";
let entered = false;
/** What is in hand and was still to be given when it was taken: one is led on from it. */
let led = null;
/** Whether it was entered with nothing new in it, while an edit was on its way. */
let onceDone = false;
/** Edits whose answer is not shown yet: until then the card shows what was typed. */
let pending = 0;
const doing = {};

/** Take what does an action and what shows the actions anew; and note when a value is entered by
 *  its key. */
export function actedBy(act, again) {
  Object.assign(doing, { act, again: () => { again(); showCard(); } });
  byId("card").addEventListener("keydown", (event) => {
    const enter = event.key === "Enter" && event.target.matches(TEXT);
    entered = enter && unsent(event.target); // else no change of it will be told
    if (enter && !entered && event.target.getAttribute("aria-invalid") === "true") {
      event.target.dispatchEvent(new Event("change")); // what was asked back is meant
    } else if (enter && !entered && event.target.id === "field-nominal") {
      onceDone = pending > 0;
      if (!onceDone) {
        goOn(page.inHand);
      }
    }
  });
  byId("card").addEventListener("focusout", () => setTimeout(() => { if (!pending) { showCard(); } }));
}

/** Take the next in hand that is still to be given, where one was led to this. */
function goOn(name) {
  const [next] = toGive();
  if (led === name && next && next !== name) {
    choose(next);
  }
}

/** Lay out the card of what is in hand, but leave a field alone while somebody types in it. */
export function showCard() {
  const { board, inHand, way } = page;
  const body = byId("card-body");
  const active = document.activeElement;
  const typing = body.contains(active) && active.matches(TEXT) ? active : null;
  const typedIn = (typing && unsent(typing)) || (pending > 0 && body.contains(active));
  if (typedIn && byId("card").dataset.name === inHand) {
    return; // laid out anew once it is entered and answered
  }
  if (byId("card").dataset.name !== inHand) {
    led = toGive().includes(inHand) ? inHand : null;
  }
  const input = inHand && inputOf(inHand);
  const item = input || (inHand && resultOf(inHand));
  if (!item) {
    return;
  }
  if (!differs("card", told(item, input)) && byId("card").dataset.name === inHand) {
    written(item);
    return;
  }
  const start = typing?.selectionStart;
  const focused = body.contains(active) ? active.id : "";
  const half = byId("card").dataset.name !== item.name ? []
    : [...body.querySelectorAll(TEXT)].filter(unsent).map((each) => [each.id, each.value]);
  const open = [...body.querySelectorAll("details[open]")].map((each) => each.dataset.keep);
  byId("card").dataset.name = item.name;
  byId("card-title").replaceChildren(...(item.number ? [make("span", { class: "balloon" }, String(item.number)), " "] : []), item.words);
  const state = { refused: board.refused, missing, like, way, whole: board.whole, choseWay: (key) => { page.way = key; showCard(); } };
  const acts = inputActions(item, Boolean(input), doing.act, doing.again);
  const rows = input
    ? inputCard(input, state, page.choices, (pairs) => edit("inputs", pairs), acts, settingOf(input))
    : limitCard(item, state, (pairs) => edit("limits", pairs), remove, acts);
  body.replaceChildren(...rows.filter(Boolean));
  for (const button of body.querySelectorAll(".acts button")) {
    button.disabled = !board.whole;
  }
  for (const details of body.querySelectorAll("details")) {
    details.open = open.includes(details.dataset.keep);
  }
  for (const [id, value] of half) {
    const field = byId(id);
    if (field) {
      field.value = value;
    }
  }
  const again = focused && byId(focused);
  if (again) {
    again.focus({ preventScroll: true });
    if (typing) {
      again.setSelectionRange(start, start);
    }
  }
}

/** Whether something is typed in a field that was not asked for yet: one end of two, say. */
function unsent(field) {
  return field.value !== field.defaultValue && field.value !== field.dataset.sent;
}

/** What a card is laid out from; the nominal is written into it as it stands. */
function told(item, input) {
  const { board, way, choices } = page;
  const table = `${input ? "inputs" : "limits"}.${item.name}`;
  const own = (key) => key === table || key.startsWith(`${table}.`);
  const slides = input && (item.settings.length || windowOf(item.name));
  const stated = item.stated && { ...item.stated };
  if (stated && typeof stated.nominal === "string") {
    stated.nominal = slides ? stated.nominal : "";
  }
  return [{ ...item, stated, drawn: slides ? item.drawn : "", at: slides ? item.at : null }, way, choices.units, board.whole,
    Object.entries(board.refused).filter(([key]) => own(key)), board.faults.filter((fault) => own(fault.key)),
    windowOf(item.name), page.readings.get(item.name)];
}

/** Write the nominal as the study has it now into its field, once nobody types there: what is
 *  written between two keys would be mixed with them. */
function written(item) {
  const field = byId("field-nominal");
  const stated = item.stated?.nominal;
  const refused = page.board.refused[`inputs.${item.name}.nominal`]; // what was typed is to stay
  if (field && !refused && field !== document.activeElement && typeof stated === "string" && field.value !== stated) {
    field.defaultValue = stated;
    field.value = stated;
  }
}

/** A slider for what can be set at assembly, or has had its window found. */
function settingOf(input) {
  const found = windowOf(input.name);
  return input.settings.length || found
    ? slider(input, found, (stated) => edit("inputs", [["nominal", stated]])) : null;
}

async function edit(table, pairs) {
  const name = page.inHand;
  const onwards = entered;
  entered = false;
  pending += 1;
  const found = await change("/edit", { changes: pairs.map(([key, value]) => ({ path: [table, name, key], value })) });
  pending -= 1;
  const mine = found?.taken && page.inHand === name;
  page.way = mine ? null : page.way;
  showCard();
  if (mine) {
    if (onwards || onceDone) {
      goOn(name);
    }
    onceDone = false;
  }
}

async function remove() {
  await change("/edit", { changes: [{ path: ["limits", page.inHand], value: null }] });
}

/** Take a dimension in hand, at the field of a range of it. */
export function giveRange(name, key) {
  choose(name);
  byId("card-body").querySelector("[data-keep=more]").open = true;
  byId(`field-${key}-0`).focus();
}

/** Take a dimension or a limit in hand. */
export function choose(name) {
  page.inHand = name;
  page.way = null;
  mark(byId("views"), name);
  showCard();
  const field = byId("field-nominal");
  if (field && matchMedia("(pointer: fine)").matches) {
    field.focus({ preventScroll: true });
    field.select();
    byId("card").scrollIntoView({ block: "nearest" });
  } else {
    byId("card").focus({ preventScroll: true });
    byId("card").scrollIntoView({ block: "start" });
  }
}
