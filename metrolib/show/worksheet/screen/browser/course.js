// Where the work stands in the course of a traverse. It goes on here, without asking the kernel.

class Course {
  constructor(prompts, at, isOnItsWay, isTyped) {
    this.prompts = prompts;
    this.place = at; // key of the prompt that the field is for; "" at the end
    this.last = ""; // key of the prompt that was answered last
    this.again = false; // whether the next reading stands beside one that is there
    this.closed = new Set(); // acknowledged, but not in the prompts yet
    this.isOnItsWay = isOnItsWay;
    this.isTyped = isTyped;
  }

  find(key) {
    return this.prompts.find((prompt) => prompt.key === key);
  }

  get prompt() {
    return this.find(this.place);
  }

  isOpen(prompt) {
    return !isDone(prompt) && !this.closed.has(prompt.key) && !this.isOnItsWay(prompt.key);
  }

  // Whether a reading was seen here, so that a number typed now corrects it. One that came from
  // elsewhere meanwhile was not, and is never replaced unseen.
  showsReading(prompt) {
    return Boolean(prompt.taken) || this.closed.has(prompt.key) || this.isTyped(prompt.key);
  }

  goTo(key, again = false) {
    this.place = key;
    this.again = again;
  }

  goOn() {
    this.last = this.place;
    const from = this.prompts.findIndex((prompt) => prompt.key === this.place) + 1;
    const [before, behind] = [this.prompts.slice(0, from), this.prompts.slice(from)];
    this.goTo((this.firstOpen(behind) ?? this.firstOpen(before))?.key ?? "");
  }

  firstOpen(prompts) {
    return prompts.find((prompt) => this.isOpen(prompt));
  }

  // The key one step back or on, or undefined beyond the ends.
  beside(by) {
    const last = this.prompts.length;
    const at = this.place === "" ? last : this.prompts.findIndex(({ key }) => key === this.place);
    return this.prompts[at + by]?.key;
  }

  replace(prompts, at) {
    this.prompts = prompts;
    for (const prompt of prompts) if (isDone(prompt)) this.closed.delete(prompt.key);
    if (this.place !== "" && !this.prompt) this.goTo(at); // another traverse was chosen
    if (this.place === "") this.goTo(this.firstOpen(this.prompts)?.key ?? "");
  }

  progress() {
    const taken = this.prompts.filter((prompt) => prompt.taken).length;
    const skipped = this.prompts.filter((prompt) => prompt.skipped).length;
    return `${taken} of ${this.prompts.length} taken` + (skipped ? `, ${skipped} left out` : "");
  }

  whatIsThere() {
    const prompt = this.prompt;
    if (!prompt) return "";
    const { taken, skipped, hint } = prompt;
    if (this.again) return `Once more: ${taken || "the first reading"} stays, this goes beside it.`;
    if (taken) return `Taken: ${taken}. A number typed now replaces it; the history keeps the old.`;
    if (skipped) return `Left out: ${skipped}. A number typed now is taken all the same.`;
    return hint;
  }
}

function isDone(prompt) {
  return Boolean(prompt.taken || prompt.skipped);
}
