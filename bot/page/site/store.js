// What was said and not delivered yet, on the disk of the phone; in memory alone where the browser keeps nothing.

const NAME = "rowhand";
const SHELF = "lines";
let shelf = null;
let memory = [];
let number = 0;
let queue = Promise.resolve();

function whole(request) {
  return new Promise((done, failed) => {
    request.onsuccess = () => done(request.result);
    request.onerror = () => failed(request.error);
  });
}

export async function open() {
  try {
    const asked = indexedDB.open(NAME, 1);
    asked.onupgradeneeded = () => asked.result.createObjectStore(SHELF, { keyPath: "number", autoIncrement: true });
    shelf = await whole(asked);
    if (navigator.storage && navigator.storage.persist) navigator.storage.persist().catch(() => false);
  } catch {
    shelf = null;
  }
  return shelf !== null;
}

// One after another, each on the disk before the next: the order in which things were said is the order of the keys.
function change(work) {
  const next = queue.then(() => new Promise((done, failed) => {
    const turn = shelf.transaction(SHELF, "readwrite", { durability: "strict" });
    work(turn.objectStore(SHELF));
    turn.oncomplete = () => done();
    turn.onabort = () => failed(turn.error);
  }));
  queue = next.catch(() => null);
  return next;
}

export async function put(line) {
  if (shelf === null) {
    memory.push({ ...line, number: (number += 1) });
    return;
  }
  await change((place) => place.add(line));
}

export async function all() {
  if (shelf === null) return [...memory];
  await queue;
  return whole(shelf.transaction(SHELF).objectStore(SHELF).getAll());
}

export async function replace(line) {
  if (shelf === null) {
    memory = memory.map((one) => (one.number === line.number ? line : one));
    return;
  }
  await change((place) => place.put(line));
}

export async function remove(line) {
  if (shelf === null) {
    memory = memory.filter((one) => one.number !== line.number);
    return;
  }
  await change((place) => place.delete(line.number));
}

// A name that is made on the phone, once: a second delivery of the same is known by it.
export function name() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  return Array.from(bytes, (one) => one.toString(16).padStart(2, "0")).join("");
}

export function remember(key, value) {
  try {
    localStorage.setItem(`rowhand.${key}`, JSON.stringify(value));
  } catch { /* a browser that keeps nothing */ }
}

export function remembered(key, otherwise) {
  try {
    const found = localStorage.getItem(`rowhand.${key}`);
    return found === null ? otherwise : JSON.parse(found);
  } catch {
    return otherwise;
  }
}
