// What a hand typed: tidied, and checked at once, before it leaves the field.

// Hands and spreadsheets use several signs for minus.
function tidied(text) {
  return text.trim().replace(/[\u2212\u2013]/g, "-");
}

// Say what is wrong with a reading, or return null. `units` has the sign of each unit by its
// spellings, `unit` the one for a number without any; `low` and `high` hold in the unit `own`, and
// `inOwn` says how much one of each unit is in that.
function wrongIn(text, { low, high }, { units, unit, own, inOwn }) {
  if (text === "") return "Nothing is typed: type what the instrument shows, then Enter.";
  const [, number, word] = text.match(/^([+-]?\s*[\d.,]*)\s*(.*)$/s);
  if ((number.match(/[.,]/g) || []).length > 1)
    return `Two decimal marks in ${text}: type one, point or comma.`;
  if (/^\d/.test(word)) return `A blank inside the number ${text}: take it out.`;
  if (!/^[+-]?\s*(\d+[.,]?\d*|[.,]\d+)$/.test(number))
    return `${text} is no number: type digits, a minus if need be, one decimal mark.`;
  const sign = word ? (units[word] ?? units[word.toLowerCase()]) : unit;
  if (sign === undefined)
    return `${word} is no unit of this instrument: type ${listedUnits(units)} behind the number, or none.`;
  const value = Number(number.replace(/\s/g, "").replace(",", ".")) * inOwn[sign];
  // what lies on the limit but for rounding is left to the kernel
  const over = (limit) => Math.abs(value - limit) > 1e-9 * Math.abs(limit);
  if (low !== null && ((value < low && over(low)) || (value > high && over(high))))
    return `${text} is more than the instrument can show (${low} to ${high} ${own}): read it again.`;
  return null;
}

function listedUnits(units) {
  const signs = [...new Set(Object.values(units))];
  return signs.length < 2 ? signs[0] : `${signs.slice(0, -1).join(", ")} or ${signs.at(-1)}`;
}
