// What is on the board, shown: the margins first, and all else when these are painted.

import { actionBar } from "./actions.js";
import { act } from "./acts.js";
import { choose, showCard } from "./hand.js";
import { showBeginning, showChanged, showSchedule } from "./lists.js";
import { byId, make, told } from "./make.js";
import { showPaper } from "./paper.js";
import { relabel } from "./sheet.js";
import { say } from "./asking.js";
import { differs, inputOf, missing, page } from "./state.js";
import { ask } from "./talk.js";

const FOLLOWING = ["gauge", "level-words", "brief-level", "whole", "drawings", "acted"];

/** Show what an edit is answered with first: the margins as drawn, and what is wrong. */
export function showNear(found) {
  const newer = !page.board || found.revision !== page.board.revision;
  page.board = { ...page.board, ...found };
  showDrawn();
  byId("undo").disabled = !found.undo;
  byId("redo").disabled = !found.redo;
  byId("save").disabled = !found.unsaved;
  byId("compare").hidden = !found.unsaved || !found.whole || page.board.fresh !== false;
  if (newer) {
    stale(found.whole);
  }
}

/** Show all that is on the board. */
export function showAll(found) {
  if (page.choices && found.units !== (page.choices.coming ?? page.choices.units)) {
    page.choices.coming = found.units; // the card is laid out anew when they have come
    ask("/choices").then((again) => { page.choices = again; showCard(); }, (error) => say(error.message));
  }
  byId("begin").hidden = !found.empty;
  byId("board").hidden = found.empty;
  byId("block").hidden = found.empty;
  if (found.empty) {
    page.board = found;
    showBeginning(found, page.choices);
    return;
  }
  showNear(found);
  write("views-title", found.title);
  write("note", found.note);
  byId("note").hidden = found.note === "";
  write("cautions", found.cautions);
  write("file", found.file);
  const count = found.changes.length;
  write("state", !found.unsaved ? "saved" : found.fresh ? "not saved yet, kept in this folder"
    : `${count} ${count === 1 ? "change" : "changes"} not saved, kept beside the file`);
  document.title = `${found.unsaved ? "* " : ""}${found.title}`;
  if (document.activeElement !== byId("title")) {
    byId("title").value = found.title;
  }
  showLimits();
  showSchedule(found, page.choices, (input) => missing(`inputs.${input.name}`), choose);
  showChanged(found);
  showActions();
  showPaper();
  showCard();
  relabel(byId("views"), found.inputs);
}

function write(id, words) {
  if (byId(id).textContent !== words) {
    byId(id).textContent = words;
  }
}

/** Say that what followed from an older drawing is being worked out anew. */
function stale(whole) {
  byId("views").setAttribute("aria-busy", "true");
  for (const id of FOLLOWING) {
    byId(id).classList.add("stale");
  }
  write("doing", "being worked out");
  byId("progress").value = 0;
  byId("doing").parentElement.hidden = !whole;
  if (!whole) {
    write("level-words", "Told once all is given.");
    write("brief-level", "");
    byId("level-words").classList.remove("stale");
    byId("gauge").replaceChildren();
  }
}

function showDrawn() {
  const { board } = page;
  const place = byId("drawn");
  place.dataset.revision = board.revision;
  if (!differs("drawn", [board.drawn, board.drawn ? [] : board.faults, board.exact])) {
    return;
  }
  if (board.drawn) {
    told(place, board.drawn.html, board.drawn.rows, choose);
    place.prepend(...exact(board));
    const rows = [...place.querySelectorAll("tbody tr")];
    const broken = rows.map((row) => row.classList.toggle("broken", row.lastElementChild.textContent.includes("broken")));
    const count = broken.filter(Boolean).length;
    brief(!rows.length ? "" : count ? `as drawn ${count} of ${rows.length} limits broken` : "as drawn all limits kept");
    return;
  }
  const asked = board.faults.filter((fault) => fault.like !== null).length;
  brief(asked ? `${asked} still to be given` : "to be put right");
  place.replaceChildren(
    make("p", { id: "to-give" }, asked ? `${asked} still to be given.` : "To be put right:"),
    make("ul", { class: "faults" }, ...board.faults.map((fault) => {
      const name = fault.key.split(".")[1];
      const known = board.inputs && inputOf(name);
      const number = known?.number ? `${known.number}, ` : "";
      const words = fault.like === null ? `${known ? known.words : fault.key}: ${fault.problem}`
        : `${number}${known?.words ?? fault.key}, like ${fault.like}`;
      return make("li", {}, known
        ? make("button", { type: "button", class: "place", onclick: () => choose(name) }, words)
        : words);
    })), ...exact(board));
}

/** Those held exactly beside others of their kind that vary, each to be looked at. */
function exact(board) {
  return !board.exact?.length || !board.inputs ? [] : [
    make("p", { id: "exact" }, "Held exactly, where others of its kind vary; to be looked at:"),
    make("ul", { class: "faults" }, ...board.exact.map((name) => make("li", {}, make("button",
      { type: "button", class: "place", onclick: () => choose(name) },
      `${inputOf(name).number}, ${inputOf(name).words}`))))];
}

/** The same in short, where the margins may be out of sight. */
function brief(words) {
  byId("brief-drawn").textContent = words;
}

function showLimits() {
  const { results } = page.board;
  if (!differs("limit-new", results)) {
    return;
  }
  byId("limit-new").replaceChildren(make("option", { value: "" }, "choose a result"),
    ...results.filter((each) => each.stated === null).map((each) => make("option", { value: each.name }, each.words)));
}

/** Lay out the actions on the whole study, keeping what was typed there. */
export function showActions() {
  const { board, readings } = page;
  const bar = byId("actions");
  if (differs("actions", [board.others, board.trials, board.readings, page.choices.units, board.unsaved, board.fresh, [...readings]])) {
    const typed = [...bar.querySelectorAll("input, select")].map((each) => [each.id, each.value, each.checked]);
    const open = [...bar.querySelectorAll("details[open]")].map((each) => each.dataset.keep);
    const focused = bar.contains(document.activeElement) ? document.activeElement.id : "";
    bar.replaceChildren(...actionBar(board, act, readingsNow, () => { showActions(); showCard(); }).filter(Boolean));
    for (const [id, value, checked] of typed) {
      const again = byId(id);
      if (again && (again.tagName === "INPUT" || [...again.options].some((each) => each.value === value))) {
        again.value = value;
        again.checked = checked;
      }
    }
    for (const details of bar.querySelectorAll("details")) {
      details.open = open.includes(details.dataset.keep);
    }
    if (focused) {
      byId(focused)?.focus({ preventScroll: true });
    }
  }
  for (const button of bar.querySelectorAll("button")) {
    button.disabled = !board.whole;
  }
}

/** What was noted as read off the finished part: each with its words. */
function readingsNow() {
  return [...page.readings].map(([name, read]) => ({ name, ...read }));
}
