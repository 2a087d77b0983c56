// What was dialed and what was recorded, as files. Dialings are JSON Lines: a line that
// says with what, and a line for each dialing; `go doc ./scenarios Dialings` says what every
// key is. Recordings are the CSV that `dialwright fit FILE` reads. Neither says who dialed,
// when, or where.

import {Scale} from "./path.js";

const ms = (x, digits) => Number(x.toFixed(digits));

// headLine writes the first line of a file of dialings.
//   device: {kind: "hid" | "gamepad" | "keys" | "wheel" | "drag" | "simulated",
//     clicksPerTurn, name?}
//   rates: {stampMs?, pollMs?, screenPerS?}: the steps of the time stamps of clicks, how
//     often the device is asked, how often the screen is drawn; what is not known is
//     left out
//   program: {framesPerS?, lagMs}: of the path; without frames a click counts as it comes
//   tasks: {heading: {unit, low, count, wrap, tolerance}}: see Scale; all but the unit in
//     steps
//   settings: {A: profile}: what `export --as json` writes, parsed
export function headLine({device, rates = {}, program, tasks, settings}) {
  return line({
    kind: "dialings", version: 1,
    device: {kind: device.kind, name: device.name || undefined, clicks_per_turn: device.clicksPerTurn},
    rates: {stamp_ms: rates.stampMs, poll_ms: rates.pollMs, screen_per_s: rates.screenPerS},
    program: {frames_per_s: program.framesPerS || undefined, lag_ms: program.lagMs || 0},
    tasks: Object.fromEntries(Object.entries(tasks).map(([name, {unit, low, count, wrap, tolerance}]) => [name, {unit: unit || undefined, low, count, wrap, tolerance}])),
    settings,
  });
}

// dialingLine writes a dialing. Times are in ms from the appearance of the target,
// numbers in steps above the first of the range.
//   pair: 0 for practice, then from 1; order: 1 or 2, which of the pair it was
//   events: [[ms, clicks]] of Path.events; shown: [[ms, number]] of Path.finish
//   phase: of the program's frames, as Path got it
//   end: when the person said that it was done, or it ended otherwise
//   outcome: "right" (the number is within the tolerance), "wrong" (it is not, and the
//     person said done), "gave-up", "away" (the page was left)
export function dialingLine({task, setting, pair, order, start, target, phase = 0, events, shown, end, outcome}) {
  return line({
    task, setting, pair, order, start, target, phase_ms: ms(phase, 6),
    events: events.map(([t, n]) => [ms(t, 3), n]), shown: shown.map(([t, v]) => [ms(t, 6), v]), end_ms: ms(end, 3), outcome,
  });
}

function line(x) { return JSON.stringify(x) + "\n"; }

// readDialings reads what headLine and dialingLine wrote, to go on with it. A last line
// that was cut off is left out.
export function readDialings(text) {
  const lines = text.replace(/^\uFEFF/, "").split(/\r?\n/);
  const whole = lines.filter(Boolean).flatMap((l, i, all) => {
    try {
      return [JSON.parse(l)];
    } catch (err) {
      if (i === all.length - 1 && i > 0) return [];
      throw new Error(`line ${i + 1}: ${err.message}; what the page saved would do`);
    }
  });
  const head = whole[0];
  if (head?.kind !== "dialings" || head.version !== 1) throw new Error('line 1: {"kind":"dialings","version":1,…} would do');
  const {device, rates = {}, program} = head;
  return {
    device: {kind: device.kind, name: device.name, clicksPerTurn: device.clicks_per_turn},
    rates: {stampMs: rates.stamp_ms, pollMs: rates.poll_ms, screenPerS: rates.screen_per_s},
    program: {framesPerS: program.frames_per_s ?? null, lagMs: program.lag_ms},
    tasks: head.tasks, settings: head.settings,
    dialings: whole.slice(1).map(({phase_ms, end_ms, ...d}) => ({...d, phase: phase_ms, end: end_ms})),
  };
}

// measured returns what a dialing came to, by the rule of the simulation: time, ms until
// the number last entered the tolerance, or null where it is not in it at the end;
// overshoot, the largest excursion past the tolerance, in steps, from the side on which
// the number came; and wrongWay, whether the first click went away from the target.
export function measured({start, target, events, shown}, {count, wrap, tolerance}) {
  const scale = new Scale({count, wrap});
  const outside = off => off - Math.min(Math.max(off, -tolerance), tolerance);
  const distance = scale.distance(start, target);
  let off = -distance, value = start, side = Math.sign(off), crossed = false, worst = 0;
  let inside = outside(off) === 0, entered = 0;
  for (const [t, v] of shown) {
    off += scale.distance(value, v);
    value = v;
    if (wrap && count > 0 && 2 * Math.abs(off) > count) { // round the ring: from here on it comes from the other side
      off = -scale.distance(value, target);
      side = Math.sign(off);
      crossed = false;
    }
    const past = outside(off);
    if (past !== 0) {
      if (Math.sign(past) !== side) {
        side = Math.sign(past);
        crossed = true;
      }
      if (crossed) worst = Math.max(worst, Math.abs(past));
    }
    if (past === 0 && !inside) entered = t;
    inside = past === 0;
  }
  return {
    time: inside ? entered : null, overshoot: worst,
    wrongWay: events.length > 0 && distance !== 0 && Math.sign(events[0][1]) !== Math.sign(distance),
  };
}

// recordingText writes a recording as CSV.
//   events: [{t: ms, control, event}] in the order of time; event: "press", "release",
//     "repeat", a signed count, or "mark", whose control is the name of a step of a
//     guided session ("slow turn", "fast turn clockwise 1", …)
export function recordingText({device = "", repeat = null, partial = "", events}) {
  const note = (key, value) => value && /^[^\p{C}\u2028\u2029]{1,200}$/u.test(value) ? `# ${key}: ${value}\n` : "";
  let text = note("device", device);
  if (repeat) text += `# repeat_delay_ms: ${repeat.delay}\n# repeat_period_ms: ${repeat.period}\n`;
  text += "time_s,control,event\n";
  const first = events.length ? events[0].t : 0;
  let last = 0;
  for (const {t, control, event} of events) {
    last = Math.max(last, Math.round((t - first) * 1000)); // µs; a browser may hand events over out of order
    text += `${seconds(last)},${field(control)},${event}\n`;
  }
  return text + note("partial", partial);
}

// seconds writes whole µs as seconds, exactly.
function seconds(us) {
  return `${Math.floor(us / 1e6)}.${String(us % 1e6).padStart(6, "0")}`;
}

function field(s) {
  return /[",;]|^\s|\s$/.test(s) ? `"${s.replaceAll('"', '""')}"` : s;
}

// readRecording reads what recordingText wrote; for other files there is fit.
export function readRecording(text) {
  const events = [];
  let device = "", partial = "", headed = false;
  text.replace(/^\uFEFF/, "").split(/\r?\n/).forEach((l, i) => {
    const note = /^# (device|partial): (.*)$/.exec(l);
    if (note?.[1] === "device") device = note[2];
    else if (note) partial = note[2];
    else if (l === "" || l.startsWith("#")) return;
    else if (!headed) {
      if (l !== "time_s,control,event") throw new Error(`line ${i + 1}: time_s,control,event would do`);
      headed = true;
    } else {
      const m = /^(\d+(?:\.\d+)?),("(?:[^"]|"")*"|[^",]*),(press|release|repeat|mark|[+-]?\d+)$/.exec(l);
      if (!m) throw new Error(`line ${i + 1}: three fields, such as 0.125,wheel,1, would do`);
      const control = m[2].startsWith('"') ? m[2].slice(1, -1).replaceAll('""', '"') : m[2];
      events.push({t: Number(m[1]) * 1000, control, event: /\d/.test(m[3]) ? Number(m[3]) : m[3]});
    }
  });
  return {device, partial, events};
}
