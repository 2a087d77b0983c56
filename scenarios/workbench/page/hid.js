// Which bits of a device's HID reports are the knob, and what they say. A report
// descriptor seldom tells: a knob may be a counter among the axes of a controller, a
// wheel, two buttons, two key codes, or bytes of the maker's own. So the knob is turned
// some clicks clockwise, then as many back, and what moved one way and then the other is
// it. The browser's parsed descriptor, where there is one, says which bits belong
// together. Nothing here touches the page.

// A field is a run of bits of a report: {report, at, bits, signed, relative?, modulus?},
// at the number of its first bit, least significant first, without the report's number.

// fieldsOf lists the fields of input reports from a device's collections (HIDDevice's):
// numbers, with relative and modulus, and arrays of codes, {array: true}.
export function fieldsOf(collections) {
  const fields = [], used = new Map();
  const walk = (collection) => {
    for (const {reportId = 0, items = []} of collection.inputReports ?? []) {
      for (const item of items) {
        const at = used.get(reportId) ?? 0, {reportSize: bits = 0, reportCount: count = 0} = item;
        used.set(reportId, at + bits * count);
        if (item.isConstant || bits < 1 || bits > 32) continue;
        const low = item.logicalMinimum ?? 0, high = item.logicalMaximum ?? 0;
        for (let i = 0; i < count; i++) {
          fields.push({
            report: reportId, at: at + i * bits, bits, signed: low < 0,
            ...(item.isArray ? {array: true} : {relative: item.isAbsolute === false, modulus: high > low ? high - low + 1 : 2 ** bits}),
          });
        }
      }
    }
    for (const child of collection.children ?? []) walk(child);
  };
  for (const c of collections ?? []) walk(c);
  return fields;
}

// value reads a field, or returns undefined where the report is too short.
export function value(data, {at, bits, signed}) {
  if (at + bits > data.length * 8) return undefined;
  let v = 0;
  for (let b = 0; b < bits; b++) {
    if (data[(at + b) >>> 3] >>> ((at + b) & 7) & 1) v += 2 ** b;
  }
  return signed && v >= 2 ** (bits - 1) ? v - 2 ** bits : v;
}

// step returns how far a counter that wraps has moved, the shorter way.
function step(from, to, modulus) {
  const d = (((to - from) % modulus) + modulus) % modulus;
  return 2 * d > modulus ? d - modulus : d;
}

// Least clicks of a lesson, and how much faster than its commonest step a counter may
// move in it; ours.
const LEAST = 3, JUMP = 8;

// Learner finds the knob in two lessons: clockwise, then back.
export class Learner {
  constructor(collections) {
    this.fields = fieldsOf(collections);
    this.lesson = 0;
    this.lessons = [[], []];
    this.changed = [0, 0];
    this.latest = new Map();
  }

  // hear takes a report, {report, data}; the bytes are copied.
  hear({report = 0, data}) {
    const bytes = Uint8Array.from(data), before = this.latest.get(report);
    this.lessons[this.lesson].push({report, data: bytes, before});
    this.latest.set(report, bytes);
    if (bytes.some((b, i) => b !== (before?.[i] ?? 0))) this.changed[this.lesson]++;
    return this.heard;
  }

  // heard is in how many reports of this lesson something changed or moved.
  get heard() { return this.changed[this.lesson]; }

  // next ends a lesson, and returns what was learned, or undefined after the first. It
  // throws what was not clear, and the lesson begins again.
  next() {
    const again = (why) => {
      this.lessons[this.lesson] = [];
      this.changed[this.lesson] = 0;
      throw new Error(why);
    };
    if (this.lessons[this.lesson].length < LEAST) again("Too little was heard. Turn some five clicks, and touch nothing else.");
    if (this.lesson === 0) {
      this.lesson = 1;
      return undefined;
    }
    return learn(...this.lessons, this.fields) ?? again("Nothing moved one way and then the other. Turn it the other way now, some five clicks, and touch nothing else.");
  }
}

// learn finds the knob in the reports of two lessons, {report, data, before}, before being
// the bytes of the report before. It returns what Knob takes, or undefined.
export function learn(clockwise, back, fields = []) {
  const reports = [...new Set([...clockwise, ...back].map(r => r.report))];
  const lessons = [clockwise, back];
  const numbers = fields.filter(f => !f.array && f.bits > 1);
  const found = [];
  for (const report of reports) {
    const of = lessons.map(l => l.filter(r => r.report === report));
    const told = numbers.filter(f => f.report === report);
    const tries = told.length ? told : guesses(report, of);
    for (const f of tries) {
      const k = told.length ? tryOne(f, of, f.relative) : tryOne({...f, signed: true}, of, true) ?? tryOne(f, of, false);
      if (k) {
        found.push(k);
        if (!told.length) break; // guesses come best first
      }
    }
  }
  const best = found.sort((a, b) => b.moves - a.moves)[0];
  if (best) {
    const {moves, ...knob} = best;
    return knob;
  }
  return codes(lessons, fields) ?? buttons(lessons, reports);
}

// guesses are the fields that changed bits may belong to: whole bytes, pairs of bytes,
// then counters that wrap at the largest number seen, then narrower ones.
function guesses(report, of) {
  const all = of.flat(), length = Math.min(...all.map(r => r.data.length));
  const moved = new Uint8Array(length);
  for (const {data, before} of all) for (let i = 0; i < length; i++) moved[i] |= data[i] ^ (before?.[i] ?? 0) | 0;
  const bytes = [...moved.keys()].filter(i => moved[i] || all.some(r => r.data[i]));
  const list = [];
  for (const i of bytes) if (i + 1 < length && all.some(r => r.data[i + 1] !== all[0].data[i + 1])) list.push({report, at: 8 * i, bits: 16});
  for (const i of bytes) list.push({report, at: 8 * i, bits: 8});
  for (const i of bytes) {
    const modulus = Math.max(...all.map(r => r.data[i])) + 1;
    if (modulus > 4) list.push({report, at: 8 * i, bits: 8, modulus});
  }
  for (const i of bytes) {
    for (let b = 0; b < 8; b++) {
      for (const bits of [14, 12, 10, 7, 6, 5, 4]) if (8 * i + b + bits <= 8 * length) list.push({report, at: 8 * i + b, bits});
    }
  }
  return list;
}

// tryOne says whether a field moved one way in the first lesson and the other way in the
// second, in steps of one size.
function tryOne(field, of, relative) {
  const modulus = field.modulus ?? 2 ** field.bits;
  const moves = of.map(lesson => lesson.flatMap(({data, before}) => {
    const v = value(data, field);
    if (v === undefined) return [];
    if (relative) return v ? [v] : [];
    const was = before && value(before, field);
    const d = was === undefined ? 0 : step(was, v, modulus);
    return d ? [d] : [];
  }));
  if (moves.some(m => m.length < LEAST)) return undefined;
  const ways = moves.map(m => Math.sign(m[0]));
  if (ways[0] === ways[1] || moves.some((m, i) => m.some(d => Math.sign(d) !== ways[i]))) return undefined;
  const sizes = moves.map(common);
  if (sizes[0] !== sizes[1] || moves.flat().some(d => Math.abs(d) > JUMP * sizes[0])) return undefined;
  if (moves.some(m => 2 * m.filter(d => Math.abs(d) === sizes[0]).length < m.length)) return undefined;
  const {report, at, bits, signed = false} = field;
  return {
    kind: relative ? "relative" : "counter", report, at, bits, signed, way: ways[0], perClick: sizes[0],
    ...(relative ? {} : {modulus}), moves: moves[0].length + moves[1].length,
  };
}

// common is the commonest size of moves, the smallest of equals.
function common(moves) {
  const n = new Map();
  for (const d of moves) n.set(Math.abs(d), (n.get(Math.abs(d)) ?? 0) + 1);
  return [...n].sort((a, b) => b[1] - a[1] || a[0] - b[0])[0][0];
}

// buttons finds two bits, one that is pressed in the first lesson and one in the second.
function buttons(lessons, reports) {
  const rises = lessons.map(lesson => {
    const n = new Map();
    for (const {report, data, before} of lesson) {
      for (let at = 0; at < data.length * 8; at++) {
        const bit = data[at >>> 3] >>> (at & 7) & 1, was = (before?.[at >>> 3] ?? 0) >>> (at & 7) & 1;
        if (bit && !was) n.set(`${report}/${at}`, (n.get(`${report}/${at}`) ?? 0) + 1);
      }
    }
    return n;
  });
  return pair(rises, reports.length ? (name) => ({report: Number(name.split("/")[0]), at: Number(name.split("/")[1])}) : undefined, "buttons");
}

// codes finds two codes in the arrays of reports, as keyboards send.
function codes(lessons, fields) {
  const arrays = fields.filter(f => f.array);
  if (!arrays.length) return undefined;
  const rises = lessons.map(lesson => {
    const n = new Map();
    for (const {report, data, before} of lesson) {
      const was = codesIn(arrays, report, before);
      for (const c of codesIn(arrays, report, data)) if (!was.has(c)) n.set(`${report}/${c}`, (n.get(`${report}/${c}`) ?? 0) + 1);
    }
    return n;
  });
  const found = pair(rises, (name) => ({report: Number(name.split("/")[0]), code: Number(name.split("/")[1])}), "codes");
  return found && {...found, arrays};
}

function codesIn(arrays, report, data) {
  return new Set(data ? arrays.filter(f => f.report === report).map(f => value(data, f)).filter(Boolean) : []);
}

// pair picks what was pressed most in one lesson and hardly in the other.
function pair(rises, place, kind) {
  const [clockwise, counter] = [0, 1].map(i => {
    const [name, n] = [...rises[i]].filter(([name, n]) => 4 * (rises[1 - i].get(name) ?? 0) <= n).sort((a, b) => b[1] - a[1])[0] ?? [];
    return n >= LEAST ? place(name) : undefined;
  });
  return clockwise && counter && {kind, clockwise, counter};
}

// Knob turns reports into what a source tells: {ms, kind: "count", n} of counters and
// relative fields, {ms, kind: "press" | "release", way} of buttons and codes.
export class Knob {
  constructor(learned) {
    this.learned = learned;
    this.before = undefined; // number of a counter
    this.rest = 0; // units that are no whole click yet
    this.down = [false, false];
    this.low = Infinity; // of a counter, the least and the most seen
    this.high = -Infinity;
  }

  // report takes the bytes of a report and returns what happened.
  report(ms, report, data) {
    const k = this.learned;
    if (k.kind === "buttons" || k.kind === "codes") return this.pressed(ms, report, data);
    if (report !== k.report) return [];
    const v = value(data, k);
    if (v === undefined) return [];
    const was = this.before;
    this.before = v;
    const moved = k.kind === "relative" ? v : was === undefined ? 0 : step(was, v, k.modulus);
    this.rest += moved * k.way;
    const n = Math.trunc(this.rest / k.perClick);
    this.rest -= n * k.perClick;
    return n ? [{ms, kind: "count", n}] : [];
  }

  pressed(ms, report, data) {
    const k = this.learned, events = [];
    const held = k.kind === "codes" ? codesIn(k.arrays, report, data) : undefined;
    const now = [k.clockwise, k.counter].map((c, i) => {
      if (c.report !== report) return this.down[i];
      return held ? held.has(c.code) : value(data, {at: c.at, bits: 1}) === 1;
    });
    for (const kind of ["release", "press"]) { // as a report carries them
      now.forEach((is, i) => {
        if (is !== this.down[i] && is === (kind === "press")) events.push({ms, kind, way: i === 0 ? 1 : -1});
      });
    }
    this.down = now;
    return events;
  }
}
