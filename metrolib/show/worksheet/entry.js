// The entry field: it advances here, in the browser, and never waits for the kernel.
//
// Each reading is bound to its station at the moment of Enter, kept in localStorage, and sent to
// the kernel one at a time; it leaves localStorage when the kernel says that it is on disk. The
// kernel never writes into the field.

const ANSWER_WITHIN = 3000; // ms; after this the reading is told as not on disk yet
const ASK_AGAIN_AFTER = 5000; // ms; the kernel writes a token once, however often it comes

function make(tag, name, attributes = {}, ...inside) {
  const made = document.createElement(tag);
  if (name) made.className = name;
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  made.append(...inside);
  return made;
}

function press(words, name, does) {
  const made = make("button", name, { type: "button" }, words);
  made.addEventListener("click", does);
  return made;
}

function newToken() {
  const random = crypto.getRandomValues(new Uint32Array(3));
  return Date.now().toString(36) + "-" + Array.from(random, (n) => n.toString(36)).join("");
}

// What was typed, as plain digits: hands and spreadsheets use several signs for minus.
function tidied(text) {
  return text.replace(/\s/g, "").replace(/[\u2212\u2013]/g, "-");
}

function wrongIn(text, prompt, rangeHolds, unit) {
  if (text === "") return "Nothing is typed: type what the instrument shows, then Enter.";
  const marks = (text.match(/[.,]/g) || []).length;
  if (marks > 1) return `Two decimal marks in ${text}: type one, point or comma.`;
  if (!/^[+-]?(\d+[.,]?\d*|[.,]\d+)$/.test(text))
    return `${text} is no number: type digits, a minus if need be, one decimal mark.`;
  const value = Number(text.replace(",", "."));
  if (rangeHolds && prompt.low !== null && (value < prompt.low || value > prompt.high))
    return `${text} is more than the instrument can show (${prompt.low} to ${prompt.high} ${unit}): read it again.`;
  return null;
}

// What is not acknowledged yet, one entry of localStorage each, so that two tabs never mix.
class Kept {
  constructor(folderKey) {
    this.prefix = `metro:${folderKey}:`;
  }
  put(item) {
    try {
      localStorage.setItem(this.prefix + item.token, JSON.stringify(item));
      return true;
    } catch {
      return false; // no storage, or a full one: the reading stays in memory and is sent on
    }
  }
  drop(token) {
    try {
      localStorage.removeItem(this.prefix + token);
    } catch {
      // nothing was kept then
    }
  }
  all() {
    try {
      const found = Object.keys(localStorage).filter((key) => key.startsWith(this.prefix));
      const items = found.map((key) => JSON.parse(localStorage.getItem(key)));
      return items.sort((one, other) => one.typed - other.typed);
    } catch {
      return [];
    }
  }
}

function render({ model, el }) {
  const kept = new Kept(model.get("folder_key"));
  let place = model.get("at"); // key of the prompt that the field is for; "" at the end
  let again = false; // whether the next reading stands beside one that is there
  let queue = []; // not acknowledged: the first is on its way
  let unsaved = []; // taken by the kernel, which could not write them
  let left = kept.all(); // of an earlier opening
  let doubts = []; // readings out of line, to repeat or to keep
  let asking = null; // "skip" or "note" while its words are typed

  // --- what stands on the screen ------------------------------------------------------------
  const progress = make("div", "metro-progress", { role: "status" });
  const station = make("div", "metro-station", { "aria-live": "polite" });
  const there = make("div", "metro-there");
  const input = make("input", "metro-reading", {
    type: "text",
    inputmode: "decimal",
    autocomplete: "off",
    spellcheck: "false",
    enterkeyhint: "done",
  });
  const unit = make("select", "metro-unit", { "aria-label": "unit of the reading" });
  const wrong = make("div", "metro-wrong", { role: "alert" });
  const state = make("div", "metro-state", { role: "status" });
  const doubtBox = make("div", "metro-doubt", { role: "alert" });
  const lateBox = make("div", "metro-late", { role: "alert" });
  const leftBox = make("div", "metro-left", { role: "alert" });
  const reason = make("input", "metro-reason", { type: "text", autocomplete: "off" });
  const reasonLabel = make("label", "metro-reason-label");
  const reasonDone = press("", "metro-reason-done metro-main", () => finishAsking());
  const reasonRow = make("div", "metro-reason-row", {}, reasonLabel, reasonDone);
  reasonRow.append(press("Back to the reading (Esc)", "metro-reason-cancel", () => stopAsking()));
  const steps = make(
    "div",
    "metro-steps",
    { role: "group", "aria-label": "steps" },
    press("◂ Step back ( / )", "metro-back", () => step(-1)),
    press("Step on ▸ ( ↓ )", "metro-on", () => step(1)),
    press("Read once more ( * )", "metro-repeat", () => readAgain(place)),
    press("Leave out …", "metro-skip", () => ask("skip")),
    press("Note …", "metro-note", () => ask("note")),
  );
  const take = press("Take (Enter)", "metro-take metro-main", () => takeTyped());
  const label = make("label", "metro-reading-label", {}, "Reading", input);
  const typing = make("div", "metro-typing", {}, label, unit, take);
  const whole = make("section", "metro-entry", { "aria-label": "taking readings" });
  whole.append(progress, leftBox, station, there, typing, wrong, doubtBox, lateBox, state, steps);
  whole.append(reasonRow);
  el.replaceChildren(whole);

  // --- the course ---------------------------------------------------------------------------
  const prompts = () => model.get("prompts");
  const find = (key) => prompts().find((prompt) => prompt.key === key);
  const onItsWay = (key) => queue.some((item) => item.key === key && item.kind !== "note");
  const isOpen = (prompt) => !prompt.taken && !prompt.skipped && !onItsWay(prompt.key);

  function nextOpen(key) {
    const all = prompts();
    const from = all.findIndex((prompt) => prompt.key === key) + 1;
    const next = all.slice(from).find(isOpen) || all.slice(0, from).find(isOpen);
    return next ? next.key : "";
  }

  function step(by) {
    const all = prompts();
    const at = place === "" ? all.length : all.findIndex((prompt) => prompt.key === place);
    const to = at + by;
    if (to < 0) return complain("This is the first station of the traverse.");
    if (to > all.length - 1) return complain("This is the last station of the traverse.");
    goTo(all[to].key);
  }

  function goTo(key) {
    place = key;
    again = false;
    complain("");
    model.send({ kind: "at", key });
    show();
    input.focus();
  }

  function readAgain(key) {
    const prompt = find(key);
    input.focus();
    if (!prompt || !(prompt.taken || onItsWay(key)))
      return complain("There is no reading here yet that could be repeated: step back to one.");
    doubts = doubts.filter((doubt) => doubt.key !== key);
    place = key;
    again = true;
    complain("");
    model.send({ kind: "at", key });
    show();
  }

  // --- from the hand to the kernel ----------------------------------------------------------
  function takeTyped() {
    const text = tidied(input.value);
    const prompt = find(place);
    input.focus();
    if (model.get("locked")) return complain(model.get("locked"));
    if (!prompt) return complain("All readings of this traverse are taken: step back to change one.");
    const units = model.get("units");
    // the text stays, unselected: a reading typed ahead must not slip into this one's place
    const fault = wrongIn(text, prompt, unit.value === units[0], unit.value);
    if (fault) return complain(fault);
    complain("");
    input.value = "";
    const item = { kind: "take", key: place, text, unit: unit.value, again };
    place = again ? nextOpen(place) : nextAfter(item);
    again = false;
    enqueue(item, prompt);
  }

  // The taken one counts as closed although the kernel does not know of it yet.
  function nextAfter(item) {
    queue.push(item);
    const next = nextOpen(item.key);
    queue.pop();
    return next;
  }

  function enqueue(item, prompt) {
    const whole = { ...item, token: newToken(), typed: Date.now(), words: prompt.short };
    whole.stored = kept.put(whole);
    queue.push(whole);
    sendNext();
    show();
  }

  function sendNext() {
    const item = queue[0];
    if (!item || item.sent) return;
    item.sent = item.asked = Date.now();
    model.send({ ...item, waiting: queue.length - 1 });
  }

  function answered(message) {
    if (message.kind === "go") return goTo(message.key);
    if (message.kind === "saved") {
      for (const item of unsaved) kept.drop(item.token);
      unsaved = [];
      return show();
    }
    const item = queue.find((one) => one.token === message.token);
    if (!item) return;
    queue = queue.filter((one) => one !== item);
    if (message.kind === "kept") unsaved.push(item);
    else kept.drop(item.token);
    if (message.kind === "refused") {
      complain(`${item.text} at ${item.words} was not taken: ${message.words}`);
      if (find(item.key)) place = item.key;
    } else {
      state.textContent = message.words;
      if (message.doubt) {
        doubts = doubts.filter((doubt) => doubt.key !== message.doubt.key);
        doubts.push(message.doubt);
      }
    }
    sendNext();
    show();
  }

  // --- leaving out, and notes ---------------------------------------------------------------
  function ask(what) {
    if (!find(place)) return complain("Step back to the station that is meant.");
    asking = what;
    reason.value = "";
    show();
    reason.focus();
  }

  function stopAsking() {
    asking = null;
    show();
    input.focus();
  }

  function finishAsking() {
    const text = reason.value.trim();
    const prompt = find(place);
    if (text === "") {
      complain(asking === "skip" ? "Say why it is left out." : "Type the note first.");
      return reason.focus();
    }
    complain("");
    const item = { kind: asking, key: place, text, unit: "", again: false };
    if (asking === "skip") place = nextAfter(item);
    asking = null;
    enqueue(item, prompt);
    input.focus();
  }

  // --- what an earlier opening left ---------------------------------------------------------
  function writeLeft() {
    const still = new Set(kept.all().map((item) => item.token));
    queue.push(...left.filter((item) => still.has(item.token)).map((item) => ({ ...item, sent: 0 })));
    left = [];
    sendNext();
    show();
    input.focus();
  }

  function dropLeft() {
    for (const item of left) kept.drop(item.token);
    left = [];
    show();
    input.focus();
  }

  // --- showing ------------------------------------------------------------------------------
  function complain(words) {
    wrong.textContent = words;
    input.setAttribute("aria-invalid", words ? "true" : "false");
  }

  function hide(box, hidden) {
    box.style.display = hidden ? "none" : "";
  }

  function show() {
    const all = prompts();
    const prompt = find(place);
    const taken = all.filter((one) => one.taken).length;
    const skipped = all.filter((one) => one.skipped).length;
    progress.textContent =
      `${taken} of ${all.length} taken` + (skipped ? `, ${skipped} left out` : "");
    station.textContent = prompt ? prompt.words : model.get("done_words");
    there.textContent = whatIsThere(prompt);
    input.setAttribute("aria-label", prompt ? `reading at ${prompt.short}` : "reading");
    hide(reasonRow, asking === null);
    reasonLabel.replaceChildren(asking === "skip" ? "Why is it left out?" : "Note", reason);
    reasonDone.textContent = asking === "skip" ? "Leave it out (Enter)" : "Write the note (Enter)";
    if (queue.length)
      state.textContent = `being written: ${queue.map((item) => item.text).join("; ")}`;
    showDoubt();
    showLate();
    showLeft();
  }

  function whatIsThere(prompt) {
    if (!prompt) return "";
    if (again) return `Read once more: ${prompt.taken || "the first reading"} stays, this one goes beside it.`;
    if (prompt.taken) return `Taken: ${prompt.taken}. A number typed now replaces it; the old one is kept in the history.`;
    if (prompt.skipped) return `Left out: ${prompt.skipped}. A number typed now is taken all the same.`;
    return prompt.hint || "";
  }

  function showDoubt() {
    const doubt = doubts[doubts.length - 1];
    hide(doubtBox, !doubt);
    if (!doubt || doubtBox.dataset.of === doubt.key + doubt.words) return;
    doubtBox.dataset.of = doubt.key + doubt.words;
    doubtBox.replaceChildren(
      make("p", "", {}, make("b", "", {}, "Out of line? "), doubt.words),
      press("Repeat it now ( * )", "metro-doubt-repeat metro-main", () => readAgain(doubt.key)),
      press("Keep it ( + )", "metro-doubt-keep", () => keepDoubtful()),
    );
  }

  function keepDoubtful() {
    doubts.pop();
    delete doubtBox.dataset.of;
    show();
    input.focus();
  }

  function showLate() {
    const late = queue.length && queue[0].sent && Date.now() - queue[0].sent > ANSWER_WITHIN;
    const waiting = late ? queue : unsaved;
    hide(lateBox, !waiting.length);
    const list = waiting.map((item) => `${item.text} at ${item.words}`).join("; ");
    const count = waiting.length === 1 ? "1 entry is" : `${waiting.length} entries are`;
    const where = waiting.every((item) => item.stored)
      ? "They are kept in this browser, also when the page is closed"
      : "They are kept on this page only: do not close it";
    const why = late
      ? "The kernel does not answer. If it was stopped, start it and run the cell of this worksheet again: it offers them"
      : "The folder takes no writing";
    const text = waiting.length ? `${count} not on disk yet: ${list}. ${where}. ${why}.` : "";
    if (lateBox.textContent !== text) lateBox.textContent = text; // else it is read out again
  }

  function showLeft() {
    hide(leftBox, !left.length);
    const list = left.map((item) => `${item.text} at ${item.words}`).join("; ");
    const words = `Typed before, and not known to be on disk: ${list}.`;
    if (!left.length || leftBox.dataset.of === words) return;
    leftBox.dataset.of = words;
    leftBox.replaceChildren(
      make("p", "", {}, words),
      press("Take them now", "metro-left-take metro-main", writeLeft),
      press("They are not wanted", "metro-left-drop", dropLeft),
    );
  }

  // --- keys ---------------------------------------------------------------------------------
  whole.addEventListener("keydown", (event) => event.stopPropagation()); // none reach JupyterLab

  input.addEventListener("keydown", (event) => {
    const does = {
      Enter: () => event.repeat || takeTyped(),
      ArrowUp: () => step(-1),
      ArrowDown: () => step(1),
      "/": () => step(-1),
      "*": () => readAgain(doubts.length ? doubts[doubts.length - 1].key : place),
      "+": () => keepDoubtful(),
      Escape: () => ((input.value = ""), complain("")),
    }[event.key];
    if (!does || event.isComposing || event.ctrlKey || event.altKey || event.metaKey) return;
    if (event.key === "+" && (input.value !== "" || !doubts.length)) return; // a sign, then
    event.preventDefault();
    does();
  });

  reason.addEventListener("keydown", (event) => {
    if (event.key === "Enter" && !event.isComposing) finishAsking();
    else if (event.key === "Escape") stopAsking();
  });

  // --- news of the kernel -------------------------------------------------------------------
  function showUnits() {
    const before = unit.value;
    unit.replaceChildren(...model.get("units").map((name) => make("option", "", {}, name)));
    unit.value = model.get("units").includes(before) ? before : model.get("unit");
    hide(unit, model.get("units").length < 2);
  }

  function courseChanged() {
    if (place !== "" && !find(place)) place = model.get("at"); // another traverse was chosen
    if (place === "" && !again) place = nextOpen("");
    show();
  }

  const clock = setInterval(() => {
    const first = queue[0];
    if (first && first.sent && Date.now() - first.asked > ASK_AGAIN_AFTER) {
      first.asked = Date.now();
      model.send({ ...first, waiting: queue.length - 1 });
    }
    showLate();
  }, 500);

  model.on("msg:custom", answered);
  model.on("change:prompts", courseChanged);
  model.on("change:units", showUnits);
  showUnits();
  show();
  // in Voila nothing else wants the keys; in a notebook the focus is left where it is
  requestAnimationFrame(() => document.activeElement === document.body && input.focus());
  return () => {
    clearInterval(clock);
    model.off("msg:custom", answered);
    model.off("change:prompts", courseChanged);
    model.off("change:units", showUnits);
  };
}

export default { render };
