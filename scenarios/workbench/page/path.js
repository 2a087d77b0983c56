// The path from a click to the number on the screen, in real time: the program's
// frames, an acceleration at home in the program or in the firmware, the display's lag,
// a range that wraps or stops. It is the path of a rig with relative counts, a scan and
// a poll that cost no time, and no bounce: what a browser hears has that behind it.
// Times come and go in milliseconds and are whole nanoseconds inside, clicks to the
// microsecond, so that a log of them gives the same numbers again.

import {atRest, detent} from "./accel.js";

const MS = 1e6, US = 1e3; // ns

// gainOf returns the gain of a module that `export --as js` wrote.
export function gainOf(module) {
  const found = /^export const gain = (\{[^]*?^\});$/m.exec(module);
  if (!found) throw new Error("no gain in the module; what export --as js writes would do");
  return JSON.parse(found[1]);
}

// Scale is the run of numbers that a knob dials, counted in steps: low is the first
// number in steps from zero, count how many there are (0: no range), wrap whether
// beyond the last comes the first.
export class Scale {
  constructor({low = 0, count = 0, wrap = false}) {
    Object.assign(this, {low, count, wrap});
  }

  // add returns the number that lies so many steps from v; numbers count from the start
  // of the range.
  add(v, steps) {
    v += steps;
    if (this.count === 0 || v >= 0 && v < this.count) return v;
    if (this.wrap) {
      v %= this.count;
      return v < 0 ? v + this.count : v + 0; // no -0
    }
    return Math.min(Math.max(v, 0), this.count - 1);
  }

  // distance returns the signed steps from one number to another, the shorter way round
  // where the scale wraps (upwards when both ways are equally long).
  distance(from, to) {
    let d = to - from;
    if (this.wrap && this.count > 0) {
      d %= this.count;
      if (d < 0) d += this.count;
      if (2 * d > this.count) d -= this.count;
    }
    return d + 0;
  }
}

// Path carries the clicks of one dialing. A new dialing has a new one.
export class Path {
  // frames: passes of the program's main loop a second, or null where it takes every
  //   click as it comes; phase: ms, one of its frames comes then.
  // gain: of gainOf, or null for one step a click; home: "program", or "firmware",
  //   where a click becomes as many counts as it makes steps.
  // lag: ms from a step to the screen.
  // low, count, wrap: see Scale. start: the number at the start, in steps above the
  //   first of the range.
  constructor({frames = null, phase = 0, gain = null, home = "program", lag = 0, low = 0, count = 0, wrap = false, start = 0}) {
    this.period = frames ? Math.round(1e9 / frames) : 0; // ns
    this.phase = ns(phase);
    this.gain = gain;
    this.firmware = home === "firmware";
    this.lag = ns(lag);
    this.scale = new Scale({low, count, wrap});
    this.start = this.value = start;
    this.knob = atRest();
    this.asked = low + start; // the firmware's own count of steps
    this.waiting = 0; // counts that the next frame takes, signed
    this.frame = Infinity; // ns, when it comes
    this.before = null; // what was before a frame that came while a click of before it may yet be heard
    this.clicks = []; // {at: ns, dir}
    this.shown = []; // {at: ns, value}
  }

  // detent turns the knob by n clicks, n > 0 clockwise. Clicks of one report, and those
  // heard too late to be before the one before, come a microsecond apart.
  detent(ms, n) {
    const t = Math.round(ms * 1000) * US, dir = Math.sign(n);
    for (let left = Math.abs(n) - 1; left >= 0; left--) {
      const last = this.clicks.length ? this.clicks[this.clicks.length - 1].at : -Infinity;
      this.click(Math.max(0, last + US, t - left * US), dir);
    }
  }

  click(t, dir) {
    if (this.before && t <= this.before.frame) this.undo();
    this.run(t);
    this.before = null;
    this.clicks.push({at: t, dir});
    let counts = 1;
    if (this.firmware && this.gain) {
      counts = this.steps(t, dir, this.asked);
      this.asked += dir * counts;
    }
    if (this.period) {
      this.waiting += dir * counts;
      if (this.frame === Infinity) this.frame = this.firstFrame(t);
      return;
    }
    for (; counts > 0; counts--) this.apply(t, t, dir);
  }

  // at returns the number on the screen. A click that is heard later, but came before,
  // still finds its frame.
  at(ms) {
    const t = ms * MS;
    if (this.frame <= t) {
      this.before = {...this, knob: {...this.knob, times: this.knob.times.slice()}, shown: this.shown.length};
      this.run(Infinity);
    }
    for (let i = this.shown.length - 1; i >= 0; i--) {
      if (this.shown[i].at <= t) return this.shown[i].value;
    }
    return this.start;
  }

  // busy says whether a number is still on its way to the screen after a time.
  busy(ms) {
    return this.frame !== Infinity || this.shown.length > 0 && this.shown[this.shown.length - 1].at > ms * MS;
  }

  // changes returns every new number of the screen for what has come through so far, in
  // the order of time, as [ms, number]; the last of them may lie ahead.
  changes() {
    return this.shown.map(c => [c.at / MS, c.value]);
  }

  // finish lets everything happen that is on its way, and returns the changes.
  finish() {
    this.run(Infinity);
    return this.changes();
  }

  // events returns the clicks as [ms, 1 or -1].
  events() {
    return this.clicks.map(c => [c.at / MS, c.dir]);
  }

  // run lets the frame come that is due before a time, ns.
  run(limit) {
    if (this.frame >= limit) return;
    const at = this.frame, n = Math.abs(this.waiting), dir = Math.sign(this.waiting);
    this.frame = Infinity;
    this.waiting = 0;
    for (let i = 1; i <= n; i++) { // as spread evenly since the frame before
      this.apply(at, at - this.period + Math.floor(this.period * i / n), dir);
    }
  }

  // undo takes back the frame that came last.
  undo() {
    const {frame, waiting, value, knob, shown} = this.before;
    Object.assign(this, {frame, waiting, value, knob, before: null});
    this.shown.length = shown;
  }

  // apply adds a step that the program knows by a time.
  apply(at, known, dir) {
    const steps = this.gain && !this.firmware ? this.steps(known, dir, this.scale.low + this.value) : 1;
    const value = this.scale.add(this.value, dir * steps);
    if (value === this.value) return;
    this.value = value;
    this.shown.push({at: at + this.lag, value});
  }

  // steps asks the acceleration.
  steps(t, dir, value) {
    const tick = this.gain.ticksPerSecond === 1e6 ? US : MS;
    return detent(this.gain, this.knob, Math.floor(t / tick), dir, value);
  }

  // firstFrame returns the first frame at or after a time.
  firstFrame(t) {
    const into = (t - this.phase) % this.period;
    if (into === 0) return t;
    return t - into + (into > 0 ? this.period : 0);
  }
}

// ns takes a setting in ms.
function ns(ms) { return Math.round(ms * MS); }
