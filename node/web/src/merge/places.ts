import type { MergedPart } from '../gen/plumbline/v1/ledger_pb';

/** What was chosen for places that several people changed differently, by the name of the place. */
export type Chosen = Readonly<Record<string, string>>;

/** A stretch of the merged text, with the name under which it is chosen if it is to be. */
export interface Place {
  part: MergedPart;
  name: string;
}

/** Names each place by what stands there, so that a choice outlives what arrives elsewhere in the text. */
export function placesOf(parts: readonly MergedPart[]): Place[] {
  const times = new Map<string, number>();
  return parts.map((part) => {
    if (!part.overlap) return { part, name: '' };
    const says = JSON.stringify([part.before, ...part.versions]);
    const n = times.get(says) ?? 0;
    times.set(says, n + 1);
    return { part, name: `${n} ${says}` };
  });
}

/** One way to fill a place. */
export interface Option {
  key: string;
  text: string;
  /** The numbers of the texts that say so; none for what is nobody's own. */
  of: readonly number[];
}

/** What can stand in a place: what each text says, both in a row, or what stood there before. */
export function optionsOf(part: MergedPart, numbers: readonly number[], hasAncestor: boolean): Option[] {
  const said = new Map<string, number[]>();
  part.versions.forEach((version, i) => {
    if (hasAncestor && version === part.before) return;
    said.set(version, [...(said.get(version) ?? []), numbers[i] ?? 0]);
  });
  const options: Option[] = [...said].map(([text, of]) => ({ key: String(of[0]), text, of }));
  const [first, second, ...more] = options.filter((one) => one.text.trim() !== '');
  if (first && second && more.length === 0) options.push({ key: 'b', text: inARow(first.text, second.text), of: [] });
  if (hasAncestor) options.push({ key: '0', text: part.before, of: [] });
  return options;
}

const inARow = (a: string, b: string) => (/\s$/.test(a) || /^\s/.test(b) ? a + b : `${a} ${b}`);

/** The merged text, once every place is chosen; until then undefined. */
export function proposalOf(places: readonly Place[], chosen: Chosen): string | undefined {
  const texts = places.map(({ part, name }) => (part.overlap ? chosen[name] : part.text));
  return texts.includes(undefined) ? undefined : texts.join('');
}
