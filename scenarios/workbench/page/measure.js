// Measures of dialings, as the model defines them and as package trial takes them
// from simulated ones: time to target is when the shown number last entered the
// tolerance, overshoot the largest excursion past it.

// distance is the signed steps from one number to another, the shorter way round where
// the numbers wrap, upwards where both ways are equally long.
export function distance(scale, from, to) {
  let d = to - from;
  if (scale.wrap) {
    d = ((d % scale.count) + scale.count) % scale.count;
    if (2 * d > scale.count) d -= scale.count;
  }
  return d;
}

const outside = (off, tolerance) => off - Math.min(Math.max(off, -tolerance), tolerance);

// measure takes {start, target, tolerance, scale: {count, wrap}, shown: [[ms, number], …]},
// numbers as indexes, and returns {reached, time_ms, overshoot_steps, off_steps}.
export function measure(dialing) {
  const {start, target, tolerance = 0, scale, shown} = dialing;
  let off = -distance(scale, start, target), value = start, side = Math.sign(off), crossed = false;
  let inside = false, entered = 0, worst = 0;
  for (const [ms, number] of shown) {
    off += distance(scale, value, number);
    value = number;
    if (scale.wrap && 2 * Math.abs(off) > scale.count) { // more than half of the ring past is short of it
      off = -distance(scale, value, target);
      side = Math.sign(off);
      crossed = false;
    }
    const past = outside(off, tolerance);
    if (past !== 0) {
      if (Math.sign(past) !== side) {
        side = Math.sign(past);
        crossed = true;
      }
      if (crossed) worst = Math.max(worst, Math.abs(past));
    }
    if (past === 0) {
      if (!inside) entered = ms;
      inside = true;
    } else {
      inside = false;
    }
  }
  return {reached: inside, time_ms: inside ? entered : null, overshoot_steps: worst, off_steps: outside(off, tolerance)};
}

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
export function compared(dialings) {
  const pairs = new Map();
  for (const d of dialings) {
    if (d.practice || d.outcome === "looked away") continue;
    const p = pairs.get(d.pair) ?? {};
    p[d.setting] = {...d, ...measure(d)};
    pairs.set(d.pair, p);
  }
  const whole = [...pairs.values()].filter((p) => p.A && p.B);
  const timed = whole.filter((p) => p.A.outcome === "done" && p.B.outcome === "done");
  const side = (s) => ({
    time_s: meanOf(timed.map((p) => p[s].time_ms / 1000)),
    median_s: median(timed.map((p) => p[s].time_ms / 1000)),
    overshoot: shareOf(whole.filter((p) => p[s].overshoot_steps >= 1).length, whole.length),
    gaveUp: whole.filter((p) => p[s].outcome !== "done").length,
    wrong: whole.reduce((n, p) => n + p[s].wrong, 0),
    wrongWay: whole.filter((p) => p[s].wrongWay).length,
  });
  return {
    pairs: whole.length, timed: timed.length, A: side("A"), B: side("B"),
    less_s: meanOf(timed.map((p) => (p.A.time_ms - p.B.time_ms) / 1000)), // what B saves
    overshoot_less: meanOf(whole.map((p) => (p.A.overshoot_steps >= 1) - (p.B.overshoot_steps >= 1))),
  };
}
