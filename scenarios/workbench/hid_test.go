package workbench_test

import (
	"fmt"
	"testing"
)

// Synthetic devices of many kinds are learned from two lessons, whatever else moves in
// their reports, and then every click of a long turn is told, once, in its direction.
func TestAKnobIsFoundInItsReports(t *testing.T) {
	var got []struct {
		Name, Kind, Wrong string
		Told, Turned      int
	}
	node(t, `
import {Learner, Knob} from "./hid.js";
let seed = 12345;
const random = (n) => { seed = (Math.imul(seed, 1664525) + 1013904223) >>> 0; return Math.floor(seed / 4294967296 * n); };
const put = (data, at, bits, v) => { for (let b = 0; b < bits; b++) if (Math.floor(v / 2 ** b) & 1) data[(at + b) >> 3] |= 1 << ((at + b) & 7); else data[(at + b) >> 3] &= ~(1 << ((at + b) & 7)); };
const wrapped = (v, m) => ((v % m) + m) % m;

// A device tells the reports of a click in a direction.
const counter = ({at, bits, modulus = 2 ** bits, per = 1, length = 4, start = 0, noise}) => {
  let v = start, n = 0;
  return (dir) => {
    v = wrapped(v + dir * per, modulus);
    const data = new Uint8Array(length);
    put(data, at, bits, v);
    noise?.(data, n++);
    return [{report: 1, data}];
  };
};
const relative = ({at, bits, per = 1, length = 3, zero = true, noise}) => (dir) => {
  const data = new Uint8Array(length), after = new Uint8Array(length);
  put(data, at, bits, wrapped(dir * per, 2 ** bits));
  noise?.(data); noise?.(after);
  return zero ? [{report: 0, data}, {report: 0, data: after}] : [{report: 0, data}];
};
const pulses = ({up, down, length = 2, constant = 0, noise}) => (dir) => [1, 0].map(on => {
  const data = new Uint8Array(length).fill(constant);
  put(data, dir > 0 ? up : down, 1, on); put(data, dir > 0 ? down : up, 1, 0);
  noise?.(data);
  return {report: 2, data};
});
const jitter = (i) => (data) => { data[i] = 128 + random(5) - 2; };
const clock = (i) => (data, n) => { data[i] = n & 255; };
let sequence = 0;
const counting = (i) => (data) => { data[i] = sequence++ & 255; };
const item = (x) => ({isAbsolute: true, reportCount: 1, logicalMinimum: 0, logicalMaximum: 2 ** x.reportSize - 1, ...x});
const keys = (dir) => [dir > 0 ? 0x80 : 0x81, 0].map(code => ({report: 0, data: Uint8Array.from([0, 0, code, 0, 0])}));

const devices = {
  "counter of a byte": {turn: counter({at: 8, bits: 8})},
  "counter that wraps in the lesson": {turn: counter({at: 8, bits: 8, start: 253})},
  "counter of 16 bits that carries": {turn: counter({at: 8, bits: 16, start: 254, length: 5})},
  "counter of 4 bits": {turn: counter({at: 8, bits: 4, start: 13})},
  "counter of 10 bits off the byte": {turn: counter({at: 11, bits: 10, start: 30, length: 5})},
  "counter of 24 places": {turn: counter({at: 0, bits: 8, modulus: 24, start: 21, length: 2})},
  "counter by four": {turn: counter({at: 16, bits: 8, per: 4, start: 100})},
  "counter beside a stick that trembles": {turn: counter({at: 8, bits: 8, noise: jitter(3)})},
  "counter beside a number of the report": {turn: counter({at: 8, bits: 8, noise: clock(0)})},
  "counter in a descriptor": {turn: counter({at: 20, bits: 12, modulus: 4096, start: 4090, length: 4, noise: jitter(0)}), collections: [{inputReports: [{reportId: 1, items: [item({reportSize: 8, reportCount: 2}), item({reportSize: 4, isConstant: true}), item({reportSize: 12})]}]}]},
  "places in a descriptor": {turn: counter({at: 0, bits: 8, modulus: 24, length: 1}), collections: [{inputReports: [], children: [{inputReports: [{reportId: 1, items: [item({reportSize: 8, logicalMaximum: 23})]}]}]}]},
  "wheel": {turn: relative({at: 16, bits: 8})},
  "wheel without zeros": {turn: relative({at: 8, bits: 8, zero: false})},
  "wheel of 16 bits": {turn: relative({at: 8, bits: 16, length: 4})},
  "wheel of fine resolution": {turn: relative({at: 8, bits: 16, per: 120, length: 4})},
  "wheel beside a mouse that trembles": {turn: relative({at: 24, bits: 8, length: 4, noise: jitter(1)})},
  "wheel in a descriptor": {turn: relative({at: 8, bits: 8, length: 2}), collections: [{inputReports: [{reportId: 0, items: [item({reportSize: 1, reportCount: 8}), item({reportSize: 8, isAbsolute: false, logicalMinimum: -127, logicalMaximum: 127})]}]}]},
  "two buttons": {turn: pulses({up: 3, down: 4})},
  "two buttons in two bytes, others held": {turn: pulses({up: 7, down: 8, constant: 0x11})},
  "two buttons beside a trembling stick": {turn: pulses({up: 0, down: 1, length: 3, noise: jitter(2)})},
  "two buttons beside a number of the report": {turn: pulses({up: 0, down: 1, length: 3, noise: counting(2)})},
  "two key codes": {turn: keys, collections: [{inputReports: [{reportId: 0, items: [item({reportSize: 1, reportCount: 8}), item({reportSize: 8, isConstant: true}), item({reportSize: 8, reportCount: 3, isArray: true})]}]}]},
};
const out = [];
for (const [name, {turn, collections}] of Object.entries(devices)) {
  const x = {name, kind: "", wrong: "", told: 0, turned: 0};
  out.push(x);
  try {
    const learner = new Learner(collections);
    for (const r of turn(1).concat(turn(-1))) learner.latest.set(r.report, Uint8Array.from(r.data)); // what came before
    for (let i = 0; i < 6; i++) turn(1).forEach(r => learner.hear(r));
    if (learner.next() !== undefined) throw new Error("learned after one lesson");
    for (let i = 0; i < 6; i++) turn(-1).forEach(r => learner.hear(r));
    const learned = JSON.parse(JSON.stringify(learner.next())); // as it is kept
    x.kind = learned.kind;
    const knob = new Knob(learned);
    turn(1).concat(turn(-1)).forEach(r => knob.report(0, r.report, r.data));
    let at = 0, told = 0;
    for (let i = 0; i < 900; i++) {
      const dir = i % 300 < 200 ? 1 : -1;
      at += dir;
      for (const r of turn(dir)) for (const e of knob.report(i, r.report, r.data)) told += e.kind === "count" ? e.n : e.kind === "press" ? e.way : 0;
      if (told !== at && !x.wrong) x.wrong = "after click " + i + ": " + told + " of " + at + " by " + JSON.stringify(learned);
    }
    x.told = told; x.turned = at;
  } catch (err) {
    x.wrong = err.message;
  }
}
console.log(JSON.stringify(out));
`, nil, &got)
	if len(got) != 22 {
		t.Errorf("%d devices", len(got))
	}
	for _, x := range got {
		if x.Wrong != "" || x.Told != x.Turned || x.Turned == 0 {
			t.Errorf("%s: %s", x.Name, x.Wrong)
		}
	}
}

// What moves without the knob is not taken for it: a device of which nothing turned, one
// that trembles, and one turned the same way twice are told so, and the lesson may be
// done again.
func TestWhatIsNoKnobIsNotLearned(t *testing.T) {
	var got []string
	node(t, `
import {Learner} from "./hid.js";
let seed = 7;
const random = (n) => { seed = (Math.imul(seed, 1664525) + 1013904223) >>> 0; return Math.floor(seed / 4294967296 * n); };
const said = [];
const lessons = (first, second) => {
  const l = new Learner();
  for (const f of [first, second]) {
    for (let i = 0; i < 8; i++) l.hear({report: 1, data: Uint8Array.from(f(i))});
    try { const k = l.next(); if (k) said.push(k.kind); } catch (err) { said.push(err.message); }
  }
  return l;
};
lessons(() => [1, 2, 3], () => [1, 2, 3]);
lessons(() => [random(256), random(256)], () => [random(256), random(256)]);
const l = lessons((i) => [i], (i) => [8 + i]);
for (let i = 0; i < 8; i++) l.hear({report: 1, data: Uint8Array.from([14 - i])});
said.push(l.next().kind);
const short = new Learner();
try { short.hear({report: 0, data: [1]}); short.next(); } catch (err) { said.push(err.message); }
console.log(JSON.stringify(said));
`, nil, &got)
	const nothing = "Nothing moved one way and then the other. Turn it the other way now, some five clicks, and touch nothing else."
	if want := fmt.Sprint([]string{nothing, nothing, nothing, "counter", "Too little was heard. Turn some five clicks, and touch nothing else."}); fmt.Sprint(got) != want {
		t.Errorf("%q", got)
	}
}
