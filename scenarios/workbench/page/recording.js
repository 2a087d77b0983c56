// A recording grows while a knob is turned, up to a million clicks and more, and is
// shown meanwhile: so it is kept in typed arrays, never as an object an event.

// What can be heard of a knob; n of a count is signed, the others have a way, 1
// clockwise and −1 counter-clockwise.
export const KINDS = ["press", "release", "repeat", "count", "mark"];
const [PRESS, , , COUNT, MARK] = KINDS.keys();

export class Recording {
  times = new Float64Array(1024); // ms from the start, never falling
  codes = new Int32Array(1024); // kind + 8·n; of a mark its number
  length = 0;
  clicks = 0; // presses and counts, whichever way
  marks = []; // what was asked for when, by number

  constructor({device = "", controls = ["button0", "button1"]} = {}) {
    this.device = device;
    this.controls = controls; // clockwise, counter-clockwise; one that counts is the first
  }

  #add(ms, kind, n) {
    if (this.length === this.times.length) {
      for (const name of ["times", "codes"]) {
        const larger = new this[name].constructor(2 * this.length);
        larger.set(this[name]);
        this[name] = larger;
      }
    }
    const before = this.length ? this.times[this.length - 1] : 0;
    this.times[this.length] = Math.max(before, Math.round(ms * 1000) / 1000); // stamps of two sources may cross
    this.codes[this.length++] = kind + 8 * n;
  }

  // hear takes what a source tells: {ms, kind, way, n}.
  hear({ms, kind, way = 1, n}) {
    const k = KINDS.indexOf(kind);
    const signed = k === COUNT ? n : way;
    this.#add(ms, k, signed);
    if (k === PRESS) this.clicks++;
    if (k === COUNT) this.clicks += Math.abs(signed);
  }

  mark(ms, name) {
    this.#add(ms, MARK, this.marks.length);
    this.marks.push(name);
  }

  get end() { return this.length ? this.times[this.length - 1] : 0; }

  at(i) {
    const kind = ((this.codes[i] % 8) + 8) % 8;
    return {ms: this.times[i], kind: KINDS[kind], n: (this.codes[i] - kind) / 8};
  }

  // from returns the first event at or after a time.
  from(ms) {
    let low = 0, high = this.length;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (this.times[middle] < ms) low = middle + 1; else high = middle;
    }
    return low;
  }

  // parts are the recording cut at its marks: name, clicks seen, first and last click.
  // Of a part that was done again the last time counts.
  parts() {
    const all = new Map();
    let part;
    for (let i = 0; i < this.length; i++) {
      const e = this.at(i);
      if (e.kind === "mark") {
        part = {name: this.marks[e.n], seen: 0, moved: 0, first: null, last: null};
        all.delete(part.name);
        all.set(part.name, part);
      } else if (part && (e.kind === "press" || e.kind === "count")) {
        part.seen += Math.abs(e.n);
        part.moved += e.n;
        part.first ??= e.ms;
        part.last = e.ms;
      }
    }
    return [...all.values()];
  }

  // rates are the clicks a second between neighbouring clicks of one way, of pauses
  // under 400 ms: how fast this hand turns.
  rates() {
    const rates = [];
    let before, way;
    for (let i = 0; i < this.length; i++) {
      const e = this.at(i);
      if (e.kind !== "press" && e.kind !== "count") continue;
      const gap = e.ms - before;
      if (Math.sign(e.n) === way && gap > 0 && gap < 400) rates.push(1000 * Math.abs(e.n) / gap);
      before = e.ms;
      way = Math.sign(e.n);
    }
    return rates;
  }

  // csv is the recording as dialwright fit reads it.
  csv() {
    const lines = [`# device: ${this.device.replace(/[^\x20-\x7e]/g, "?") || "browser"}`, "time_s,control,event"];
    for (let i = 0; i < this.length; i++) {
      const e = this.at(i), s = (e.ms / 1000).toFixed(6);
      if (e.kind === "mark") lines.push(`${s},${this.marks[e.n]},mark`);
      else if (e.kind === "count") lines.push(`${s},${this.controls[0]},${e.n > 0 ? "+" : ""}${e.n}`);
      else lines.push(`${s},${this.controls[e.n > 0 ? 0 : 1]},${e.kind}`);
    }
    return lines.join("\n") + "\n";
  }

  // kept and from plain objects, for the browser's storage.
  keep() {
    return {device: this.device, controls: this.controls, marks: this.marks, clicks: this.clicks, length: this.length,
      times: this.times.slice(0, this.length), codes: this.codes.slice(0, this.length)};
  }

  static of(kept) {
    const r = new Recording(kept);
    r.marks = [...kept.marks];
    r.clicks = kept.clicks;
    r.length = kept.length;
    r.times = kept.times.length ? kept.times.slice() : new Float64Array(1024);
    r.codes = kept.codes.length ? kept.codes.slice() : new Int32Array(1024);
    return r;
  }

  // read takes a recording that was saved by this page or by dialwright capture: CSV
  // time_s,control,event. Other formats go to the engine as they are.
  static read(text) {
    const r = new Recording();
    const lines = text.replace(/^\ufeff/, "").split(/\r?\n/);
    const controls = [], rest = [];
    for (const [n, line] of lines.entries()) {
      const device = /^# device: (.*)$/.exec(line);
      if (device) r.device = device[1];
      if (!line || line.startsWith("#") || line.startsWith("time_s")) continue;
      const [s, control, event] = line.split(",");
      const ms = 1000 * Number(s);
      if (!Number.isFinite(ms) || control === undefined || event === undefined) throw new Error(`line ${n + 1}: ${line.slice(0, 60)}; seconds, a control and an event would do`);
      if (event !== "mark" && !controls.includes(control)) controls.push(control);
      rest.push([ms, control, event]);
    }
    let slow = false, clockwise;
    for (const [, control, event] of rest) { // clockwise is the way of the slow turn
      if (event === "mark") slow = control.startsWith("slow");
      else if (slow && event === "press") { clockwise = control; break; }
    }
    controls.sort((a, b) => (b === clockwise) - (a === clockwise));
    if (controls.length) r.controls = controls.length > 1 ? controls.slice(0, 2) : [controls[0], controls[0]];
    for (const [ms, control, event] of rest) {
      if (event === "mark") r.mark(ms, control);
      else if (["press", "release", "repeat"].includes(event)) r.hear({ms, kind: event, way: control === r.controls[0] ? 1 : -1});
      else if (/^[+-]?\d+$/.test(event)) r.hear({ms, kind: "count", n: Number(event)});
    }
    return r;
  }
}
