// The page: what is on the board is the server's; this shows it, and asks for changes.

import { actionBar, commandLine, inputActions, slider } from "./actions.js";
import { inputCard, limitCard } from "./card.js";
import { gauge } from "./gauge.js";
import { differs, showBeginning, showChanged, showSchedule } from "./lists.js";
import { byId, make, told } from "./make.js";
import { mark, showDrawings, showSides, showViews } from "./sheet.js";
import { ask, inTurn, listen } from "./talk.js";

let board = null;
let choices = null;
let inHand = null;
let way = null;
let views = [];
let acting = false;
let entered = false;
let begun = false;
/** Windows that were found, by input: the strip along its slider. */
const windows = new Map();

const find = (name) => board.inputs.find((input) => input.name === name);
const result = (name) => board.results.find((each) => each.name === name);

function say(problem) {
  byId("problem").textContent = problem ?? "";
}

/** Ask for something in turn, and show what the board is then. */
async function change(address, body) {
  say("");
  try {
    const found = await inTurn(() => ask(address, body));
    show(found);
    return found;
  } catch (error) {
    say(error.message);
    return null;
  }
}

function show(found) {
  if (choices && found.units !== choices.units) {
    choices.units = found.units;
    ask("/choices").then((again) => { choices = again; showCard(); }, (error) => say(error.message));
  }
  const newer = !board || found.revision !== board.revision;
  board = found;
  byId("begin").hidden = !board.empty;
  byId("board").hidden = board.empty;
  byId("block").hidden = board.empty;
  if (board.empty) {
    showBeginning(board, choices);
    return;
  }
  document.title = `${board.unsaved ? "* " : ""}${board.title}`;
  byId("views-title").textContent = board.title;
  byId("note").textContent = board.note;
  byId("note").hidden = board.note === "";
  byId("cautions").textContent = board.cautions;
  byId("file").textContent = board.file;
  const count = board.changes.length;
  byId("state").textContent = !board.unsaved ? "saved" : board.fresh ? "not saved yet, kept in this folder"
    : `${count} ${count === 1 ? "change" : "changes"} not saved, kept beside the file`;
  if (document.activeElement !== byId("title")) {
    byId("title").value = board.title;
  }
  byId("undo").disabled = !board.undo;
  byId("redo").disabled = !board.redo;
  byId("save").disabled = !board.unsaved;
  showDrawn();
  showLimits();
  showSchedule(board, choices, (input) => missing(`inputs.${input.name}`), choose);
  showChanged(board);
  showActions();
  showCard();
  if (newer) {
    byId("views").setAttribute("aria-busy", "true");
    for (const id of ["gauge", "level-words", "whole", "drawings", "acted"]) {
      byId(id).classList.add("stale");
    }
    byId("doing").textContent = "being worked out";
    byId("progress").removeAttribute("value");
    byId("doing").parentElement.hidden = !board.whole;
    if (!board.whole) {
      byId("level-words").textContent = "Told once all is given.";
      byId("level-words").classList.remove("stale");
      byId("gauge").replaceChildren();
    }
  }
}

function showDrawn() {
  const place = byId("drawn");
  place.dataset.revision = board.revision;
  if (board.drawn) {
    told(place, board.drawn.html, board.drawn.rows, choose);
    place.querySelectorAll("tbody tr").forEach((row) => {
      row.classList.toggle("broken", row.lastElementChild.textContent.includes("broken"));
    });
    return;
  }
  const asked = board.faults.filter((fault) => fault.like !== null).length;
  place.replaceChildren(
    make("p", { id: "to-give" }, asked ? `${asked} still to be given.` : "To be put right:"),
    make("ul", { class: "faults" }, ...board.faults.map((fault) => {
      const name = fault.key.split(".")[1];
      const known = find(name);
      const number = known?.number ? `${known.number}, ` : "";
      const words = fault.like === null ? `${known ? known.words : fault.key}: ${fault.problem}`
        : `${number}${known?.words ?? fault.key}, like ${fault.like}`;
      return make("li", {}, known
        ? make("button", { type: "button", class: "place", onclick: () => choose(name) }, words)
        : words);
    })));
}

function showLimits() {
  if (!differs("limit-new", board.results)) {
    return;
  }
  const select = byId("limit-new");
  select.replaceChildren(make("option", { value: "" }, "choose a result"),
    ...board.results.filter((each) => each.stated === null).map((each) => make("option", { value: each.name }, each.words)));
}

function showActions() {
  if (differs("actions", [board.others, board.trials, board.unsaved, board.fresh])) {
    const typed = [...byId("actions").querySelectorAll("input, select")].map((each) => [each.id, each.value, each.checked]);
    byId("actions").replaceChildren(...actionBar(board, act).filter(Boolean));
    for (const [id, value, checked] of typed) {
      const again = byId(id);
      if (again && (again.type === "checkbox" || again.tagName === "INPUT" || [...again.options].some((each) => each.value === value))) {
        again.value = value;
        again.checked = checked;
      }
    }
  }
  for (const button of byId("actions").querySelectorAll("button")) {
    button.disabled = !board.whole;
  }
}

function missing(key) {
  const fault = board.faults.find((each) => each.like === null && (each.key === key || (each.key === key.replace(/\.nominal$/, "") && key.endsWith(".nominal"))));
  return fault ? { problem: fault.problem } : undefined;
}

/** An example of what is still to be given; nothing where it is given. */
function like(key) {
  const fault = board.faults.find((each) => each.like !== null && each.key === key);
  return fault ? `like ${fault.like}` : null;
}

/** Lay out the card of what is in hand, but leave a field alone while somebody types in it. */
function showCard() {
  const body = byId("card-body");
  const active = document.activeElement;
  const typing = body.contains(active) && active.matches("input:not([type=checkbox]):not([type=range])") ? active : null;
  const dirty = typing && typing.value !== typing.defaultValue && typing.value !== typing.dataset.sent;
  if (dirty && byId("card").dataset.name === inHand) {
    return; // laid out anew once it is entered
  }
  const start = typing?.selectionStart;
  const focused = body.contains(active) ? active.id : "";
  const open = [...body.querySelectorAll("details[open]")].map((each) => each.dataset.keep);
  const input = inHand && find(inHand);
  const limit = inHand && result(inHand);
  if (!input && !limit) {
    return;
  }
  const item = input ?? limit;
  byId("card").dataset.name = item.name;
  byId("card-title").replaceChildren(...(item.number ? [make("span", { class: "balloon" }, String(item.number)), " "] : []), item.words);
  const state = { refused: board.refused, missing, like, way, whole: board.whole, choseWay: (key) => { way = key; showCard(); } };
  const rows = input
    ? inputCard(input, state, choices, (pairs) => edit("inputs", pairs), inputActions(input, choices, windowOf(input.name), act), settingOf(input))
    : limitCard(limit, state, (pairs) => edit("limits", pairs), () => remove());
  body.replaceChildren(...rows.filter(Boolean));
  for (const button of body.querySelectorAll(".acts button")) {
    button.disabled = !board.whole;
  }
  for (const details of body.querySelectorAll("details")) {
    details.open = open.includes(details.dataset.keep);
  }
  const again = focused && byId(focused);
  if (again) {
    again.focus();
    if (typing) {
      again.setSelectionRange(start, start);
    }
  }
}

/** A slider for what can be set at assembly, or has had its window found. */
function settingOf(input) {
  const found = windowOf(input.name);
  return input.settings.length || found
    ? slider(input, found, (stated) => edit("inputs", [["nominal", stated]])) : null;
}

/** The window found for an input, and whether something was changed since. */
function windowOf(name) {
  const found = windows.get(name);
  return found && { ...found.strip, older: found.revision !== board.revision };
}

async function edit(table, pairs) {
  const name = inHand;
  const asked = toGive().includes(name);
  const onwards = entered;
  entered = false;
  const found = await change("/edit", { changes: pairs.map(([key, value]) => ({ path: [table, name, key], value })) });
  if (found?.taken && inHand === name) {
    way = null;
    showCard();
    const [next] = toGive();
    if (asked && onwards && next && next !== name) {
      choose(next);
    }
  }
}

/** Inputs that are still to be given, in the order of their numbers. */
function toGive() {
  return board.faults.filter((fault) => fault.like !== null).map((fault) => fault.key.split(".")[1]);
}

async function remove() {
  await change("/edit", { changes: [{ path: ["limits", inHand], value: null }] });
}

function choose(name) {
  inHand = name;
  way = null;
  mark(byId("views"), name);
  showCard();
  const field = byId("field-nominal");
  if (field && matchMedia("(pointer: fine)").matches) {
    field.focus({ preventScroll: true });
    field.select();
    byId("card").scrollIntoView({ block: "nearest" });
  } else {
    byId("card").focus({ preventScroll: false });
  }
}

async function act(what) {
  byId("refused").textContent = "";
  byId("acted").replaceChildren();
  try {
    await inTurn(() => ask("/act", what));
    acting = true;
    byId("doing").textContent = "being worked out";
    byId("acted").replaceChildren(make("p", { class: "quiet" }, "Being worked out. ",
      make("button", { type: "button", onclick: () => { ask("/stop", {}); byId("acted").replaceChildren(); acting = false; } }, "Stop")));
    byId("answer").focus();
  } catch (error) {
    byId("refused").textContent = error.message;
  }
}

// --- what is heard --------------------------------------------------------------------------

const heard = {
  views(message) {
    views = message.views;
    showViews(byId("views"), views, board.inputs, inHand, choose);
    byId("views").setAttribute("aria-busy", "false");
    byId("views").dataset.revision = message.revision;
    if (begun) {
      begun = false;
      scrollTo(0, 0);
      choose(inHand);
    }
  },
  drawing(message) {
    showDrawings(byId("drawings"), message.drawings);
    byId("drawings").classList.remove("stale");
  },
  level(message) {
    byId("gauge").replaceChildren(gauge(message));
    byId("level-words").textContent = message.words;
    for (const id of ["gauge", "level-words"]) {
      byId(id).classList.remove("stale");
      byId(id).dataset.stage = message.stage;
      byId(id).dataset.revision = message.revision;
    }
  },
  answer(message) {
    if (message.level.words) {
      heard.level({ ...message.level, stage: message.stage, revision: message.revision });
    }
    told(byId("whole"), message.html, message.rows, choose);
    byId("whole").append(commandLine(message.command, board.unsaved));
    byId("whole").classList.remove("stale");
  },
  acted(message) {
    acting = false;
    const place = byId("acted");
    place.classList.remove("stale");
    place.replaceChildren();
    const inner = make("div", {});
    told(inner, message.html, message.rows, choose);
    const verdict = verdictFirst(inner, message.verdict);
    place.append(make("h3", {}, `Answer of ${message.action}`), verdict, inner);
    if (message.strip) {
      windows.set(message.strip.name, { strip: message.strip, revision: message.revision });
      inHand = message.strip.name;
      mark(byId("views"), inHand);
      showCard();
    }
    if (message.sides) {
      place.append(showSides(message.sides, choose));
    }
    if (message.folder) {
      const named = { "report.html": "The report", "card.html": "The bench card, to print" };
      place.append(make("ul", { class: "written" }, ...message.pages.map((name) => make("li", {}, make("a", {
        href: `/written/${encodeURIComponent(message.folder)}/${name}`, target: "_blank", rel: "noopener",
      }, `${named[name]}, in ${message.folder}`)))));
    }
    place.append(commandLine(message.command, board.unsaved));
  },
  refused(message) {
    byId("refused").textContent = message.problem;
    if (acting) {
      acting = false;
      byId("acted").replaceChildren();
    }
    byId("views").setAttribute("aria-busy", "false");
  },
  progress(message) {
    const bar = byId("progress");
    bar.max = message.total;
    bar.value = message.count;
    byId("doing").textContent = message.stage;
  },
  done(message) {
    if (message.acted) {
      byId("doing").textContent = "";
      return;
    }
    byId("progress").value = byId("progress").max;
    byId("doing").textContent = "all worked out";
  },
  ended() {
    byId("doing").textContent = "";
    byId("refused").textContent = "What was computing was ended by the machine, most often for want of memory.";
  },
};

/** The verdict, which a terminal has at its end, before all else; it then stands there but once. */
function verdictFirst(inner, words) {
  const plain = (text) => text.replace(/\s+/g, " ").trim();
  const last = [...inner.querySelectorAll("p, ul")].filter((each) => plain(each.innerText || each.textContent) === plain(words));
  last.forEach((each) => each.remove());
  return make("p", { class: "verdict" }, words);
}

function hear(message) {
  // Late answers, about what the board is no longer, are not shown.
  if (board && message.revision === board.revision) {
    heard[message.kind]?.(message);
  } else if (board && message.revision > board.revision) {
    refresh().then(() => { if (message.revision === board.revision) { heard[message.kind]?.(message); } });
  }
}

async function refresh() {
  try {
    show(await ask("/state"));
  } catch (error) {
    say(error.message);
  }
}

// --- the beginning --------------------------------------------------------------------------

async function begin(event) {
  event.preventDefault();
  const models = [...byId("models").querySelectorAll("input:checked")].map((each) => each.value);
  try {
    show(await inTurn(() => ask("/begin", { models, file: byId("begin-file").value.trim(), units: byId("begin-units").value })));
    inHand = toGive()[0] ?? board.inputs[0].name;
    begun = true; // it is taken in hand once it stands on the drawing
    showCard();
  } catch (error) {
    byId("begin-problem").textContent = error.message;
  }
}

// --- keys and tools -------------------------------------------------------------------------

let over = false;
async function save() {
  const found = await change("/save", { over });
  over = found === null && byId("problem").textContent.includes("Save again");
}

function keys(event) {
  if (!(event.ctrlKey || event.metaKey) || !board || board.empty) {
    return;
  }
  const key = event.key.toLowerCase();
  const typing = event.target.matches?.("input:not([type=checkbox]):not([type=range])");
  if (key === "s") {
    event.preventDefault();
    event.target.blur?.();
    save();
  } else if (!typing && key === "z" && !event.shiftKey) {
    event.preventDefault();
    change("/undo", {});
  } else if (!typing && (key === "y" || (key === "z" && event.shiftKey))) {
    event.preventDefault();
    change("/redo", {});
  }
}

async function start() {
  byId("undo").addEventListener("click", () => change("/undo", {}));
  byId("redo").addEventListener("click", () => change("/redo", {}));
  byId("save").addEventListener("click", save);
  byId("title").addEventListener("change", (event) => change("/edit", { changes: [{ path: ["title"], value: event.target.value }] }));
  byId("limit-new").addEventListener("change", (event) => { if (event.target.value) { choose(event.target.value); } });
  byId("begin-form").addEventListener("submit", begin);
  document.addEventListener("keydown", keys);
  byId("card").addEventListener("keydown", (event) => { entered = event.key === "Enter"; });
  choices = await ask("/choices");
  show(await ask("/state"));
  listen(hear, (gone) => {
    if (gone) {
      say("The board does not answer; waiting for it.");
    } else if (byId("problem").textContent.startsWith("The board does not answer")) {
      say("");
      refresh();
    }
  });
}

start().catch((error) => {
  document.body.prepend(make("p", { class: "problem" }, error.message));
});
