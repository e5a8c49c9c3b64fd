// The bench card and the report: asked for by plain buttons, and linked where they were asked for.

import { bar, button } from "./fields.js";
import { byId, make } from "./make.js";
import { differs, page } from "./state.js";

const PAGES = {
  "card.html": ["Print the bench card", "The bench card, to print"],
  "report.html": ["Write the report", "The report"],
};

/** Lay out the buttons, once; act has a command done. */
export function paperBar(act) {
  byId("paper").replaceChildren(bar(...Object.entries(PAGES).map(([name, [words]]) => button(words, () => want(name, act)))));
}

/** Open a page that is about what is on the board, or have it written first. */
function want(name, act) {
  const made = [...page.written].find(([, each]) => each.action === "run"
    && each.revision === page.board.revision && each.pages.includes(name));
  if (made) {
    open(addressOf(made[0], name), "_blank", "noopener");
  } else {
    act({ command: "run", write: true }, name);
  }
}

/** Say of a page that was asked for how it goes; nothing where none was. */
export function tellPaper(words) {
  byId("paper-told").textContent = page.wanted ? words : "";
}

/** Show what was written, the newest first; what was asked for is at once in hand. */
export function showPaper() {
  for (const each of byId("paper").querySelectorAll("button")) {
    each.disabled = !page.board.whole;
  }
  const written = [...page.written].reverse();
  if (differs("written", [written, page.board.revision])) {
    byId("paper-links").replaceChildren(...written.map(([folder, { pages, revision }]) => make("li", {},
      ...pages.flatMap((name, at) => [at ? "; " : "", pageLink(folder, name)]), `, in ${folder}`,
      revision === page.board.revision ? "" : " (before the last change)")));
  }
}

/** Note that pages were written, and hand over the one that was asked for. */
export function tookPaper({ folder, pages, action, revision }) {
  page.written.delete(folder);
  page.written.set(folder, { pages, action, revision });
  showPaper();
  if (page.wanted) {
    tellPaper("Written; it opens in a page of its own:");
    byId("paper-links").querySelector(`[data-page="${page.wanted}"]`)?.focus();
  }
  page.wanted = null;
}

const addressOf = (folder, name) => `/written/${encodeURIComponent(folder)}/${name}`;

/** A link to a page that was written. */
export const pageLink = (folder, name) => make("a", {
  href: addressOf(folder, name), target: "_blank", rel: "noopener", "data-page": name,
}, PAGES[name][1]);
