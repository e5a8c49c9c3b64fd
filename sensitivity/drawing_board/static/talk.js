// What is said to the board and heard from it. Nothing else on the page asks for anything.

/** Ask the board; resolves to what it answers, or rejects with its own words. */
export async function ask(address, body) {
  const options = body === undefined ? {} : {
    method: "POST",
    headers: { "content-type": "application/json" },
    body: JSON.stringify(body),
  };
  let response;
  try {
    response = await fetch(address, options);
  } catch {
    throw new Error("The board does not answer: spiritlevel open has stopped. Start it again; " +
      "what was taken is kept, and this page holds what you typed.");
  }
  const type = response.headers.get("content-type") ?? "";
  if (!type.startsWith("application/json")) {
    throw new Error((await response.text()).trim());
  }
  const found = await response.json();
  if (!response.ok || found.problem !== undefined) {
    throw new Error(found.problem);
  }
  return found;
}

/** Hear what is worked out, as it is found; begins again by itself when the board does. */
export function listen(heard, lost) {
  const source = new EventSource("/events");
  source.onmessage = (event) => heard(JSON.parse(event.data));
  source.onerror = () => lost(source.readyState !== EventSource.OPEN);
  source.onopen = () => lost(false);
  return source;
}

let last = Promise.resolve();

/** Do one thing after another, so that ten quick edits reach the board in their order. */
export function inTurn(task) {
  const done = last.then(task, task);
  last = done.catch(() => undefined);
  return done;
}
