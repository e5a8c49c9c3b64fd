// Changing what is on the board: first the margins are shown and painted, then the rest.

import { byId } from "./make.js";
import { page } from "./state.js";
import { ask, inTurn } from "./talk.js";

const showing = {};
let answered = 0; // changes, so that what was asked before one does not write over what came of it

/** Take how the board is shown: near(found) its margins at once, all(found) everything. */
export function shownBy(near, all) {
  Object.assign(showing, { near, all });
}

export function say(problem) {
  byId("problem").textContent = problem ?? "";
}

/** Resolves when what was written on the page is painted, or soon where nothing is painted. */
export function painted() {
  return new Promise((done) => {
    const late = setTimeout(done, 120); // a page behind another paints nothing
    requestAnimationFrame(() => {
      const { port1, port2 } = new MessageChannel();
      port1.onmessage = () => { clearTimeout(late); done(); };
      port2.postMessage(null);
    });
  });
}

/** Ask for something in turn, and show what the board is then. */
export async function change(address, body) {
  say("");
  try {
    const found = await inTurn(() => ask(address, body));
    answered += 1;
    if (found.inputs) {
      showing.all(found);
      return found;
    }
    if (!page.board || found.revision >= page.board.revision) {
      showing.near(found);
      await painted();
    }
    if (found.revision === page.board.revision) { // else a newer edit asks for the rest
      await rest();
    }
    return found;
  } catch (error) {
    say(error.message);
    return null;
  }
}

/** Show all that is on the board, once what is nearest is painted. */
async function rest() {
  const before = answered;
  const found = await ask("/rest", {});
  if (answered === before && found.revision >= page.board.revision) { // else a later change asks again
    showing.all(found);
  }
}

/** Ask anew for all that is on the board. */
export async function refresh() {
  try {
    showing.all(await ask("/state"));
  } catch (error) {
    say(error.message);
  }
}
