// Visits that wait on this device until the bench has them. Read by pages and, before sw.js, by the worker.
// A visit leaves the store only when the server has said that it is in the record; its uid makes a second sending
// harmless, so that a lost answer, two tabs or a worker beside a page cannot write it twice.
const Queue = (() => {
  const NAME = "nestwright", STORE = "visits", WAIT = 20000;

  const open = () => new Promise((good, bad) => {
    const asked = indexedDB.open(NAME, 1);
    asked.onupgradeneeded = () => asked.result.createObjectStore(STORE, { keyPath: "uid" });
    asked.onsuccess = () => good(asked.result);
    asked.onerror = () => bad(asked.error);
  });
  const within = async (mode, work) => {
    const base = await open();
    try {
      return await new Promise((good, bad) => {
        // strict: it must outlast the phone's being switched off
        const change = base.transaction(STORE, mode, { durability: "strict" });
        const asked = work(change.objectStore(STORE));
        change.oncomplete = () => good(asked?.result);
        change.onerror = change.onabort = () => bad(change.error);
      });
    } finally { base.close(); }
  };
  const all = async () => (await within("readonly", (store) => store.getAll())).sort((a, b) => a.made - b.made);
  const get = (uid) => within("readonly", (store) => store.get(uid));
  const put = (one) => within("readwrite", (store) => { store.put(one); });
  const remove = (uid) => within("readwrite", (store) => { store.delete(uid); });
  // What was told anew meanwhile must not be put back, nor taken away, by the answer to what was told before.
  const settle = (sent, change) => within("readwrite", (store) => {
    const asked = store.get(sent.uid);
    asked.onsuccess = () => {
      if (asked.result?.told !== sent.told) return;
      if (change) store.put({ ...asked.result, ...change }); else store.delete(sent.uid);
    };
  });

  const form = (one) => {
    const body = new FormData();
    for (const [key, value] of one.fields) body.append(key, value);
    for (const [name, file] of one.pictures) body.append("pictures", file, name);
    for (const key of ["uid", "colony", "workshop", "made"]) body.set(key, one[key]);
    body.set("now", Date.now());
    return body;
  };
  // One sending: { good, answer } or { good: false, refused, faults }. `stored`: whether it stands in the store.
  const send = async (one, stored = true) => {
    const over = new AbortController(), alarm = setTimeout(() => over.abort(), WAIT + 20000 * one.pictures.length);
    try {
      const answer = await fetch("/api/visits", { method: "POST", body: form(one), headers: { accept: "application/json" }, redirect: "error", signal: over.signal });
      if (answer.ok) {
        const told = await answer.json();
        // something else may answer at this address; only our own server names the row
        if (!Number.isInteger(told.visit)) throw new Error("no answer of ours");
        if (stored) await settle(one, null);
        return { good: true, answer: told };
      }
      if (answer.status === 422 || answer.status === 413) {
        const told = await answer.json().catch(() => ({}));
        const faults = told.faults?.length ? told.faults : [{ text: told.error || "", field: "", status: answer.status }];
        if (stored) await settle(one, { state: "refused", faults });
        return { good: false, refused: true, faults };
      }
      return { good: false, refused: false, status: answer.status };
    } catch { return { good: false, refused: false, status: 0 }; } finally { clearTimeout(alarm); }
  };

  // Sends what waits, one after another, in one place at a time where the browser can lock; tells what became of each.
  let going = null;
  const flushing = async () => {
    const done = [];
    for (const one of await all()) {
      if (one.state === "refused") continue;
      const found = { one, ...await send(one) };
      done.push(found);
      // not reached, or not let in: the others would wait in vain too; a fault of the server may be this one's alone
      if (!found.good && !found.refused && found.status < 500) break;
    }
    return done;
  };
  const flush = () => going ??= (globalThis.navigator?.locks
    ? navigator.locks.request("nestwright-visits", flushing) : flushing()).finally(() => { going = null; });

  return { all, get, put, remove, flush, send };
})();
