// What a hand typed: tidied, and checked at once, before it leaves the field.

// Hands and spreadsheets use several signs for minus.
function tidied(text) {
  return text.replace(/\s/g, "").replace(/[\u2212\u2013]/g, "-");
}

// Say what is wrong with a reading, or return null. `low` and `high` are null where no range holds.
function wrongIn(text, low, high, unit) {
  if (text === "") return "Nothing is typed: type what the instrument shows, then Enter.";
  const marks = (text.match(/[.,]/g) || []).length;
  if (marks > 1) return `Two decimal marks in ${text}: type one, point or comma.`;
  if (!/^[+-]?(\d+[.,]?\d*|[.,]\d+)$/.test(text))
    return `${text} is no number: type digits, a minus if need be, one decimal mark.`;
  const value = Number(text.replace(",", "."));
  if (low !== null && (value < low || value > high))
    return `${text} is more than the instrument can show (${low} to ${high} ${unit}): read it again.`;
  return null;
}
