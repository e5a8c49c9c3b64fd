// How many of a hundred work, as a gauge: a scale, the figure, and how far it may lie elsewhere.

import { draw } from "./make.js";

/** Draw the gauge: value, sampling interval and, lighter, what the physics leaves open. It has no
 *  hand until those that work are counted. */
export function gauge(level) {
  const at = (share) => 10 + 300 * share;
  const parts = [];
  if (level.band) {
    const [low, high] = level.band;
    parts.push(draw("rect", { class: "band", x: at(low), y: 26, width: Math.max(at(high) - at(low), 1), height: 18 }));
  }
  if (level.counted) {
    parts.push(draw("rect", { class: "interval", x: at(level.low), y: 26, width: Math.max(at(level.high) - at(level.low), 2), height: 18 }));
  }
  for (let share = 0; share <= 100; share += 10) {
    const long = share % 50 === 0;
    parts.push(draw("path", { class: "tick", d: `M${at(share / 100)} 44v${long ? 8 : 4}` }));
    if (long) {
      parts.push(draw("text", { x: at(share / 100), y: 63, "text-anchor": "middle" }, String(share)));
    }
  }
  if (level.counted) {
    parts.push(draw("path", { class: "hand", d: `M${at(level.value)} 22v24l-4 -30h8z` }));
  }
  return draw("svg", { class: "gauge", viewBox: "0 0 320 68", "aria-hidden": "true" }, ...parts);
}

/** A strip of settings: how often every limit is kept there, and marked where it was counted how
 *  many work. */
export function strip(found) {
  const wide = 600 / found.settings.length;
  const height = (share) => (60 - 56 * share).toFixed(1);
  const middle = (place) => ((place + 0.5) * wide).toFixed(1);
  const line = found.settings.map((setting, place) => `${place ? "L" : "M"}${middle(place)} ${height(setting.keeps)}`);
  const marks = found.settings.flatMap((setting, place) => (setting.works === null ? [] : [draw("rect", {
    class: place === found.best ? "best" : "mark",
    x: (place * wide + 1).toFixed(1), width: Math.max(wide - 2, 1).toFixed(1),
    y: height(setting.works), height: (56 * setting.works + 1).toFixed(1),
  })]));
  return draw("svg", { class: "strip", viewBox: "0 0 600 62", preserveAspectRatio: "none", "aria-hidden": "true" },
    ...marks, draw("path", { class: "kept", d: line.join("") }),
    draw("path", { class: "wanted", d: `M0 ${height(found.target)}H600` }));
}
