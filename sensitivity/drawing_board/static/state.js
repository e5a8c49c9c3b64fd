// What the page knows: the board as the server told it last, and what is in hand here.

export const page = {
  board: null,
  choices: null,
  /** Name of the input or result in hand. */
  inHand: null,
  /** The way to state its spread that was chosen, but not filled in yet. */
  way: null,
  acting: false,
  /** Name of the page that was asked for and is being written. */
  wanted: null,
  /** Pages that were written, by folder: which, by what action, and of which revision. */
  written: new Map(),
  /** Where the page was, before it was loaded again. */
  scroll: 0,
  /** Windows that were found, by input: the strip along its slider. */
  windows: new Map(),
  /** Readings noted for "built", by name: what it reads, and with what. */
  readings: new Map(),
};

export const inputOf = (name) => page.board.inputs.find((input) => input.name === name);
export const resultOf = (name) => page.board.results.find((each) => each.name === name);

/** What is wrong at a key; nothing where it is only still to be given. */
export function missing(key) {
  const fault = page.board.faults.find((each) => each.like === null
    && (each.key === key || (each.key === key.replace(/\.nominal$/, "") && key.endsWith(".nominal"))));
  return fault ? { problem: fault.problem } : undefined;
}

/** An example of what is still to be given; nothing where it is given. */
export function like(key) {
  const fault = page.board.faults.find((each) => each.like !== null && each.key === key);
  return fault ? `like ${fault.like}` : null;
}

/** Inputs that are still to be given, in the order of their numbers. */
export function toGive() {
  return page.board.faults.filter((fault) => fault.like !== null).map((fault) => fault.key.split(".")[1]);
}

/** The window found for an input, and whether something was changed since. */
export function windowOf(name) {
  const found = page.windows.get(name);
  return found && { ...found.strip, older: found.revision !== page.board.revision };
}

const shown = new Map();

/** Tell whether a part of the page has to be laid out anew, and remember what it shows then. */
export function differs(id, of) {
  const key = JSON.stringify(of);
  const is = shown.get(id) !== key;
  shown.set(id, key);
  return is;
}
