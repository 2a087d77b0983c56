// The strip shows clicks, pulses and gaps over time, and clicks a second. It is drawn
// column by column of the screen, so a recording of a million clicks costs no more than
// one of a hundred.

import {el, fixed} from "./element.js";

const LANES = {height: 158, rate: 52, up: 86, down: 120, foot: 154}; // CSS pixels from the top

export class Strip {
  constructor(label) {
    this.canvas = el("canvas", {class: "strip", role: "img", "aria-label": label});
    this.from = 0;
    this.span = 6000; // ms
    this.cached = undefined;
    this.dark = matchMedia("(prefers-color-scheme: dark)");
    this.changed = () => this.draw();
    this.dark.addEventListener("change", this.changed);
    this.watch = new ResizeObserver(this.changed);
    this.watch.observe(this.canvas);
  }

  close() {
    this.dark.removeEventListener("change", this.changed);
    this.watch.disconnect();
  }

  show(recording, from, span) {
    this.recording = recording;
    this.from = from;
    this.span = span;
    this.draw();
  }

  // columns sums a stretch of the recording up by columns of the screen.
  columns(width) {
    const r = this.recording, perColumn = this.span / width;
    const clicks = [new Uint32Array(width), new Uint32Array(width)], down = [new Uint8Array(width), new Uint8Array(width)];
    const marks = [];
    const column = (ms) => Math.floor((ms - this.from) / perColumn);
    const pressed = [undefined, undefined];
    const begin = r.from(this.from - 2000), end = r.from(this.from + this.span);
    const hold = (lane, a, b) => {
      if (b < 0 || a >= width) return;
      down[lane].fill(1, Math.max(0, a), Math.min(width, Math.max(a, b) + 1));
    };
    for (let i = begin; i < end; i++) {
      const ms = r.times[i], code = r.codes[i], kind = ((code % 8) + 8) % 8, n = (code - kind) / 8, c = column(ms);
      if (kind === 4) {
        if (c >= 0) marks.push([c, r.marks[n]]);
        continue;
      }
      const lane = n > 0 ? 0 : 1;
      if (kind === 0 || kind === 3) {
        if (c >= 0 && c < width) clicks[lane][c] += Math.abs(n);
        if (kind === 0) pressed[lane] = c;
      } else if (kind === 1 && pressed[lane] !== undefined) {
        hold(lane, pressed[lane], c);
        pressed[lane] = undefined;
      }
    }
    pressed.forEach((c, lane) => { if (c !== undefined) hold(lane, c, column(r.end)); });
    return {clicks, down, marks, perColumn};
  }

  draw() {
    const c = this.canvas, width = Math.max(1, Math.floor(c.clientWidth)), scale = Math.min(3, devicePixelRatio || 1);
    if (c.width !== Math.round(width * scale) || c.height !== Math.round(LANES.height * scale)) {
      c.width = Math.round(width * scale);
      c.height = Math.round(LANES.height * scale);
    }
    const style = getComputedStyle(c), ink = (name) => style.getPropertyValue(name).trim();
    const g = c.getContext("2d");
    g.setTransform(scale, 0, 0, scale, 0, 0);
    g.clearRect(0, 0, width, LANES.height);
    g.font = "12px 'Liberation Sans', Arial, Helvetica, sans-serif";
    g.fillStyle = ink("--grid");
    for (const y of [LANES.rate, LANES.up + 2, LANES.down + 2]) g.fillRect(0, y, width, 1);
    if (!this.recording || !this.recording.length) return;
    const {clicks, down, marks, perColumn} = this.columns(width);
    for (const lane of [0, 1]) {
      const y = lane ? LANES.down : LANES.up;
      g.fillStyle = ink(lane ? "--vermilion" : "--blue");
      g.globalAlpha = 0.35;
      for (let x = 0; x < width; x++) if (down[lane][x]) g.fillRect(x, y - 8, 1, 8);
      g.globalAlpha = 1;
      for (let x = 0; x < width; x++) if (clicks[lane][x]) g.fillRect(x, y - 16, perColumn < 40 ? 1.5 : 1, 16);
    }
    // Clicks a second: the mean over a quarter of a second or five columns.
    const half = Math.max(2, Math.round(125 / perColumn));
    let sum = 0, most = 10;
    const rate = new Float64Array(width);
    const at = (x) => x >= 0 && x < width ? clicks[0][x] + clicks[1][x] : 0;
    for (let x = -half; x < width; x++) {
      sum += at(x + half) - at(x - half - 1);
      if (x >= 0) most = Math.max(most, rate[x] = 1000 * sum / ((2 * half + 1) * perColumn));
    }
    g.strokeStyle = ink("--ink");
    g.lineWidth = 1.5;
    g.beginPath();
    for (let x = 0; x < width; x++) g.lineTo(x, LANES.rate - (LANES.rate - 18) * rate[x] / most);
    g.stroke();
    g.fillStyle = ink("--soft");
    g.fillText(`clicks a second, up to ${fixed(most, 0)}`, 0, 12);
    g.fillText("clockwise", 0, LANES.up - 19);
    g.fillText("counter-clockwise", 0, LANES.down - 19);
    g.textAlign = "right";
    g.fillText(`${fixed((this.from + this.span) / 1000, 1)} s`, width, LANES.foot);
    g.textAlign = "left";
    g.fillText(`${fixed(this.from / 1000, 1)} s`, 0, LANES.foot);
    let free = 0;
    for (const [x, name] of marks) {
      g.fillRect(x, 16, 1, LANES.down - 14);
      if (x >= free && x + g.measureText(name).width < width) {
        g.fillText(name, x + 4, LANES.foot - 17);
        free = x + g.measureText(name).width + 12;
      }
    }
  }
}
