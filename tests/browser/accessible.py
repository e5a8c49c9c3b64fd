"""What a page must have for everyone, found in a real browser: names, roles, order, contrast.

An equal of what checkers of accessibility look for, after the published rules: WCAG 2.2, success
criteria 1.1.1, 1.3.1, 1.4.3, 2.4.3, 2.4.6, 2.5.8, 3.1.1 and 4.1.2, and the relative luminance and
contrast ratio as its glossary defines them. Each fault is told with the element that has it.
"""

FAULTS = r"""() => {
  const faults = [];
  const tell = (rule, one) => faults.push(`${rule}: ${one.outerHTML.slice(0, 160)}`);
  const all = (selector) => [...document.querySelectorAll(selector)].filter((each) =>
    each.checkVisibility({ visibilityProperty: true, contentVisibilityAuto: true }));

  // 3.1.1, 2.4.2: a language and a title.
  if (!document.documentElement.lang) tell("no language", document.documentElement);
  if (!document.title.trim()) tell("no title", document.head);

  // 4.1.2: ids are unique, and what names or describes an element is there.
  const seen = new Set();
  for (const one of document.querySelectorAll("[id]")) {
    if (seen.has(one.id)) tell("id twice", one);
    seen.add(one.id);
  }
  for (const key of ["for", "aria-labelledby", "aria-describedby", "aria-controls"]) {
    for (const one of document.querySelectorAll(`[${key}]`)) {
      for (const id of one.getAttribute(key).split(/\s+/)) {
        if (!document.getElementById(id)) tell(`${key} names nothing`, one);
      }
    }
  }

  // 1.3.1: one main part, headings that leave no level out, tables with heads, lists of items.
  if (all("main").length !== 1) tell("not one main part", document.body);
  let level = 0;
  for (const one of all("h1, h2, h3, h4, h5, h6")) {
    const here = Number(one.tagName[1]);
    if (here > level + 1) tell("a level of headings left out", one);
    if (!one.textContent.trim()) tell("an empty heading", one);
    level = here;
  }
  for (const one of all("table")) {
    if (!one.querySelector("th")) tell("a table without heads", one);
  }
  for (const one of document.querySelectorAll("ul, ol")) {
    if ([...one.children].some((each) => each.tagName !== "LI")) tell("a list of no items", one);
  }

  // 2.4.3: the order is the page's own.
  for (const one of document.querySelectorAll("[tabindex]")) {
    if (Number(one.getAttribute("tabindex")) > 0) tell("an order of its own", one);
  }
  // 4.1.2: what is hidden from those who hear is not reached by Tab.
  for (const one of document.querySelectorAll("[aria-hidden=true]")) {
    if (one.querySelector("a[href], button, input, select, [tabindex='0']")) {
      tell("hidden, and reached", one);
    }
  }
  // 2.5.8: 24 px by 24 px, or so far apart; links within a text are let off.
  for (const one of all("button, select, input, [role=button]")) {
    const box = one.getBoundingClientRect();
    const let_off = one.classList.contains("place") || one.closest("svg");
    if (!let_off && Math.min(box.width, box.height) < (one.type === "checkbox" ? 18 : 23.5)) {
      tell(`small, ${box.width.toFixed(0)} by ${box.height.toFixed(0)}`, one);
    }
  }

  // 1.4.3: letters against what lies behind them.
  const canvas = new OffscreenCanvas(1, 1).getContext("2d", { willReadFrequently: true });
  const colour = (text) => {
    canvas.clearRect(0, 0, 1, 1);
    canvas.fillStyle = text;
    canvas.fillRect(0, 0, 1, 1);
    const [r, g, b, a] = canvas.getImageData(0, 0, 1, 1).data;
    return [r, g, b, a / 255];
  };
  const over = (top, below) => [0, 1, 2].map((i) => top[i] * top[3] + below[i] * (1 - top[3]));
  const luminance = (rgb) => {
    const [r, g, b] = rgb.map((value) => {
      const share = value / 255;
      return share <= 0.04045 ? share / 12.92 : ((share + 0.055) / 1.055) ** 2.4;
    });
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  const behind = (one) => {
    const layers = [];
    for (let at = one; at; at = at.parentElement) {
      layers.push(colour(getComputedStyle(at).backgroundColor));
    }
    return layers.reverse().reduce((below, top) => over(top, below), [255, 255, 255]);
  };
  const opacity = (one) => {
    let found = 1;
    for (let at = one; at; at = at.parentElement) found *= Number(getComputedStyle(at).opacity);
    return found;
  };
  const holds = (outer, inner) => outer.left <= inner.left && outer.right >= inner.right
    && outer.top <= inner.top && outer.bottom >= inner.bottom;
  const drawn = (one) => {
    const box = one.getBoundingClientRect();
    const svg = one.closest("svg");
    const under = [...svg.querySelectorAll("rect")].filter((each) =>
      each.compareDocumentPosition(one) & Node.DOCUMENT_POSITION_FOLLOWING
      && holds(each.getBoundingClientRect(), box) && getComputedStyle(each).fill !== "none");
    return under.reduce((below, each) => {
      const { fill, fillOpacity } = getComputedStyle(each);
      const layer = colour(fill);
      layer[3] *= Number(fillOpacity);
      return over(layer, below);
    }, behind(svg));
  };
  const texts = all("body *").filter((one) => [...one.childNodes].some((each) =>
    each.nodeType === Node.TEXT_NODE && each.textContent.trim()));
  for (const one of [...texts, ...all("input:not([type=checkbox]):not([type=range])")]) {
    if (one.matches("title, desc, option, script, style")) continue;
    if (one.closest(":disabled, .stale")) continue;
    const style = getComputedStyle(one);
    const svg = one.closest("svg");
    const ground = svg ? drawn(one) : behind(one);
    const ink = colour(svg ? style.fill : style.color);
    ink[3] *= opacity(one);
    const pair = [luminance(over(ink, ground)), luminance(ground)].sort((a, b) => b - a);
    const ratio = (pair[0] + 0.05) / (pair[1] + 0.05);
    const size = parseFloat(style.fontSize);
    const large = size >= 24 || (size >= 18.66 && Number(style.fontWeight) >= 700);
    if (ratio < (large ? 3 : 4.5)) tell(`contrast ${ratio.toFixed(2)}`, one);
  }
  return [...new Set(faults)];
}"""
"""Rules that the page's own tree and styles answer."""

WITH_A_NAME = frozenset(
    ("button", "checkbox", "combobox", "link", "radio", "searchbox", "slider", "spinbutton")
) | {"textbox", "progressbar", "img", "heading", "dialog", "region"}
"""Roles that nobody can use without hearing a name."""


def faults_of(page):
    """Find what a page lacks: by its own tree, and by what the browser tells a screen reader."""
    found = list(page.evaluate(FAULTS))
    session = page.context.new_cdp_session(page)
    for node in session.send("Accessibility.getFullAXTree")["nodes"]:
        role = node.get("role", {}).get("value")
        name = str(node.get("name", {}).get("value", "")).strip()
        if not node.get("ignored") and role in WITH_A_NAME and not name:
            found.append(f"no name: {role} {node.get('properties', [])}")
    session.detach()
    return found


def order_of_tab(page, most=400):
    """Follow Tab from the top of the page: where each stop is, until it leaves the page."""
    page.evaluate(FROM_THE_TOP)
    stops = []
    for _ in range(most):
        page.keyboard.press("Tab")
        stop = page.evaluate(STOP)
        if stop is None or (stops and stop["key"] == stops[0]["key"]):
            break
        stops.append(stop)
    return stops


FROM_THE_TOP = """() => {
  document.body.tabIndex = -1;
  document.body.focus();
  document.body.removeAttribute("tabindex");
}"""

STOP = """() => {
  const one = document.activeElement;
  if (!one || one === document.body) return null;
  window.stopKeys ??= new WeakMap();
  window.stopCount ??= 0;
  if (!window.stopKeys.has(one)) window.stopKeys.set(one, window.stopCount += 1);
  const style = getComputedStyle(one);
  const part = one.closest("section, footer, form");
  const section = part?.id || part?.className || "";
  return { key: window.stopKeys.get(one), section,
    shown: style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2 };
}"""
"""Where the focus is, and whether anybody sees it there."""
