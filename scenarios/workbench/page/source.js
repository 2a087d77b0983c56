// Where clicks come from: HID reports, a gamepad, keys, a wheel, or a finger that
// drags. A source tells {ms, kind: "press" | "release" | "repeat" | "count", way, n},
// ms on the clock of performance.now(), way 1 clockwise and −1 counter-clockwise, n
// signed. What a browser cannot see of it is said beside each.

import {Knob, Learner as ReportLearner} from "./hid.js";

// heldOff are keys that move the focus or leave a dialing; no knob may have them.
const heldOff = new Set(["Tab", "Enter", "NumpadEnter", "Escape", "Space"]);

class Keys {
  static name = "keyboard";
  static about = "a knob that types keys, or two keys of your keyboard";
  static can() { return ""; }
  static sees = ["Presses, releases and the system's own key repeats, as the browser is told of them.",
    "Times are those of the system's event, in steps of 0.1 ms at best, and not those of the USB report.",
    "Some systems keep keys to themselves (a volume knob, the Windows or Command key): such a knob is not heard here."];
  static lessons = 2;
  constructor(learned) { this.learned = learned; }
  get controls() { return ["key1", "key2"]; } // which keys they are is nobody's business

  // listen hears the two keys; before they are learned, every key.
  listen(pad, tell) {
    const hear = (event) => {
      if (heldOff.has(event.code) || event.ctrlKey || event.metaKey || event.altKey) return;
      const typed = event.target.closest?.("input, select, textarea");
      const control = event.code || event.key;
      const way = !this.learned ? 0 : control === this.learned.clockwise ? 1 : control === this.learned.counter ? -1 : undefined;
      if (way === undefined || typed && !this.learned) return;
      event.preventDefault();
      tell({ms: event.timeStamp, kind: event.type === "keyup" ? "release" : event.repeat ? "repeat" : "press", way, control});
    };
    addEventListener("keydown", hear, true);
    addEventListener("keyup", hear, true);
    return () => {
      removeEventListener("keydown", hear, true);
      removeEventListener("keyup", hear, true);
    };
  }
}

class Wheel {
  static name = "wheel";
  static about = "a mouse wheel, or a knob that reports as one";
  static can() { return ""; }
  static sees = ["Only counts, and only those that the system hands on: a wheel's reports may be joined before the page hears of them.",
    "How fast a wheel's clicks came is known to a few milliseconds. Turn with the pointer on the field."];
  static lessons = 1;
  constructor(learned) {
    this.learned = learned;
    this.rest = 0;
  }
  get controls() { return ["wheel", "wheel"]; }

  listen(pad, tell) {
    const hear = (event) => {
      if (event.ctrlKey) return; // that zooms the page
      event.preventDefault();
      const delta = event.deltaY || event.deltaX;
      if (!delta) return;
      if (!this.learned) {
        tell({ms: event.timeStamp, kind: "count", n: Math.sign(delta), control: String(Math.sign(delta)), unit: Math.abs(delta)});
        return;
      }
      this.rest += delta / this.learned.unit; // wheels of fine resolution report parts of a click
      const n = Math.trunc(this.rest + Math.sign(this.rest) * 1e-6);
      this.rest -= n;
      if (n) tell({ms: event.timeStamp, kind: "count", n: n * this.learned.sign});
    };
    pad.addEventListener("wheel", hear, {passive: false});
    return () => pad.removeEventListener("wheel", hear);
  }
}

// A finger that moves this far has turned one click; ours.
const DRAG = 14; // CSS pixels

class Drag {
  static name = "drag";
  static about = "a finger or the mouse drags across the field: a stand-in where there is no knob";
  static can() { return ""; }
  static sees = ["This is no knob: nothing clicks under the finger, and every " + DRAG + " pixels count as one. It shows the page, not your rig.",
    "Right and up are clockwise. The arrow keys on the field do the same."];
  static lessons = 0;
  get controls() { return ["dial", "dial"]; }

  listen(pad, tell) {
    let from, turned;
    const down = (event) => {
      from = [event.clientX, event.clientY];
      turned = 0;
      pad.setPointerCapture(event.pointerId);
      event.preventDefault();
      pad.focus();
    };
    const move = (event) => {
      if (!from) return;
      const way = (event.clientX - from[0]) - (event.clientY - from[1]);
      const n = Math.trunc(way / DRAG) - turned;
      turned += n;
      if (n) tell({ms: event.timeStamp, kind: "count", n});
    };
    const up = () => { from = undefined; };
    const key = (event) => {
      const n = {ArrowRight: 1, ArrowUp: 1, ArrowLeft: -1, ArrowDown: -1}[event.key];
      if (!n) return;
      event.preventDefault();
      tell({ms: event.timeStamp, kind: "count", n});
    };
    const all = {pointerdown: down, pointermove: move, pointerup: up, pointercancel: up, keydown: key};
    for (const [name, act] of Object.entries(all)) pad.addEventListener(name, act);
    return () => { for (const [name, act] of Object.entries(all)) pad.removeEventListener(name, act); };
  }
}

class Gamepad {
  static name = "gamepad";
  static about = "a board that shows as a game controller, with a button for each way";
  static can() { return navigator.getGamepads ? "" : "this browser has no gamepad interface"; }
  static sees = ["The page looks at the buttons once a screen frame, 60 times a second on most screens: a press that is shorter than that may be missed, and two may look like one.",
    "So clicks that are lost here need not be lost in a program. HID reports or the keyboard show more."];
  static lessons = 2;
  constructor(learned) { this.learned = learned; }
  get controls() { return ["button0", "button1"]; }

  listen(pad, tell) {
    const down = new Map();
    let frame, first = true;
    const look = (now) => {
      for (const g of navigator.getGamepads()) {
        if (!g) continue;
        g.buttons.forEach((b, i) => {
          const control = `pad${g.index}/button${i}`, is = b.pressed, was = down.get(control) ?? (first && is);
          down.set(control, is);
          if (is === was) return;
          const way = !this.learned ? 0 : control === this.learned.clockwise ? 1 : control === this.learned.counter ? -1 : undefined;
          if (way !== undefined) tell({ms: now, kind: is ? "press" : "release", way, control});
        });
      }
      first = false;
      frame = requestAnimationFrame(look);
    };
    frame = requestAnimationFrame(look);
    return () => cancelAnimationFrame(frame);
  }
}

// reading is what HID hands to its learner and its knob.
const reading = (event) => [event.reportId, new Uint8Array(event.data.buffer, event.data.byteOffset, event.data.byteLength)];

class Hid {
  static name = "HID reports";
  static about = "the board's own reports, before the system makes a controller of them";
  static can() { return navigator.hid ? "" : "this browser hands no HID reports to a page"; }
  static sees = ["Every report of the device that you pick, as the system hands it on, with the time at which the browser got it: some milliseconds late, on a busy machine more.",
    "Reports that the system joins are one here. Keyboards and mice are kept from pages: a board that types keys is heard as keyboard.",
    "The browser asks which device it may read, once. On Linux its file under /dev must be yours to read."];
  static lessons = 2;
  constructor(learned) { this.learned = learned; }
  get controls() { return this.learned.kind === "buttons" || this.learned.kind === "codes" ? ["button0", "button1"] : ["dial", "dial"]; }

  // ready opens the device that was learned, or the one that is picked now: what is
  // known of another is of no use then. It must be called from a click.
  async ready() {
    const known = await navigator.hid.getDevices();
    this.device = known.find((d) => named(d) === this.learned?.device);
    if (!this.device) {
      this.learned = undefined;
      [this.device] = await navigator.hid.requestDevice({filters: []});
    }
    if (!this.device) throw new Error("No device was picked. If yours was not offered, it types keys, or the system keeps it: try the keyboard or the gamepad.");
    if (!this.device.opened) await this.device.open();
  }

  // learner finds the knob in the reports.
  learner() {
    const learner = new ReportLearner(this.device.collections), device = named(this.device);
    return {
      get lesson() { return learner.lesson; },
      get heard() { return learner.heard; },
      hear: (e) => learner.hear(e),
      next() {
        const learned = learner.next();
        return learned && {...learned, device};
      },
    };
  }

  listen(pad, tell, lost = () => {}) {
    const knob = this.learned && new Knob(this.learned), device = this.device;
    const hear = (event) => {
      const [report, data] = reading(event);
      if (!knob) tell({ms: event.timeStamp, report, data});
      else for (const e of knob.report(event.timeStamp, report, data)) tell(e);
    };
    const gone = (event) => {
      if (event.device === device) lost("The device is gone: plug it in again, and begin again. What was heard until then is kept.");
    };
    device.addEventListener("inputreport", hear);
    navigator.hid.addEventListener("disconnect", gone);
    return () => {
      device.removeEventListener("inputreport", hear);
      navigator.hid.removeEventListener("disconnect", gone);
    };
  }
}

// named tells devices apart that one has at a desk.
function named({vendorId, productId, productName}) { return `${vendorId}:${productId} ${productName}`; }

export const sources = {hid: Hid, keys: Keys, gamepad: Gamepad, wheel: Wheel, drag: Drag};

// Learner finds the knob's controls: one lesson turned clockwise, one the other way
// where each way has a control of its own.
class Learner {
  constructor(kind) {
    this.kind = kind;
    this.lesson = 0;
    this.counts = [new Map(), new Map()];
    this.unit = new Map();
  }

  // hear returns how many clicks of this lesson were heard.
  hear(e) {
    if (e.kind !== "press" && e.kind !== "count") return this.heard;
    const seen = this.counts[this.lesson];
    seen.set(e.control, (seen.get(e.control) ?? 0) + 1);
    if (e.unit) this.unit.set(e.unit, (this.unit.get(e.unit) ?? 0) + 1);
    return this.heard;
  }

  get heard() { return Math.max(0, ...this.counts[this.lesson].values()); }

  // next ends a lesson, and returns what was learned, or undefined where another lesson
  // is needed. It throws what was not clear, and the lesson begins again.
  next() {
    const most = (m) => [...m].sort((a, b) => b[1] - a[1])[0]?.[0];
    const control = most(this.counts[this.lesson]);
    const again = (why) => {
      this.counts[this.lesson].clear();
      throw new Error(why);
    };
    if (this.heard < 3) again("Too little was heard. Turn some five clicks, and touch nothing else.");
    if (this.kind === "wheel") return {sign: Number(control), unit: most(this.unit)};
    if (this.lesson === 0) {
      this.lesson = 1;
      return undefined;
    }
    const clockwise = most(this.counts[0]);
    if (control === clockwise) again("Both ways looked the same. Turn it the other way now, some five clicks.");
    return {clockwise, counter: control};
  }
}

// learnerOf is what finds the knob in what a source of a kind tells.
export function learnerOf(kind, source) { return source.learner?.() ?? new Learner(kind); }
