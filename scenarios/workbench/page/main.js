// The page: five places, one at a time, by the address's fragment.

import {connect} from "./engine.js";
import {el, say} from "./element.js";
import {open} from "./store.js";
import {Workbench, failed} from "./workbench.js";
import {KnobPlace} from "./knob.js";
import {DialPlace} from "./dial.js";
import {ShapePlace} from "./shape.js";
import {PathPlace} from "./trace.js";
import {KeepPlace, unpacked} from "./keep.js";

const places = {knob: KnobPlace, dial: DialPlace, shape: ShapePlace, path: PathPlace, keep: KeepPlace};
const titles = {knob: "Knob", dial: "Dial", shape: "Shape", path: "Path", keep: "Keep"};

let bench, shown;

// show puts a place on the page. Its answer stands first, and has the focus when the
// place was chosen, so that a screen reader begins there.
async function show(focus) {
  const [name, packed] = location.hash.slice(1).split("?");
  if (packed) {
    try {
      bench.take(await unpacked(packed));
      bench.save();
      say("The state of the link was taken over.");
    } catch (e) {
      bench.trouble("link", `The link cannot be read (${e.message}); what was set before stays.`);
    }
    history.replaceState(null, "", `#${name}`);
  }
  const place = places[name] ? name : "knob";
  const root = document.getElementById("place");
  shown?.close?.();
  for (const a of document.querySelectorAll("nav a")) {
    if (a.getAttribute("href") === `#${place}`) a.setAttribute("aria-current", "page"); else a.removeAttribute("aria-current");
  }
  document.title = `${titles[place]}: dialwright`;
  root.setAttribute("aria-label", titles[place]);
  root.dataset.place = place;
  const mine = el("div", {class: `place ${place}`});
  root.replaceChildren(mine);
  shown = new places[place](bench, mine);
  try {
    await shown.open();
  } catch (e) {
    if (e?.name !== "AbortError") mine.append(failed(e, () => show(false)));
  }
  if (focus && shown) {
    root.focus({preventScroll: true});
    scrollTo(0, 0);
  }
}

async function start() {
  const store = await open();
  const engine = await connect();
  bench = new Workbench(engine, connect, store);
  await bench.load();
  if (!store.survives) bench.trouble("storage", "This browser window keeps nothing: what you record or dial is gone with a reload. Save it as a file in Keep.");
  document.getElementById("engine").textContent = engine.via === "http"
    ? "Computed by dialwright on this machine. Nothing leaves it."
    : "Computed in this browser window. Nothing leaves the machine.";
  addEventListener("hashchange", () => show(true));
  addEventListener("pagehide", () => { // as far as the browser still lets it
    if (shown?.phase === "record") shown.keep();
    bench.keep();
  });
  await show(false);
  document.documentElement.dataset.ready = "yes";
}

start().catch((e) => {
  document.getElementById("place").replaceChildren(failed(e, () => location.reload()));
});
