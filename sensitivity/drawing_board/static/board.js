// The page: what is on the board is the server's; this begins, and hears keys and buttons.

import { act } from "./acts.js";
import { change, refresh, say, shownBy } from "./asking.js";
import { actedBy, choose, showCard } from "./hand.js";
import { hear, takeWhenDrawn } from "./heard.js";
import { byId, make } from "./make.js";
import { paperBar } from "./paper.js";
import { showActions, showAll, showNear } from "./shown.js";
import { page, toGive } from "./state.js";
import { ask, inTurn, listen } from "./talk.js";

async function begin(event) {
  event.preventDefault();
  const models = [...byId("models").querySelectorAll("input:checked")].map((each) => each.value);
  try {
    showAll(await inTurn(() => ask("/begin", { models, file: byId("begin-file").value.trim(), units: byId("begin-units").value })));
    page.inHand = toGive()[0] ?? page.board.inputs[0].name;
    takeWhenDrawn();
    showCard();
  } catch (error) {
    byId("begin-problem").textContent = error.message;
  }
}

let over = false;
async function save() {
  const found = await change("/save", { over });
  over = found === null && byId("problem").textContent.includes("Save again");
}

function keys(event) {
  if (!(event.ctrlKey || event.metaKey) || !page.board || page.board.empty) {
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

const LEFT = "left";

/** Note what is in hand and where the page is, for when it is loaded again. */
function remember() {
  sessionStorage.setItem(LEFT, JSON.stringify({
    file: page.board.file, inHand: page.inHand, readings: [...page.readings], scroll: scrollY,
    open: [...document.querySelectorAll("#card-body details[open]")].map((each) => each.dataset.keep),
  }));
}

/** Show what is on the board, and take in hand what was before the page was loaded again. */
function asBefore(found) {
  const left = JSON.parse(sessionStorage.getItem(LEFT) ?? "{}");
  if (found.empty || left.file !== found.file) {
    showAll(found);
    return;
  }
  Object.assign(page, { inHand: left.inHand, readings: new Map(left.readings), scroll: left.scroll });
  showAll(found);
  for (const keep of left.open) {
    document.querySelector(`#card-body [data-keep="${keep}"]`)?.setAttribute("open", "");
  }
}

const SILENT = "The board does not answer";

async function start() {
  shownBy(showNear, showAll);
  actedBy(act, showActions);
  paperBar(act);
  byId("compare").addEventListener("click", () => act({ command: "compare", other: "as saved" }));
  byId("undo").addEventListener("click", () => change("/undo", {}));
  byId("redo").addEventListener("click", () => change("/redo", {}));
  byId("save").addEventListener("click", save);
  byId("title").addEventListener("change", (event) => change("/edit", { changes: [{ path: ["title"], value: event.target.value }] }));
  byId("limit-new").addEventListener("change", (event) => { if (event.target.value) { choose(event.target.value); } });
  byId("begin-form").addEventListener("submit", begin);
  document.addEventListener("keydown", keys);
  page.choices = await ask("/choices");
  asBefore(await ask("/state"));
  addEventListener("pagehide", remember);
  listen(hear, (gone) => {
    if (gone) {
      say(`${SILENT}; waiting for it.`);
    } else if (byId("problem").textContent.startsWith(SILENT)) {
      say("");
      refresh();
    }
  });
}

start().catch((error) => {
  document.body.prepend(make("p", { class: "problem" }, error.message));
});
