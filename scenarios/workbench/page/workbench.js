// What the five places share: what is set, what was kept, and the engine that answers.

import {el, say} from "./element.js";

// What is set before anybody has set anything.
export const fresh = () => ({
  panel: "quillmoor", task: "heading", rig: "", operator: "practised",
  files: {}, // by name: what was imported or found, as text
  knob: {source: "", learned: null, turned: null},
  dial: {a: "plain", b: "power", frames: 30, lag: 50, pairs: 20},
  shape: {settings: {}, points: null, home: "program", base: "plain"},
});

export class Workbench {
  constructor(engine, connect, store) {
    this.engine = engine;
    this.connect = connect;
    this.store = store;
    this.state = fresh();
    this.desks = new Map();
  }

  // load takes what an earlier visit left.
  async load() {
    const kept = await this.store.get("state");
    if (kept) this.take(kept);
  }

  // take sets what is known of a state, and leaves the rest fresh.
  take(kept) {
    const clean = fresh();
    for (const [name, value] of Object.entries(clean)) {
      const has = kept[name];
      if (has === undefined || has === null || typeof has !== typeof value) continue;
      clean[name] = typeof value === "object" ? {...value, ...has} : has;
    }
    this.state = clean;
    this.desks.clear();
  }

  // save keeps the state; it may be called as often as one likes.
  save() {
    clearTimeout(this.saving);
    this.saving = setTimeout(() => this.keep(), 150);
  }

  // keep writes the state that is not yet written, at once.
  keep() {
    if (!this.saving) return;
    clearTimeout(this.saving);
    this.saving = undefined;
    this.store.put("state", this.state).catch((e) => this.trouble("storage", `The browser's storage does not take it (${e.message}): save what you need as files, in Keep.`));
  }

  // trouble says what is wrong, in one place above everything, until it is mended.
  trouble(what, sentence) {
    const root = document.getElementById("trouble"), id = `trouble-${what}`;
    const old = document.getElementById(id);
    if (!sentence) return old?.remove();
    if (old?.textContent === sentence) return undefined;
    old?.remove();
    root.append(el("p", {id, class: "warn"}, sentence));
    return undefined;
  }

  // ask puts a question to the engine. While the engine is gone it waits and asks again;
  // what was recorded and dialed is in the browser's storage meanwhile.
  async ask(request, {signal, progress} = {}) {
    for (let wait = 500; ; wait = Math.min(2 * wait, 8000)) {
      try {
        const answer = await this.engine.ask({args: [], flags: {}, files: {}, ...request}, {signal, progress});
        if (this.gone) {
          this.gone = false;
          this.trouble("engine");
          say("The program is back, and goes on.");
        }
        return answer;
      } catch (e) {
        if (!e?.lost) throw e;
        this.gone = true;
        this.trouble("engine", `${e.message} What you recorded and dialed is kept in this browser. The page asks again by itself, and goes on as soon as it is answered.`);
        await new Promise((resolve, reject) => {
          const timer = setTimeout(resolve, wait);
          signal?.addEventListener("abort", () => { clearTimeout(timer); reject(signal.reason ?? new DOMException("cancelled", "AbortError")); }, {once: true});
        });
      }
    }
  }

  // flags are the shared flags of a study, and files what they name.
  asked(more = {}, files = {}) {
    const s = this.state;
    const flags = {panel: s.panel, task: [s.task], operator: [s.operator], ...more};
    if (s.rig && !("rig" in more)) flags.rig = [s.rig];
    for (const [name, value] of Object.entries(flags)) if (value === undefined) delete flags[name];
    const named = {};
    const all = {...s.files, ...files};
    for (const value of Object.values(flags).flat()) if (all[value] !== undefined) named[value] = all[value];
    if (flags.panel in s.files) Object.assign(named, s.files); // a panel names files of its own
    return {flags, files: {...named, ...files}};
  }

  // desk returns what the page must know of the panel; of one task where it is named.
  async desk(task, signal) {
    const s = this.state, key = JSON.stringify([s.panel, s.rig, task, s.files]);
    if (!this.desks.has(key)) {
      const asked = this.asked({task: task ? [task] : undefined, operator: undefined});
      this.desks.set(key, this.ask({study: "desk", ...asked}, {signal}).then((a) => a.result, (e) => {
        this.desks.delete(key);
        throw e;
      }));
    }
    return this.desks.get(key);
  }
}

// number writes a number of a task, given its index.
export function numberOf(use, index) {
  if (use.names) return use.names[index] ?? "–";
  return (use.first + index * use.step).toFixed(use.decimals).replace(/^-/, "−");
}

// faultsOf turns whatever went wrong into sentences.
export function faultsOf(e) {
  if (e?.faults) return e.faults;
  return [e?.message || String(e)];
}

// failed is what a place shows where an answer did not come.
export function failed(e, again) {
  const faults = faultsOf(e);
  return el("div", {class: "warn", role: "alert"},
    el("p", {}, faults.length > 1 ? "That did not work:" : `That did not work: ${faults[0]}`),
    faults.length > 1 && el("ul", {}, faults.map((f) => el("li", {}, f))),
    again && el("p", {}, el("button", {type: "button", on: {click: again}}, "Try again")));
}

// Busy shows how far a study is, with a way to cancel it.
export class Busy {
  constructor(what) {
    this.control = new AbortController();
    this.bar = el("progress", {max: 1, "aria-label": what});
    this.text = el("span", {class: "by"}, what);
    this.root = el("div", {class: "busy"}, this.bar, " ", this.text, " ",
      el("button", {type: "button", on: {click: () => this.control.abort()}}, "Cancel"));
  }
  get signal() { return this.control.signal; }
  progress = ({done, of, what}) => {
    if (of > 0) {
      this.bar.max = of;
      this.bar.value = done;
    }
    if (what) this.text.textContent = what;
  };
}
