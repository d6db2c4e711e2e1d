// A measurement's reading is one value and is written as one line: the number, then timing, source and date. The form has
// a field for each.

export interface Parts {
  number: string;
  source: string;
  timing: string;
  date: string;
}

const sources = ['listed', 'estimated', 'verified'];
const timings = ['hand', 'electronic'];

/** Takes the words behind the number apart, as the node shows them. */
export function partsOf(text: string): Parts {
  const found: Parts = { number: '', source: '', timing: '', date: '' };
  const words = text.replaceAll(',', ' ').trim().split(/\s+/);
  for (let word = words.pop(); word !== undefined; word = words.pop()) {
    if (/^\d{4}-\d{2}-\d{2}$/.test(word) && found.date === '') found.date = word;
    else if (sources.includes(word) && found.source === '') found.source = word;
    else if (timings.includes(word) && found.timing === '') found.timing = word;
    else return { ...found, number: [...words, word].join(' ') };
  }
  return found;
}

export const lineOf = ({ number, timing, source, date }: Parts) =>
  [number, timing, source, date].map((part) => part.trim()).filter((part) => part !== '').join(' '); // prettier-ignore
