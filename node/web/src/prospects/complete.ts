/** A name that an expression may use. */
export interface Name {
  name: string;
  help: string;
  type: string;
}

export interface Completion {
  from: number;
  names: readonly Name[];
}

const most = 8;

/** The names that begin like the word before the caret. Inside of quotes there are none. */
export function complete(text: string, caret: number, names: readonly Name[]): Completion {
  const before = text.slice(0, caret);
  const none = { from: caret, names: [] };
  if (((before.match(/"/g) ?? []).length & 1) === 1) return none;
  const word = /[A-Za-z_][\w.]*$/.exec(before)?.[0] ?? '';
  if (word === '') return none;
  const fit = names.filter((name) => name.name.startsWith(word) && name.name !== word);
  return { from: caret - word.length, names: fit.slice(0, most) };
}
