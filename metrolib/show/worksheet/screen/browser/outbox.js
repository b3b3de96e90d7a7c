// Entries on their way to the disk: sent one at a time, kept in localStorage until acknowledged.

const ANSWER_WITHIN = 3000; // ms; after this an entry is told as not on disk yet
const ASK_AGAIN_AFTER = 5000; // ms; the kernel writes a token once, however often it comes

class Outbox {
  constructor(folderKey, send) {
    this.prefix = `metro:${folderKey}:`; // one entry of localStorage each: two tabs never mix
    this.send = send;
    this.queue = []; // not acknowledged: the first is on its way
    this.unsaved = []; // taken by the kernel, which could not write them
    this.left = this.inStorage(); // of an earlier opening
    this.askAboutLeft();
  }

  // The page may have been turned meanwhile: what is on disk by now needs no asking about.
  askAboutLeft() {
    if (this.left.length) this.send({ kind: "left", tokens: this.left.map((item) => item.token) });
  }

  known(tokens) {
    this.left.filter((item) => tokens.includes(item.token)).forEach((item) => this.forget(item));
    this.left = this.left.filter((item) => !tokens.includes(item.token));
  }

  enqueue(item) {
    const random = crypto.getRandomValues(new Uint32Array(3));
    const token = `${Date.now().toString(36)}-${Array.from(random, (n) => n.toString(36)).join("")}`;
    const whole = { ...item, token, typed: Date.now() };
    whole.stored = this.store(whole);
    this.queue.push(whole);
    this.sendNext();
  }

  has(key, isMeant) {
    return this.queue.some((item) => item.key === key && isMeant(item.kind));
  }

  sendNext() {
    const item = this.queue[0];
    if (item && !item.sent) this.sendOff(item, (item.sent = Date.now()));
  }

  sendOff(item, now) {
    item.asked = now;
    this.send({ ...item, waiting: this.queue.length - 1 });
  }

  // An answer may have been lost with the line, as when a tablet sleeps.
  askAgain() {
    const item = this.queue[0];
    if (item && item.sent && Date.now() - item.asked > ASK_AGAIN_AFTER) this.sendOff(item, Date.now());
  }

  // Take an answer in and return the entry it is for.
  answered({ kind, token }) {
    const item = this.queue.find((one) => one.token === token);
    if (!item) return null;
    this.queue = this.queue.filter((one) => one !== item);
    if (kind === "kept") this.unsaved.push(item);
    else this.forget(item);
    this.sendNext();
    return item;
  }

  allSaved() {
    this.unsaved.forEach((item) => this.forget(item));
    this.unsaved = [];
    this.askAboutLeft();
  }

  takeLeft() {
    const still = new Set(this.inStorage().map((item) => item.token)); // another tab may have sent some
    this.queue.push(...this.left.filter((item) => still.has(item.token)));
    this.left = [];
    this.sendNext();
  }

  dropLeft() {
    this.left.forEach((item) => this.forget(item));
    this.left = [];
  }

  // Say what is not on disk although it should be; "" while all is well.
  late() {
    const first = this.queue[0];
    const silent = first && first.sent && Date.now() - first.sent > ANSWER_WITHIN;
    const waiting = silent ? [...this.unsaved, ...this.queue] : this.unsaved;
    if (!waiting.length) return "";
    const count = waiting.length === 1 ? "1 entry is" : `${waiting.length} entries are`;
    const why = silent
      ? "The kernel does not answer. If it was stopped, start it and run this cell again: " +
        "what was typed is offered there"
      : "The folder takes no writing";
    const where = waiting.every((item) => item.stored)
      ? "Until then it is kept in this browser, also when the page is closed"
      : "It is kept on this page only: do not close it";
    return `${count} not on disk yet: ${listed(waiting)}. ${why}. ${where}.`;
  }

  store(item) {
    try {
      localStorage.setItem(this.prefix + item.token, JSON.stringify(item));
      return true;
    } catch {
      return false; // no storage, or a full one: the entry stays in memory and is sent on
    }
  }

  forget(item) {
    try {
      localStorage.removeItem(this.prefix + item.token);
    } catch {
      // then nothing was stored either
    }
  }

  inStorage() {
    try {
      const found = Object.keys(localStorage).filter((key) => key.startsWith(this.prefix));
      const items = found.map((key) => JSON.parse(localStorage.getItem(key)));
      return items.sort((one, other) => one.typed - other.typed);
    } catch {
      return [];
    }
  }
}

function listed(items) {
  return items.map((item) => `${item.text} at ${item.words}`).join("; ");
}
