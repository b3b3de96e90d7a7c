// The entry field. It advances here and never waits for the kernel: each reading is bound to its
// station at the moment of Enter. The kernel never writes into the field.

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

function hide(box, hidden) {
  box.style.display = hidden ? "none" : "";
}

// Fill a box only where its words change: else a screen reader would say them again and again.
// Whoever types here sees new words at once, also those that would stand below the screen's edge.
function fill(box, words, ...buttons) {
  hide(box, !words);
  if (box.dataset.words === words) return;
  box.dataset.words = words;
  box.replaceChildren(make("p", "", {}, words), make("div", "metro-choices", {}, ...buttons));
  if (words && box.parentElement.contains(document.activeElement))
    box.scrollIntoView({ block: "nearest" });
}

// What is told above the entry pushes the field down: whoever types here keeps it in sight.
function keepInSight(whole, boxes) {
  const follow = new ResizeObserver(() => {
    if (!whole.contains(document.activeElement)) return;
    for (const box of boxes)
      if (box.style.display !== "none") box.scrollIntoView({ block: "nearest" });
  });
  requestAnimationFrame(() => {
    const told = whole.closest(".metro-sheet")?.querySelector(".metro-messages");
    if (told) follow.observe(told);
  });
  return follow;
}

function field(name, attributes) {
  return make("input", name, { type: "text", autocomplete: "off", spellcheck: "false", ...attributes });
}

// What stands on the screen, from above to below.
function layOut(does) {
  const parts = {
    progress: make("div", "metro-progress", { role: "status" }),
    left: make("div", "metro-left", { role: "alert" }),
    station: make("div", "metro-station", { "aria-live": "polite" }),
    there: make("div", "metro-there"),
    typing: make("div", "metro-typing"),
    wrong: make("div", "metro-wrong", { role: "alert" }),
    late: make("div", "metro-late", { role: "alert" }),
    doubt: make("div", "metro-doubt", { role: "alert" }),
    state: make("div", "metro-state", { role: "status" }),
    steps: make("div", "metro-steps", { role: "group", "aria-label": "steps" }),
    asking: make("div", "metro-asking"),
  };
  const whole = make("section", "metro-entry", { "aria-label": "taking readings" });
  whole.append(...Object.values(parts));
  const input = field("metro-reading", { inputmode: "decimal", enterkeyhint: "done" });
  const unit = make("select", "metro-unit", { "aria-label": "unit of the reading" });
  const label = make("label", "metro-reading-label", {}, "Reading, then Enter", input);
  parts.typing.append(label, unit, press("Take", "metro-take metro-main", does.take));
  parts.steps.append(
    press("◂ Step back ( / )", "metro-back", () => does.step(-1)),
    press("Step on ▸ ( ↓ )", "metro-on", () => does.step(1)),
    press("Read once more ( * )", "metro-repeat", () => does.readAgain()),
    press("Leave out …", "metro-skip", () => does.ask("skip")),
    press("Note …", "metro-note", () => does.ask("note")),
    press("Undo", "metro-undo", does.undo),
  );
  const reason = field("metro-reason", {});
  const reasonWords = make("span", "");
  const reasonLabel = make("label", "metro-reason-label", {}, reasonWords, reason);
  const reasonDone = press("", "metro-reason-done metro-main", does.answer);
  const cancel = press("Back to the reading (Esc)", "metro-reason-cancel", does.stopAsking);
  parts.asking.append(reasonLabel, reasonDone, cancel);
  return { ...parts, whole, input, unit, reason, reasonWords, reasonDone };
}

function render({ model, el }) {
  const outbox = new Outbox(model.get("folder_key"), (message) => model.send(message));
  const isTyped = (key) => outbox.has(key, (kind) => kind === "take");
  const isOnItsWay = (key) => outbox.has(key, (kind) => kind !== "note");
  const course = new Course(model.get("prompts"), model.get("at"), isOnItsWay, isTyped);
  let doubts = []; // readings out of line: repeat them or keep them
  let asking = null; // "skip" or "note" while its words are typed
  const on = layOut({ take, step, readAgain, undo, ask, answer, stopAsking });
  el.classList.add("metro-entry-frame");
  el.replaceChildren(on.whole);

  function take() {
    on.input.focus();
    const text = tidied(on.input.value);
    const prompt = course.prompt;
    if (model.get("locked")) return complain(model.get("locked"));
    if (!prompt) return complain("Nothing is left to take here: step back to change a reading.");
    const units = { units: model.get("spellings"), inOwn: model.get("in_own") };
    const fault = wrongIn(text, prompt, { ...units, unit: on.unit.value, own: model.get("units")[0] });
    // the text stays, unselected: a reading typed ahead must not slip into this one's place
    if (fault) return complain(fault);
    on.input.value = "";
    sendOff("take", text);
  }

  function sendOff(kind, text) {
    const { place: key, again, prompt } = course;
    complain("");
    const unit = kind === "take" ? on.unit.value : "";
    const corrects = !again && course.showsReading(prompt);
    outbox.enqueue({ kind, key, text, unit, again, corrects, words: prompt.short });
    if (kind !== "note") course.goOn();
    show();
    on.input.focus();
  }

  function step(by) {
    const key = course.beside(by);
    on.input.focus();
    if (key !== undefined) return goTo(key);
    complain(by < 0 ? "This is the first station." : "This is the last station.");
  }

  function goTo(key, again = false) {
    course.goTo(key, again);
    model.send({ kind: "at", key });
    complain("");
    show();
  }

  // Mostly the last one is meant; a station with a reading that was stepped to is meant itself.
  function readAgain(key) {
    const here = course.prompt;
    key ??= here && !course.isOpen(here) ? here.key : course.last;
    const prompt = course.find(key);
    on.input.focus();
    if (!prompt || course.isOpen(prompt) || prompt.skipped)
      return complain("Nothing was taken yet that could be read once more: step back to a reading.");
    doubts = doubts.filter((doubt) => doubt.key !== key);
    goTo(key, true);
  }

  function undo() {
    model.send({ kind: "undo" });
    on.input.focus();
  }

  function settleDoubt(how) {
    const { key } = doubtNow();
    doubts = doubts.filter((doubt) => doubt.key !== key);
    model.send({ ...how, key });
    show();
    on.input.focus();
  }

  function ask(what) {
    if (!course.prompt) return complain("Step back to the station that is meant.");
    asking = what;
    on.reason.value = "";
    show();
    on.reason.focus();
  }

  function stopAsking() {
    asking = null;
    complain("");
    show();
    on.input.focus();
  }

  function answer() {
    const [kind, text] = [asking, on.reason.value.trim()];
    if (text === "") {
      complain(kind === "skip" ? "Say why it is left out." : "Type the note first.");
      return on.reason.focus();
    }
    asking = null;
    sendOff(kind, text);
  }

  function heard(message) {
    if (message.kind === "go") return goTo(message.key);
    if (message.kind === "saved") outbox.allSaved();
    else if (message.kind === "known") outbox.known(message.tokens);
    else if (message.kind === "doubt") doubts.push(message);
    else acknowledge(message, outbox.answered(message));
    show();
  }

  function acknowledge(message, item) {
    if (!item) return;
    if (message.kind === "refused") {
      on.state.textContent = "";
      complain(`${item.text} at ${item.words} was not taken: ${message.words}`);
      if (course.find(item.key)) course.goTo(item.key, item.again);
      return;
    }
    on.state.textContent = message.words;
    if (item.kind !== "note") course.closed.add(item.key);
    doubts = doubts.filter((doubt) => doubt.key !== item.key);
  }

  function complain(words) {
    on.wrong.textContent = words;
    on.input.setAttribute("aria-invalid", words ? "true" : "false");
  }

  function show() {
    const prompt = course.prompt;
    on.whole.dataset.traverse = model.get("traverse");
    on.progress.textContent = course.progress();
    on.station.textContent = prompt ? prompt.words : model.get("done_words");
    on.there.textContent = course.whatIsThere();
    on.input.setAttribute("aria-label", prompt ? `reading at ${prompt.short}` : "reading");
    if (outbox.queue.length)
      on.state.textContent = `being written: ${outbox.queue.map((item) => item.text).join("; ")}`;
    hide(on.asking, asking === null);
    hide(on.steps, asking !== null);
    on.reasonWords.textContent = asking === "skip" ? "Why is it left out?" : "Note";
    on.reasonDone.textContent = asking === "skip" ? "Leave it out (Enter)" : "Write the note (Enter)";
    showBoxes();
  }

  // The last one about this traverse; another waits until its traverse is chosen.
  function doubtNow() {
    return doubts.findLast((doubt) => course.find(doubt.key));
  }

  function showBoxes() {
    const doubt = doubtNow();
    const choices = [
      press("Repeat it now ( * )", "metro-doubt-repeat metro-main", () => readAgain(doubt.key)),
      press("Keep it ( + )", "metro-doubt-keep", () => settleDoubt({ kind: "keep" })),
    ];
    if (doubt?.earlier) {
      const leaveOut = () => settleDoubt({ kind: "leave out", earlier: doubt.earlier });
      choices.push(press("Leave the earlier one out", "metro-doubt-earlier", leaveOut));
    }
    fill(on.doubt, doubt ? `Out of line? ${doubt.words}` : "", ...choices);
    const left = listed(outbox.left);
    fill(
      on.left,
      left && `Typed before, and not known to be on disk: ${left}.`,
      press("Take them now", "metro-left-take metro-main", () => settleLeft("takeLeft")),
      press("They are not wanted", "metro-left-drop", () => settleLeft("dropLeft")),
    );
    fill(on.late, outbox.late());
  }

  function settleLeft(how) {
    outbox[how]();
    show();
    on.input.focus();
  }

  function showUnits() {
    const [units, before] = [model.get("units"), on.unit.value];
    on.unit.replaceChildren(...units.map((name) => make("option", "", {}, name)));
    on.unit.value = units.includes(before) ? before : model.get("unit");
    hide(on.unit, units.length < 2);
  }

  function courseChanged() {
    course.replace(model.get("prompts"), model.get("at"));
    show();
  }

  on.whole.addEventListener("keydown", (event) => event.stopPropagation()); // none reach JupyterLab
  on.input.addEventListener("keydown", (event) => {
    const doubt = doubtNow();
    const does = {
      Enter: () => event.repeat || take(),
      ArrowUp: () => step(-1),
      ArrowDown: () => step(1),
      "*": () => readAgain(doubt?.key),
      Escape: () => ((on.input.value = ""), complain("")),
    };
    const unitIsTyped = /\p{L}/u.test(on.input.value); // as mm/m
    if (!unitIsTyped) does["/"] = () => step(-1);
    if (doubt && on.input.value === "") does["+"] = () => settleDoubt({ kind: "keep" }); // else it is a sign
    if (!does[event.key] || event.isComposing || event.ctrlKey || event.altKey || event.metaKey) return;
    event.preventDefault();
    does[event.key]();
  });
  on.reason.addEventListener("keydown", (event) => {
    if (event.key === "Enter" && !event.isComposing) answer();
    else if (event.key === "Escape") stopAsking();
  });

  const news = { "msg:custom": heard, "change:prompts": courseChanged, "change:units": showUnits };
  for (const [name, does] of Object.entries(news)) model.on(name, does);
  const clock = setInterval(() => {
    outbox.askAgain();
    fill(on.late, outbox.late());
  }, 500);
  showUnits();
  show();
  // in Voila nothing else wants the keys; in a notebook the focus is left where it is
  requestAnimationFrame(() => document.activeElement === document.body && on.input.focus());
  const follow = keepInSight(on.whole, [on.typing, on.late, on.doubt]);
  return () => {
    follow.disconnect();
    clearInterval(clock);
    for (const [name, does] of Object.entries(news)) model.off(name, does);
  };
}

export default { render };
