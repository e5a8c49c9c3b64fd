// Writing over what stands on the page only where something differs: a drawing or a table that is
// replaced whole has to be laid out and painted whole, and loses focus and selection.

/** Each place's tree as it was told, and the nodes that stand on the page for it. */
const kept = new WeakMap();

const nodesOf = (root) => {
  const walk = document.createTreeWalker(root, NodeFilter.SHOW_ELEMENT | NodeFilter.SHOW_TEXT);
  const found = [root];
  while (walk.nextNode()) {
    found.push(walk.currentNode);
  }
  return found;
};

/** Remember that a tree on the page stands for one that was told; before anything is added to it. */
export function remember(place, fresh, live) {
  kept.set(place, { told: nodesOf(fresh), live: nodesOf(live) });
}

/** Write what differs into the tree remembered at a place; the nodes that changed, or null where
 *  the two are not alike enough. */
export function patched(place, fresh) {
  const before = kept.get(place);
  const now = nodesOf(fresh);
  if (!before || before.told.length !== now.length
    || now.some((node, at) => node.nodeName !== before.told[at].nodeName)) {
    return null;
  }
  const changed = now.map((node, at) => (wrote(before.told[at], node, before.live[at]) ? before.live[at] : null));
  kept.set(place, { told: now, live: before.live });
  return changed.filter(Boolean);
}

function wrote(before, now, live) {
  if (now.nodeType === Node.TEXT_NODE) {
    if (before.data === now.data) {
      return false;
    }
    live.data = now.data;
    return true;
  }
  let is = false;
  for (const name of new Set([...before.getAttributeNames(), ...now.getAttributeNames()])) {
    const value = now.getAttribute(name);
    if (before.getAttribute(name) !== value) {
      is = true;
      if (value === null) {
        live.removeAttribute(name);
      } else {
        live.setAttribute(name, value);
      }
    }
  }
  return is;
}
