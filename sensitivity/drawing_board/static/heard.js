// What is heard of what is worked out, shown as it comes.

import { commandLine } from "./actions.js";
import { showActed } from "./acts.js";
import { refresh } from "./asking.js";
import { gauge } from "./gauge.js";
import { choose, giveRange, showCard } from "./hand.js";
import { byId, make, told } from "./make.js";
import { showPaper, tellPaper } from "./paper.js";
import { showDrawings, showViews } from "./sheet.js";
import { page } from "./state.js";

let begun = false;

/** A new study was begun: what is in hand is taken in hand again once it stands on the drawing. */
export function takeWhenDrawn() {
  begun = true;
}

const heard = {
  views(message) {
    const place = byId("views");
    showViews(place, message.views, page.board.inputs, page.inHand, choose);
    place.setAttribute("aria-busy", "false");
    place.dataset.revision = message.revision;
    if (page.scroll) {
      scrollTo(0, page.scroll);
      page.scroll = 0;
    }
    if (begun) {
      begun = false;
      scrollTo(0, 0);
      choose(page.inHand);
    }
  },
  drawing(message) {
    const show = () => {
      if (message.revision === page.board.revision) {
        showDrawings(byId("drawings"), message.drawings);
        byId("drawings").classList.remove("stale");
      }
    };
    (window.requestIdleCallback ?? setTimeout)(show, { timeout: 1000 });
  },
  level(message) {
    byId("gauge").replaceChildren(gauge(message));
    byId("level-words").textContent = message.words;
    byId("brief-level").textContent = message.short;
    for (const id of ["gauge", "level-words", "brief-level"]) {
      byId(id).classList.remove("stale");
      byId(id).dataset.stage = message.stage;
      byId(id).dataset.revision = message.revision;
    }
  },
  answer(message) {
    if (message.level.words) {
      heard.level({ ...message.level, stage: message.stage, revision: message.revision });
    }
    const place = byId("whole");
    told(place, message.html, message.rows, choose);
    place.nextElementSibling.replaceChildren(...wanted(message.wanted), commandLine(message.command, page.board.unsaved));
    place.classList.remove("stale");
  },
  acted(message) {
    showActed(message);
  },
  kept(message) {
    page.written = new Map(message.written.map((each) => [each.folder, each]));
    page.windows = new Map(Object.entries(message.windows));
    if (message.acted && !page.acting && !byId("acted").hasChildNodes()) {
      showActed(message.acted, true);
      byId("acted").classList.toggle("stale", message.acted.revision !== page.board.revision);
    }
    if (!page.board.empty) {
      showPaper();
      showCard();
    }
  },
  refused(message) {
    byId("refused").textContent = message.problem;
    tellPaper(message.problem);
    page.wanted = null;
    if (page.acting) {
      page.acting = false;
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

/** What an answer would have given, each with its field at hand. */
function wanted(fields) {
  return fields.map(({ name, words, key }) => make("p", {},
    make("button", { type: "button", onclick: () => giveRange(name, key) }, `Give the range in which ${words} may be drawn`)));
}

/** Hear a message; what is about a drawing that the board no longer is, is not shown. */
export async function hear(message) {
  if (!page.board) {
    return;
  }
  if (message.revision > page.board.revision) {
    await refresh(); // another page changed it
  }
  if (message.revision === page.board.revision) {
    heard[message.kind]?.(message);
  }
}
