// Keep: everything to take away, and a link that holds the whole state.

import {button, el, field, more, plural, say} from "./element.js";
import {logOf, save} from "./dial.js";
import {Recording} from "./recording.js";
import {shaped} from "./shape.js";
import {Busy, failed} from "./workbench.js";

const MOST = 1 << 20; // bytes of a state that is unpacked

async function through(bytes, stream) {
  const out = [];
  let n = 0;
  for await (const part of new Blob([bytes]).stream().pipeThrough(stream)) {
    if ((n += part.length) > MOST) throw new Error("it holds more than a state");
    out.push(part);
  }
  return new Uint8Array(await new Blob(out).arrayBuffer());
}

// packed is a state as the fragment of a link; unpacked reads it.
export async function packed(state) {
  const bytes = await through(new TextEncoder().encode(JSON.stringify(state)), new CompressionStream("deflate-raw"));
  let text = "";
  for (const b of bytes) text += String.fromCharCode(b);
  return btoa(text).replaceAll("+", "-").replaceAll("/", "_").replaceAll("=", "");
}

export async function unpacked(text) {
  const bytes = Uint8Array.from(atob(text.replaceAll("-", "+").replaceAll("_", "/")), (c) => c.charCodeAt(0));
  return JSON.parse(new TextDecoder().decode(await through(bytes, new DecompressionStream("deflate-raw"))));
}

export class KeepPlace {
  constructor(bench, root) {
    this.bench = bench;
    this.root = root;
  }

  async open() {
    const s = this.bench.state, store = this.bench.store;
    const recording = await store.get("recording"), sitting = await store.get("sitting"), dialings = await store.all("dialings");
    const p = shaped(s);
    const files = Object.keys(s.files).length + (recording ? 1 : 0) + (dialings.length ? 1 : 0);
    this.root.append(el("h1", {id: "answer"}, files ? `${plural(files, "thing")} of your own ${files === 1 ? "is" : "are"} kept here.` : "Nothing of your own is kept here yet."),
      el("p", {class: "by"}, "What you keep stands in this browser alone. Take it away as files, or as a link."));
    this.said = el("div", {"aria-live": "polite"});
    const offer = (what, about, ...acts) => el("li", {class: "offer"}, el("div", {}, el("b", {}, what), el("p", {class: "hint"}, about)), el("div", {class: "row"}, acts));
    const take = (label, name, as) => button(label, () => this.made(name, as));
    const profile = `The profile of Shape (${p.name}) for ${s.task}.`;
    this.root.append(el("ul", {class: "offers"},
      offer("Profile", profile, take("YAML", "profile.yaml", "json"), take("CSV", "gain.csv", "csv")),
      offer("Header", "The same integers for a firmware in C, or for a program in JavaScript.", take("C", "dial.h", "c"), take("JavaScript", "dial.js", "js")),
      offer("Card", "What to set and what to expect, to print.", take("Card", "card.html", "html")),
      offer("Report", "One page with plots, tables and the card. It takes a while.", button("Report", () => this.report())),
      recording && offer("Recording", `${plural(recording.clicks, "click")}.`, button("CSV", () => this.hand("knob.csv", Recording.of(recording).csv()))),
      dialings.length > 0 && sitting && offer("Dialings", `${dialings.length} of ${sitting.plan.length}.`, button("JSON Lines", () => this.hand("dialings.jsonl", logOf(sitting, dialings)))),
      Object.entries(s.files).map(([name, text]) => offer(name, "yours", button("Save", () => this.hand(name, text)), button("Forget", () => { delete s.files[name]; if (s.rig === name) s.rig = ""; if (s.operator === name) s.operator = "practised"; this.bench.save(); this.again(); })))));
    const file = el("input", {type: "file", accept: ".yaml,.yml,.json,.txt", on: {change: (e) => this.take(e.target.files[0])}});
    const link = el("input", {type: "text", readonly: true, value: ""});
    this.root.append(el("h2", {}, "Bring a file in"), field("File", file, "a rig, profile, panel, task or operator as YAML"),
      el("h2", {}, "A link that holds all of it"), el("p", {class: "by"}, "Settings and files, not the recording and the dialings. The part behind # never goes to any server."),
      field("Link", link), el("div", {class: "row"}, button("Copy the link", async () => {
        try {
          await navigator.clipboard.writeText(link.value);
          say("Copied.");
          this.said.textContent = "The link is copied.";
        } catch {
          link.select();
          this.said.textContent = "Copy the link from its field.";
        }
      })), this.said,
      more("Forget everything", el("p", {}, "Takes the recording, the dialings and all settings out of this browser."), button("Forget everything", async () => {
        for (const list of ["dialings"]) await store.clear(list);
        for (const key of ["recording", "fit", "sitting", "state"]) await store.put(key, undefined);
        this.bench.take({});
        this.again();
        say("Everything is forgotten.");
      })));
    link.value = `${location.href.split("#")[0]}#shape?${await packed(s)}`;
  }

  close() { this.busy?.control.abort(); }

  again() {
    this.root.replaceChildren();
    return this.open();
  }

  // hand puts a file where serve keeps them, or hands it to the browser.
  async hand(name, text) {
    let where = "";
    try {
      where = this.bench.engine.via === "http" ? await this.bench.engine.keep(name, text) : "";
    } catch { /* the browser takes it */ }
    if (!where) save(name, text);
    this.said.textContent = where ? `Kept: ${where}` : `${name} is among your downloads.`;
  }

  async run(request, then) {
    const busy = this.busy = new Busy("Working…");
    this.said.replaceChildren(busy.root);
    try {
      await then(await this.bench.ask(request, busy));
    } catch (e) {
      this.said.replaceChildren(e?.name === "AbortError" ? el("p", {}, "Cancelled.") : failed(e));
    }
  }

  made(name, as) {
    const p = shaped(this.bench.state);
    if (as === "json" && p.text) return this.hand(name, p.text);
    const card = as === "html" ? {} : {operator: undefined, rig: undefined};
    const request = this.bench.asked({as, ...card}, p.text ? {[p.name]: p.text} : {});
    if (as === "json" && !p.text) return this.run({study: "show", args: [p.name]}, (a) => this.hand(name, a.text));
    return this.run({study: "export", args: [p.name], ...request}, (a) => this.hand(name, a.text));
  }

  report() {
    const p = shaped(this.bench.state);
    return this.run({study: "report", ...this.bench.asked({profile: p.name, trials: 200}, p.text ? {[p.name]: p.text} : {})}, (a) => this.hand("report.html", a.text));
  }

  async take(file) {
    if (!file) return;
    const text = await file.text();
    await this.run({study: "check", args: [file.name], files: {[file.name]: text}}, (a) => {
      const faults = a.result.files[0].faults;
      if (faults.length) throw {faults: faults.map((f) => `${file.name}:${f.line}:${f.column}: ${f.field ? `${f.field}: ` : ""}${f.message}`)};
      const s = this.bench.state, kind = a.result.files[0].kind;
      s.files[file.name] = text;
      if (kind === "rig" || kind === "operator" || kind === "panel") s[kind] = file.name;
      if (kind === "profile") s.dial.b = file.name;
      this.bench.desks.clear();
      this.bench.save();
      this.again().then(() => { this.said.textContent = `${file.name} is taken.`; });
    });
  }
}
