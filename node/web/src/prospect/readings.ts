import type { Record } from '../gen/plumbline/v1/record_pb';
import { jsonIn, ofKind, textIn } from './fields';

/** One measurement as it is shown: none is ever overwritten, one of each kind counts. */
export interface Reading {
  record: Record;
  what: string;
  source: string;
  date: string;
  timing: string;
  /** The number is one of what was measured: earlier programs kept others too, and the node says so behind them. */
  counts: boolean;
}

const order = [
  'height', 'weight', 'arm', 'hand', 'wingspan', 'forty', 'twenty_split', 'ten_split', 'shuttle', 'three_cone', 'vertical',
  'broad_jump', 'bench',
]; // prettier-ignore
const trust = ['', 'listed', 'estimated', 'verified'];

/** All measurements, by what was measured, in each the one that counts first: as the node decides it for the list. */
export function readings(related: readonly Record[]): Map<string, Reading[]> {
  const all = ofKind(related, 'measurement').map(read);
  const found = new Map<string, Reading[]>();
  for (const what of [...order, ...all.map((one) => one.what)]) {
    const these = all.filter((one) => one.what === what);
    if (these.length > 0) found.set(what, these.sort(outranks));
  }
  return found;
}

function read(record: Record): Reading {
  const json = jsonIn(record, 'reading');
  const reading = json !== null && typeof json === 'object' && !Array.isArray(json) ? json : {};
  const text = (value: unknown) => (typeof value === 'string' ? value : '');
  const what = textIn(record, 'what');
  return {
    record,
    what,
    counts: !textIn(record, 'reading').includes(`(no ${what})`),
    source: text(reading.source),
    date: text(reading.date),
    timing: text(reading.timing),
  };
}

function outranks(a: Reading, b: Reading): number {
  return Number(b.counts) - Number(a.counts) || trust.indexOf(b.source) - trust.indexOf(a.source) || b.date.localeCompare(a.date) || amount(b) - amount(a);
}

function amount(reading: Reading): number {
  const json = jsonIn(reading.record, 'reading') as { amount?: number | string } | undefined;
  return Number(json?.amount ?? 0);
}
