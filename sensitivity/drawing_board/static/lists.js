// What the page lists: the dimensions, what was changed, and the models of a new study.

import { byId, make } from "./make.js";
import { differs } from "./state.js";

/** List every input with its number, what is drawn and how it varies. */
export function showSchedule(board, choices, broken, choose) {
  if (!differs("schedule", [board.inputs, board.faults])) {
    return;
  }
  const kinds = [["build", "Dimensions"], ["running", "Met in use"], ["model", "What the physics does not know"]];
  const open = new Set([...byId("schedule").querySelectorAll("details[open]")].map((each) => each.dataset.kind));
  const focused = document.activeElement?.closest?.("#schedule [data-place]")?.dataset.place;
  byId("schedule").replaceChildren(...kinds.map(([kind, title]) => {
    const rows = board.inputs.filter((input) => input.kind === kind);
    return rows.length === 0 ? "" : make("details", { "data-kind": kind, open: open.has(kind) || (kind === "build" && !byId("schedule").firstChild) },
      make("summary", {}, `${title}, ${rows.length}`),
      make("table", {}, make("thead", {}, make("tr", {},
        ...["No.", "dimension", "drawn", "spread"].map((head) => make("th", { scope: "col" }, head)))),
      make("tbody", {}, ...rows.map((input) => make("tr", { class: broken(input) ? "broken" : "" },
        make("td", {}, input.number ? String(input.number) : ""),
        make("th", { scope: "row" }, make("button", { type: "button", class: "place", "data-place": input.name, onclick: () => choose(input.name) }, input.words)),
        make("td", {}, input.drawn || "not given"),
        make("td", {}, input.spread || (board.whole ? "held exactly" : unread(input, choices))))))));
  }));
  if (focused) {
    byId("schedule").querySelector(`[data-place="${CSS.escape(focused)}"]`)?.focus();
  }
}

/** How an input is said to vary, where the study is not whole yet and its spread not worked out. */
function unread(input, choices) {
  const key = Object.keys(input.stated).find((each) => ["process", "plus_minus", "between", "lognormal", "standard_deviation"].includes(each));
  const words = choices.processes.find((entry) => entry.name === input.stated.process)?.words;
  return words ?? (key ? [input.stated[key]].flat().join(" to ") : "");
}

/** Changes that are listed unfolded. */
const FEW = 8;

/** List what differs from the file, folded where it is long. */
export function showChanged(board) {
  const place = byId("changed");
  if (board.changes.length === 0) {
    place.replaceChildren(make("p", { class: "quiet" }, "Nothing."));
    return;
  }
  const table = make("table", {}, make("thead", {}, make("tr", {},
    ...["what", "as saved", "on the board"].map((head) => make("th", { scope: "col" }, head)))),
  make("tbody", {}, ...board.changes.map((each) => make("tr", {}, make("th", { scope: "row" }, each.words),
    make("td", {}, each.before || "not stated"), make("td", {}, each.after || "not stated")))));
  if (board.changes.length <= FEW) {
    place.replaceChildren(table);
    return;
  }
  const open = place.querySelector("details")?.open ?? false;
  const told = board.fresh ? "Not saved yet: all that is stated" : "All that was changed";
  place.replaceChildren(make("details", { open }, make("summary", {}, `${told}, ${board.changes.length}`), table));
}

/** Lay out what a new study can be of. */
export function showBeginning(board, choices) {
  if (byId("models").childElementCount) {
    return;
  }
  byId("begin-file").value = board.file;
  byId("models").replaceChildren(...choices.models.map((model) => make("p", { class: "model" },
    make("input", { type: "checkbox", id: `model-${model.name}`, value: model.name, "aria-describedby": `about-${model.name}` }),
    make("label", { for: `model-${model.name}` }, model.words),
    make("span", { class: "quiet", id: `about-${model.name}` }, `${model.about}${model.apart.length ? ` Not together with ${model.apart.join(", ")}.` : ""}`))));
}
