// The dimension in hand: what it is, and every way to state it. A wrong value keeps its words and
// says what is wrong; nothing else is lost.

import { make } from "./make.js";

const WAYS = [
  ["", "no spread: held exactly"],
  ["process", "by how it is made"],
  ["plus_minus", "so much either way"],
  ["between", "between two sizes"],
  ["measured", "as read off the finished part"],
  ["iso286", "a fit, ISO 286 (H11, h9)"],
  ["iso2768", "general tolerance, ISO 2768 (f, m, c, v)"],
  ["standard_deviation", "a standard deviation"],
  ["lognormal", "a share of its size, longer above"],
  ["samples", "measured values in a file"],
];
const COMPANIONS = {
  shape: ["plus_minus", "between", "iso286", "iso2768"],
  flat: ["plus_minus", "between", "iso286", "iso2768"],
  coverage_factor: ["plus_minus", "between"],
  leg: ["iso2768"],
  instrument: ["measured"],
};
const KINDS = [
  ["build", "a dimension: yours to hold"],
  ["running", "a condition of running: met in use"],
  ["model", "what the physics does not know"],
];

/** Lay out the card of an input; change(list of [key, value]) asks for it to be stated. */
export function inputCard(input, board, choices, change, actions, setting) {
  const field = fields(`inputs.${input.name}`, board, change);
  const stated = input.stated;
  const way = board.way ?? WAYS.map(([key]) => key).find((key) => key && key in stated) ?? "";
  const others = (chosen) => [
    ...WAYS.map(([key]) => key).filter((key) => key && key !== chosen && key in stated),
    ...Object.keys(COMPANIONS).filter((key) => key in stated && !COMPANIONS[key].includes(chosen)),
  ].map((key) => [key, null]);
  const spread = {
    process: () => [
      field.choose("process", "Made how", fitting(choices.processes, input), stated.process, others("process")),
      aside(choices.processes.find((entry) => entry.name === stated.process)),
    ],
    plus_minus: () => [
      field.text("plus_minus", "Either way", stated.plus_minus, others("plus_minus")),
      shape(field, choices, stated),
    ],
    between: () => [
      field.pair("between", "From", "to", stated.between, others("between")),
      shape(field, choices, stated),
    ],
    measured: () => [
      field.text("measured", "It reads", stated.measured, others("measured"),
        () => [["instrument", stated.instrument ?? fitting(choices.instruments, input)[0]?.name]]),
      field.choose("instrument", "Read with", fitting(choices.instruments, input), stated.instrument),
    ],
    iso286: () => [field.text("iso286", "Class", stated.iso286, others("iso286"))],
    iso2768: () => [field.text("iso2768", "Class", stated.iso2768, others("iso2768"))],
    standard_deviation: () => [
      field.text("standard_deviation", "Standard deviation", stated.standard_deviation, others("standard_deviation"))],
    lognormal: () => [field.text("lognormal", "Share, in %", stated.lognormal, others("lognormal"))],
    samples: () => [field.text("samples", "File and column, pipes.csv:height_mm", stated.samples, others("samples"))],
    "": () => [],
  };
  const ways = make("select", {
    id: "way",
    onchange: (event) => {
      if (event.target.value === "") {
        change(others(""), "way");
      }
      board.choseWay(event.target.value);
    },
  }, ...WAYS.map(([key, words]) => make("option", { value: key, selected: key === way }, words)));
  return [
    make("p", { class: "quiet" }, `${input.meaning}${input.unit ? ` (${input.unit})` : ""}${input.range ? `; physically ${input.range}` : ""}`),
    field.text("nominal", "Drawn", stated.nominal ?? (stated.tube === undefined && (input.given || board.whole) ? input.drawn : ""),
      stated.tube === undefined ? [] : [["tube", null]], undefined, stated.tube === undefined ? "" : null),
    input.tube ? field.text("tube", "or bought as a tube", stated.tube, [["nominal", null]], undefined, null,
      "1/8 in x 22 SWG") : null,
    setting,
    make("p", { class: "row" }, make("label", { for: "way" }, "How well it is held"), ways),
    ...spread[way](),
    input.spread ? make("p", { class: "quiet" }, `So it varies: ${input.spread}`) : null,
    field.text("basis", "On whose word", stated.basis),
    input.sourced ? null : make("p", { class: "quiet" }, "This spread rests on no source that somebody could look up."),
    make("details", { "data-keep": "more" }, make("summary", {}, "More"),
      field.choose("kind", "It is", KINDS.map(([name, words]) => ({ name, words })), input.kind),
      field.pair("adjust", "It can be set, when assembled, from", "to", stated.adjust),
      field.pair("redraw", "It may be drawn elsewhere, from", "to", stated.redraw),
      field.text("redraw_step", "by steps of", stated.redraw_step),
      field.text("group", "Reported together with others as", stated.group)),
    actions,
  ];
}

/** Lay out the card of a result's limit. */
export function limitCard(result, board, change, remove, actions) {
  const field = fields(`limits.${result.name}`, board, change);
  const stated = result.stated ?? {};
  return [
    make("p", { class: "quiet" }, `${result.meaning}${result.unit ? ` (${result.unit})` : ""}`),
    field.text("at_least", "At least", stated.at_least),
    field.text("at_most", "At most", stated.at_most),
    field.text("because", "Because", stated.because),
    field.tick("hurts", "Breaking it can hurt somebody", stated.hurts === true),
    result.stated ? make("p", {}, make("button", { type: "button", onclick: remove }, "Take this limit away")) : null,
    actions,
  ];
}

function fitting(entries, input) {
  return entries.filter((entry) => entry.quantity === input.quantity || entry.quantity === "ratio");
}

function aside(entry) {
  return entry ? make("p", { class: "quiet" }, `${entry.says}; leaves ${entry.leaves}. Source: ${entry.source}`) : null;
}

function shape(field, choices, stated) {
  return field.choose("shape", "It lies", choices.shapes, stated.shape ?? "rectangular");
}

/** Fields of one table: each with its label, its value or what was typed, and what is wrong. */
function fields(table, board, change) {
  const wrong = (key) => board.refused[`${table}.${key}`] ?? board.missing(`${table}.${key}`);
  const problem = (id, fault) => make("span", { class: "problem", id: `${id}-problem` }, fault?.problem ?? "");
  const control = (tag, id, key, fault, attributes, ...children) => make(tag, {
    id, "data-key": key, "aria-describedby": `${id}-problem`, "aria-invalid": fault?.problem ? "true" : null, ...attributes,
  }, ...children);
  const idOf = (key) => `field-${key}`;
  return {
    text(key, label, value, also = [], more = () => [], nothing = null, example = null) {
      const id = idOf(key);
      const fault = wrong(key);
      const input = control("input", id, key, fault, {
        placeholder: board.like(`${table}.${key}`) ?? example,
        value: fault?.value ?? value ?? "", autocomplete: "off", spellcheck: "false",
        onchange: (event) => {
          const typed = event.target.value.trim();
          event.target.dataset.sent = event.target.value;
          change([...also, [key, typed === "" ? nothing : typed], ...(typed === "" ? [] : more())], key);
        },
      });
      if (key === "nominal") {
        input.setAttribute("aria-labelledby", `card-title ${id}-label`); // led here, one hears of which
      }
      return make("p", { class: "row" }, make("label", { for: id, id: `${id}-label` }, label), input, problem(id, fault));
    },
    pair(key, label, second, value, also = []) {
      const id = idOf(key);
      const fault = wrong(key);
      const typed = fault?.value?.split(", ") ?? [];
      const ends = [0, 1].map((place) => control("input", `${id}-${place}`, key, fault, {
        "aria-describedby": `${id}-problem`,
        "aria-label": `${label} ${place ? second : ""}`.trim(),
        value: typed[place] ?? value?.[place] ?? "", autocomplete: "off", spellcheck: "false",
        onchange: () => {
          const both = ends.map((end) => end.value.trim());
          if ((both[0] === "") === (both[1] === "")) {
            ends.forEach((end) => { end.dataset.sent = end.value; });
          }
          if (both.every((end) => end === "")) {
            change([...also, [key, null]], key);
          } else if (both.every((end) => end !== "")) {
            change([...also, [key, both]], key);
          }
        },
      }));
      return make("p", { class: "row" }, make("label", { for: `${id}-0` }, label), ends[0],
        make("span", { class: "between" }, second), ends[1], problem(id, fault));
    },
    choose(key, label, entries, value, also = []) {
      const id = idOf(key);
      const fault = wrong(key);
      const known = entries.some((entry) => entry.name === value);
      const select = control("select", id, key, fault, {
        onchange: (event) => change([...also, [key, event.target.value]], key),
      },
      known ? null : make("option", { value: "", selected: true, disabled: true }, value ?? "choose"),
      ...entries.map((entry) => make("option", { value: entry.name, selected: entry.name === value },
        entry.leaves ? `${entry.words} (${entry.leaves})` : entry.words)));
      return make("p", { class: "row" }, make("label", { for: id }, label), select, problem(id, fault));
    },
    tick(key, label, value) {
      const id = idOf(key);
      return make("p", { class: "row tick" }, control("input", id, key, null, {
        type: "checkbox", checked: value,
        onchange: (event) => change([[key, event.target.checked ? true : null]], key),
      }), make("label", { for: id }, label), problem(id, null));
    },
  };
}
