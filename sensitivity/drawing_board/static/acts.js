// Having a command done on what is on the board, and showing its answer.

import { commandLine } from "./actions.js";
import { choose, showCard } from "./hand.js";
import { byId, make, told } from "./make.js";
import { mark, showSides } from "./sheet.js";
import { pageLink, tellPaper, tookPaper } from "./paper.js";
import { page } from "./state.js";
import { ask, inTurn } from "./talk.js";

/** Ask for an action, perhaps for the sake of a page that it writes; its answer is heard. */
export async function act(what, wanted = null) {
  byId("refused").textContent = "";
  byId("acted").replaceChildren();
  try {
    await inTurn(() => ask("/act", what));
    page.acting = true;
    page.wanted = wanted;
    tellPaper("Being worked out in full; it is linked here when it is written.");
    byId("doing").textContent = "being worked out";
    byId("acted").classList.remove("stale");
    byId("acted").replaceChildren(make("p", { class: "quiet" }, "Being worked out. ",
      make("button", { type: "button", onclick: stop }, "Stop")));
    if (!wanted) {
      byId("answer").focus();
    }
  } catch (error) {
    byId("refused").textContent = error.message;
    page.wanted = wanted;
    tellPaper(error.message);
  }
}

function stop() {
  ask("/stop", {}).catch((error) => { byId("refused").textContent = error.message; });
  byId("acted").replaceChildren();
  tellPaper("Stopped.");
  page.acting = false;
  page.wanted = null;
}

/** Show the answer of an action, just heard or of before the page was loaded again. */
export function showActed(message, before = false) {
  page.acting = false;
  const place = byId("acted");
  place.classList.remove("stale");
  const inner = make("div", {});
  told(inner, message.html, message.rows, choose);
  const verdict = verdictFirst(inner, message.verdict);
  place.replaceChildren(make("h3", {}, `Answer of ${message.action}`), verdict, inner);
  if (message.strip && !before) {
    page.windows.set(message.strip.name, { strip: message.strip, revision: message.revision });
    page.inHand = message.strip.name;
    mark(byId("views"), page.inHand);
    showCard();
  }
  if (message.sides) {
    place.append(showSides(message.sides, choose));
  }
  const written = [
    ...(message.pages ?? []).map((name) => make("li", {}, pageLink(message.folder, name), `, in ${message.folder}`)),
    ...(message.doubts ? [make("li", {}, `What was learnt of the physics, in ${message.doubts}; the next study takes it by `,
      make("code", {}, `doubts = "${message.doubts}"`))] : []),
  ];
  if (written.length) {
    place.append(make("ul", { class: "written" }, ...written));
  }
  place.append(commandLine(message.command, page.board.unsaved));
  if (message.folder && !before) {
    tookPaper(message);
  }
}

/** The verdict, which a terminal has at its end, before all else; it then stands there but once. */
function verdictFirst(inner, words) {
  const plain = (text) => text.replace(/\s+/g, " ").trim();
  const last = [...inner.querySelectorAll("p, ul")].filter((each) => plain(each.textContent) === plain(words));
  last.forEach((each) => each.remove());
  return make("p", { class: "verdict" }, words);
}
