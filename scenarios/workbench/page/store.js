// What was recorded, dialed or set is kept in the browser's storage (IndexedDB), so
// that a reload, a crash of the page or of the server loses nothing. Every write is
// on the disk when its promise is kept. Where the browser gives no storage (some
// private windows), all works and says that nothing will survive.

const NAME = "dialwright", VERSION = 1;

const done = (request) => new Promise((resolve, reject) => {
  request.onsuccess = () => resolve(request.result);
  request.onerror = () => reject(request.error);
});

class Disk {
  survives = true;
  constructor(db) { this.db = db; }
  #write(stores, act) {
    return new Promise((resolve, reject) => {
      const t = this.db.transaction(stores, "readwrite", {durability: "strict"});
      act(...stores.map((s) => t.objectStore(s)));
      t.oncomplete = () => resolve();
      t.onerror = t.onabort = () => reject(t.error ?? new Error("the browser's storage refused to write"));
    });
  }
  get(key) { return done(this.db.transaction("one").objectStore("one").get(key)); }
  put(key, value) { return this.#write(["one"], (s) => value === undefined ? s.delete(key) : s.put(value, key)); }
  append(list, value, beside = {}) {
    return this.#write(["many", "one"], (many, one) => {
      many.add({list, value});
      for (const [key, v] of Object.entries(beside)) one.put(v, key);
    });
  }
  async all(list) {
    const rows = await done(this.db.transaction("many").objectStore("many").index("list").getAll(list));
    return rows.map((r) => r.value);
  }
  clear(list) {
    return this.#write(["many"], (s) => {
      s.index("list").openKeyCursor(list).onsuccess = (e) => {
        const at = e.target.result;
        if (at) { s.delete(at.primaryKey); at.continue(); }
      };
    });
  }
}

class Memory {
  survives = false;
  one = new Map();
  many = new Map();
  async get(key) { return this.one.get(key); }
  async put(key, value) { value === undefined ? this.one.delete(key) : this.one.set(key, structuredClone(value)); }
  async append(list, value, beside = {}) {
    this.many.set(list, [...(this.many.get(list) ?? []), structuredClone(value)]);
    for (const [key, v] of Object.entries(beside)) this.one.set(key, structuredClone(v));
  }
  async all(list) { return this.many.get(list) ?? []; }
  async clear(list) { this.many.delete(list); }
}

// open returns the store: get, put (undefined takes away), append to a list (what is
// named beside it is put with it, or neither), all of a list, clear a list.
export async function open() {
  try {
    const request = indexedDB.open(NAME, VERSION);
    request.onupgradeneeded = () => {
      request.result.createObjectStore("one");
      request.result.createObjectStore("many", {autoIncrement: true}).createIndex("list", "list");
    };
    const db = await done(request);
    db.onversionchange = () => db.close();
    return new Disk(db);
  } catch {
    return new Memory();
  }
}
