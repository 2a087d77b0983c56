// Statistics of dialings. Time and overshoot of one are measured in log.js, by the rule
// of the simulation.

import {measured} from "./log.js";

// Quantiles of Student's t, 97.5 %, by degrees of freedom; from any table.
const T = [12.706, 4.303, 3.182, 2.776, 2.571, 2.447, 2.365, 2.306, 2.262, 2.228, 2.201, 2.179, 2.160, 2.145, 2.131, 2.120, 2.110, 2.101, 2.093, 2.086,
  2.080, 2.074, 2.069, 2.064, 2.060, 2.056, 2.052, 2.048, 2.045, 2.042];
const quantile = (df) => df < 1 ? Infinity : df <= 30 ? T[df - 1] : 1.96 + 2.4 / df; // within 0.002 beyond 30

export const mean = (xs) => xs.reduce((a, x) => a + x, 0) / xs.length;

export function median(xs) {
  const s = [...xs].sort((a, b) => a - b), n = s.length;
  return n === 0 ? NaN : n % 2 ? s[(n - 1) / 2] : (s[n / 2 - 1] + s[n / 2]) / 2;
}

// meanOf is a mean with its 95 % interval (Student).
export function meanOf(xs) {
  const m = mean(xs), n = xs.length;
  const sd = Math.sqrt(xs.reduce((a, x) => a + (x - m) ** 2, 0) / (n - 1));
  const half = n > 1 ? quantile(n - 1) * sd / Math.sqrt(n) : Infinity;
  return {value: m, low: m - half, high: m + half, n};
}

// shareOf is a share with its 95 % Wilson interval.
export function shareOf(k, n) {
  const z = 1.96, p = k / n, d = 1 + z * z / n;
  const middle = (p + z * z / (2 * n)) / d, half = z * Math.sqrt(p * (1 - p) / n + z * z / (4 * n * n)) / d;
  return {value: p, low: Math.max(0, middle - half), high: Math.min(1, middle + half), k, n};
}

// compared lays the two settings of whole pairs side by side. A dialing that was given
// up counts as the limit in no mean: its pair is left out of the times and named.
export function compared(dialings, scale) {
  const pairs = new Map();
  for (const d of dialings) {
    if (d.pair === 0 || d.outcome === "away") continue;
    const p = pairs.get(d.pair) ?? {};
    p[d.setting] = {...d, ...measured(d, scale)};
    pairs.set(d.pair, p);
  }
  const whole = [...pairs.values()].filter((p) => p.A && p.B);
  const timed = whole.filter((p) => p.A.outcome === "right" && p.B.outcome === "right");
  const side = (s) => ({
    time_s: meanOf(timed.map((p) => p[s].time / 1000)),
    median_s: median(timed.map((p) => p[s].time / 1000)),
    overshoot: shareOf(whole.filter((p) => p[s].overshoot >= 1).length, whole.length),
    gaveUp: whole.filter((p) => p[s].outcome !== "right").length,
    wrong: whole.reduce((n, p) => n + (p[s].wrong ?? 0), 0),
    wrongWay: whole.filter((p) => p[s].wrongWay).length,
  });
  return {
    pairs: whole.length, timed: timed.length, A: side("A"), B: side("B"),
    less_s: meanOf(timed.map((p) => (p.A.time - p.B.time) / 1000)), // what B saves
    overshoot_less: meanOf(whole.map((p) => (p.A.overshoot >= 1) - (p.B.overshoot >= 1))),
  };
}
